"""Register the browser's side of tapping a rule, and give it its photo."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ui.browser_part import SHARED, browser_part

if TYPE_CHECKING:
    from collections.abc import Mapping

_HERE = Path(__file__).parent
_SCRIPTS = (SHARED / "elements.js", _HERE / "taps.js")
_STYLES = (SHARED / "base.css", SHARED / "wood.css", _HERE / "taps.css")
_HTML = '<section class="bench taps" aria-label="Points on the photo"></section>'

Corners = tuple[tuple[float, float], ...]

RULE_CORNERS = (
    "at its zero end",
    "at its zero end, on the other edge",
    "at its other end, on the edge of corner 2",
    "at its other end, on the edge of corner 1",
)


def draw_taps(
    picture: str,
    size: tuple[int, int],
    moved: Corners,
    said: str,
    *,
    key: str,
    which: tuple[str, ...] = RULE_CORNERS,
    noun: str = "Corner",
) -> Corners:
    """Draw a photo to tap points on, a rule's corners if nothing is said; return them, photo px.

    Nothing is returned until all are set.

    Parameters
    ----------
    picture
        Data address of a smaller copy, upright.
    size
        Width and height of the photo itself, upright, px.
    moved
        Where the corners were found to be, to be drawn over the taps.
    said
        What is to be said below.
    which, noun
        Where each point is, in words, and what a point is called.
    """
    component = browser_part("rule_taps", _HTML, _SCRIPTS, _STYLES)
    data = {"picture": picture, "size": list(size), "moved": [list(at) for at in moved]}
    result: Mapping[str, object] = component(
        key=key,
        data=data | {"said": said, "which": list(which), "noun": noun},
        on_corners_change=lambda: None,
    )
    return read_taps(result.get("corners"), size, len(which))


def read_taps(given: object, size: tuple[int, int], count: int) -> Corners:
    """Return the points that came from the browser, none where they are not all on the photo."""
    corners = given.get("corners") if hasattr(given, "get") else None
    if not isinstance(corners, list) or len(corners) != count:
        return ()
    found = []
    for corner in corners:
        if not isinstance(corner, list | tuple) or len(corner) != 2:
            return ()
        if not all(isinstance(value, int | float) for value in corner):
            return ()
        x, y = float(corner[0]), float(corner[1])
        if not (0 <= x <= size[0] and 0 <= y <= size[1]):
            return ()
        found.append((x, y))
    return tuple(found)
