"""Trace a face, and once more where the outline ran over the floor beside the board."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import trace_seen

if TYPE_CHECKING:
    from scanner.vision.outline.own_floor import OwnFloor
    from scanner.vision.outline.trace import TracedOutline
    from scanner.vision.picture import FacePicture

# An outline that holds so much floor, as a share of it, ran over the floor: true outlines of
# rendered boards held up to 0.01, those that ran over it 0.08 and more.
MOST_FLOOR = 0.04
# An end is seen to be one where so much of what lies this far past it is shown.
_PAST_MM, _PAST_SHOWN = 30.0, 0.9


def trace_views(
    views: tuple[FacePicture, ...], floor: OwnFloor | None, name: str
) -> tuple[SeenSides, TracedOutline]:
    """Return the sides of a face as its views tell them, and the outline traced along them.

    Parameters
    ----------
    views
        Of one place, one a photo.
    floor
        What the floor of this picture looks like, where it is known.
    name
        File name, for messages.

    Raises
    ------
    PhotoError
        The views show no board whose sides can be followed.
    """
    sides = SeenSides(views)
    refusal: PhotoError | None = None
    traced, held = None, 1.0
    try:
        traced = trace_seen(sides, name)
        held = _floor_within(views, floor, traced)
    except PhotoError as error:
        refusal = error
    if floor is not None and held > MOST_FLOOR:
        with suppress(PhotoError):
            bare = sides.without(floor)
            again = trace_seen(bare, name)
            if _floor_within(views, floor, again) < held:
                return bare, again
    if traced is None:
        raise refusal or PhotoError(f"No board can be traced in {name}", "take the photo again")
    return sides, traced


def shows_past(view: FacePicture, traced: TracedOutline, end: str) -> bool:
    """Return whether a view shows what lies past the traced "left" or "right" end of a board."""
    line, way = (traced.left, -1.0) if end == "left" else (traced.right, 1.0)
    share = np.linspace(0.1, 0.9, 9)[:, None, None]
    away = np.linspace(_PAST_MM / 6, _PAST_MM, 6)[None, :, None]
    places = line[0] + share * (line[1] - line[0]) + way * away * np.array([1.0, 0.0])
    at = np.round((places - np.asarray(view.origin_mm)) / view.mm_per_px).astype(int)
    rows, columns = view.seen.shape
    within = (at >= 0).all(axis=-1) & (at[..., 0] < columns) & (at[..., 1] < rows)
    x, y = at[within].T
    return bool(view.seen[y, x].sum() >= _PAST_SHOWN * within.size)


def _floor_within(
    views: tuple[FacePicture, ...], floor: OwnFloor | None, traced: TracedOutline
) -> float:
    if floor is None:
        return 0.0
    return max(floor.share_within(view, traced.outline) for view in views)
