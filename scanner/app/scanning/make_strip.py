"""The errand "make the strip": a printable coded strip, cross arm and board cards."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

from scanner.errors import SettingsError
from scanner.files.typed import read_size
from scanner.files.write import refuse_given, refuse_unwritable, write_files
from scanner.geometry.strip_layout import PIECE_MM, pieces_for
from scanner.sheets.strip import FONT, shapes_pdf
from scanner.sheets.strip_pages import StripOrder, strip_pages

if TYPE_CHECKING:
    from pathlib import Path

# The lines printed on every page, along and upright.
_LINES_MM = (250.0, 180.0)
# One piece is 250 mm long, and so much of it is asked for at least.
_LEAST_MM = 200.0
# A printer further off than this is set to "fit to page": mend that first.
_MOST_OFF = 0.08


def make_strip(
    length: str,
    paper: str,
    path: Path,
    *,
    second: bool = False,
    arm: bool = False,
    cards: int = 0,
    measured: str | None = None,
) -> tuple[str, ...]:
    """Write the PDF and return what to do with it, a line each."""
    refuse_given(path, ending=".pdf")
    refuse_unwritable(path.parent)
    order = StripOrder(
        length_mm=_length_mm(length, "--length"),
        paper=known_paper(paper),
        second=second,
        arm=arm,
        cards=cards,
        measured_mm=_measured(measured) if measured else None,
    )
    sheets = strip_pages(order)
    write_files(path.parent, {path.name: shapes_pdf(sheets, "coded strip", FONT)})
    pages = len(sheets)
    whole = pieces_for(order.length_mm) * PIECE_MM
    many = f"{pages} page{'' if pages == 1 else 's'}"
    return (
        f"written: {path}, {many}, strip {whole:.0f} mm long once glued",
        "Print at 100 %, never fit to page; measure the 250.0 mm line with a steel rule.",
        "Glue it onto a straight, flat batten, then tape it once from zero to the last joint line"
        " and give that length with every scan (--strip-taped).",
    )


def strip_pdf(length: str, paper: str) -> bytes:
    """Return strip A of a length as typed, as a PDF to print.

    Raises
    ------
    SettingsError
        The length cannot be read or printed, or the paper is not known.
    """
    order = StripOrder(length_mm=_length_mm(length, "length"), paper=known_paper(paper))
    return shapes_pdf(strip_pages(order), "coded strip", FONT)


def _length_mm(text: str, where: str) -> float:
    """Return a strip's length; a bare number is millimetres, which "9" for 9 ft is not."""
    length_mm = read_size(text, where)
    if length_mm < _LEAST_MM:
        raise SettingsError(
            f"{where}: a strip of {length_mm:.0f} mm is no use",
            "write the length with its unit: 9ft",
        )
    return length_mm


def known_paper(text: str) -> Literal["a4", "letter"]:
    """Return the paper that was asked for; refuses all but a4 and letter."""
    match text.strip().lower():
        case "a4":
            return "a4"
        case "letter":
            return "letter"
    raise SettingsError(f'--paper: "{text}" is not known', "write a4 or letter")


def _measured(text: str) -> tuple[float, float]:
    """Return both check lines as measured; one number alone counts for both ways alike."""
    pieces = re.split(r"\s*[x×]\s*", text.strip(), flags=re.IGNORECASE)
    if len(pieces) > 2:
        raise SettingsError(f'--measured: "{text}" has more than two sizes', "write 249.5x179.8")
    along = read_size(pieces[0], "--measured")
    up = read_size(pieces[1], "--measured") if len(pieces) == 2 else along * 180.0 / 250.0
    for line, seen in zip(_LINES_MM, (along, up), strict=True):
        if abs(seen / line - 1) > _MOST_OFF:
            raise SettingsError(
                f"--measured: {seen:g} mm for the {line:.0f} mm line means a scaled page",
                "print at 100 % (not fit to page) and measure again",
            )
    return along, up
