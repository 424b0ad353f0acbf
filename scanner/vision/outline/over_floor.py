"""Trace a face, and once more where the outline ran over the floor beside the board."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.vision.outline.bowed_line import FEWEST, bowed_line
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import trace_seen

if TYPE_CHECKING:
    from scanner.vision.outline.own_floor import OwnFloor
    from scanner.vision.outline.side import Doubles
    from scanner.vision.outline.trace import TracedOutline
    from scanner.vision.photos.picture import FacePicture

# An outline that holds so much floor, as a share of it, ran over the floor: true outlines of
# rendered boards held up to 0.035, those that ran over it 0.08 and more.
MOST_FLOOR = 0.06
# Tracing anew must leave out nearly all of it: floor lies outside a board, while wood that looks
# like floor lies anywhere in it.
_LEFT_OVER = 0.25
# A saw's line is straight, the border of pale sapwood is not: where tracing anew left the arris for
# one on rendered faces, 0.19 to 0.64 of that side lay straight (sapwood that looks like the floor
# along a third of the board only leaves the rest); where it came to the arris, 0.75.
_CROOKED = 0.7
# A side as good as unmoved says nothing: wane may lie along it.
_AS_STRAIGHT = 0.1
# An end is seen to be one where so much of what lies this far past it is shown.
_PAST_MM, _PAST_SHOWN = 30.0, 0.9
# Ends located by looks alone lie within this of the true ones (two columns of cells, and a rim).
_AGREE_MM = 60.0


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
            leaves = traced is not None and strays(again, traced)
            if not leaves and _floor_within(views, floor, again) < _LEFT_OVER * held:
                return bare, again
    if traced is None:
        raise refusal or PhotoError(f"No board can be traced in {name}", "take the photo again")
    return sides, traced


def ends_there(view: FacePicture, traced: TracedOutline, end: str, located_mm: float) -> bool:
    """Return whether a board's "left" or "right" end was traced where it was located.

    A view must show what lies past it; ``located_mm`` is how far from the view's border.
    """
    line = traced.left if end == "left" else traced.right
    place_mm = (view.seen.shape[1] - 1) * view.mm_per_px
    located = located_mm if end == "left" else place_mm - located_mm
    if abs(float(line[:, 0].mean()) - float(view.origin_mm[0]) - located) > _AGREE_MM:
        return False
    return is_seen_to_end(view, traced, end)


def is_seen_to_end(view: FacePicture, traced: TracedOutline, end: str) -> bool:
    """Return whether a view shows what lies past a board's "left" or "right" end."""
    line, way = (traced.left, -1.0) if end == "left" else (traced.right, 1.0)
    share = np.linspace(0.1, 0.9, 9)[:, None, None]
    away = np.linspace(_PAST_MM / 6, _PAST_MM, 6)[None, :, None]
    places = line[0] + share * (line[1] - line[0]) + way * away * np.array([1.0, 0.0])
    rows, columns = view.seen.shape
    at = np.round((places - np.asarray(view.origin_mm)) / view.mm_per_px).astype(int)
    within = (at >= 0).all(axis=-1) & (at[..., 0] < columns) & (at[..., 1] < rows)
    x, y = at[within].T
    return bool(view.seen[y, x].sum() >= _PAST_SHOWN * within.size)


def strays(again: TracedOutline, before: TracedOutline) -> bool:
    """Return whether a long side traced anew is no saw's line any more."""
    for name in ("upper", "lower"):
        share, was = (_straight_share(getattr(one, name), one) for one in (again, before))
        if share < min(_CROOKED, was - _AS_STRAIGHT):
            return True
    return False


def _straight_share(edge: Doubles, traced: TracedOutline) -> float:
    """Return which share of a long side, (N, 2) face mm, lies on one bowed line."""
    x = edge[:, 0]
    reached = np.flatnonzero((x > traced.left[:, 0].mean()) & (x < traced.right[:, 0].mean()))
    return bowed_line(x, edge[:, 1], reached)[1] if len(reached) >= FEWEST else 0.0


def _floor_within(
    views: tuple[FacePicture, ...], floor: OwnFloor | None, traced: TracedOutline
) -> float:
    if floor is None:
        return 0.0
    return max(floor.share_within(view, traced.outline) for view in views)
