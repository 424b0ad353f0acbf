"""The errand "open the page on a phone": an address as a QR code for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

# ISO/IEC 18004: four modules of quiet ground all round; readers miss a code without it.
_QUIET = 4
# One character stands for two modules, one above the other; ink is left out, ground is drawn.
_MARKS = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}


def qr_modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """Return the modules of a QR code, row by row; True is dark; quiet ground included."""
    # Only now: the page's start does not wait for the sheets' library.
    from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    count = code.getModuleCount()
    side = range(-_QUIET, count + _QUIET)
    inside = range(count)
    return tuple(
        tuple(x in inside and y in inside and bool(code.isDark(y, x)) for x in side) for y in side
    )


def terminal_code(text: str, *, in_colour: bool) -> str:
    """Return a QR code as lines for a terminal.

    Parameters
    ----------
    text
        What the code says.
    in_colour
        The terminal understands colours (ANSI): ink is black on white whatever its own ground.
        Without, the code is right on a dark ground only.
    """
    modules = qr_modules(text)
    # An odd last row is followed by ground.
    below: Sequence[tuple[bool, ...]] = (*modules[1:], (False,) * len(modules))
    lines = [
        "".join(_MARKS[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in list(zip(modules, below, strict=True))[::2]
    ]
    if in_colour:
        # Bright white on black: what is drawn is ground, what is left out is ink.
        lines = [f"\x1b[97;40m{line}\x1b[0m" for line in lines]
    return "\n".join(lines)
