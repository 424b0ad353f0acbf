"""The errand "tap the rule": four rough taps on a rule's corners, moved onto the corners."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.errors import PhotoError
from scanner.files.typed import read_rule

if TYPE_CHECKING:
    from pathlib import Path

    Taps = tuple[tuple[float, float], ...]


def refine_rule_taps(photo: Path, rule: str, taps: Taps, units: str = "mm") -> Taps:
    """Return the corners of a rule that somebody tapped, photo px, the zero end's two first.

    They may be shown back and given to a scan as its tapped corners (`corners_text`).

    Parameters
    ----------
    rule
        Length (and width, thickness) as typed.
    taps
        Four points (x, y), round the rule from its zero end, each within 20 px of its corner.

    Raises
    ------
    ScannerError
        The file is no photo, the rule's size cannot be read, or no rule is seen there.
    """
    import numpy as np

    from scanner.vision.cv import grey_of
    from scanner.vision.photos.photo import read_photo
    from scanner.vision.rule.taps import refine_taps

    size = read_rule(rule, "--rule", units)
    if len(taps) != 4:
        raise PhotoError(f"{len(taps)} corners were tapped in {photo.name}", "tap all four corners")
    shot = read_photo(photo)
    corners = refine_taps(grey_of(shot.pixels), np.array(taps, dtype=np.float64), size)
    if corners is None:
        raise PhotoError(
            f"No rule edges are seen between the tapped corners in {photo.name}",
            "tap its corners again",
        )
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in corners)


def corners_text(corners: Taps) -> str:
    """Return corners as ``scan --corners1`` takes them."""
    return " ".join(f"{x:g},{y:g}" for x, y in corners)
