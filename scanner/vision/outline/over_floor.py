"""Trace a face, and once more where the outline ran over the floor beside the board."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

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


def _floor_within(
    views: tuple[FacePicture, ...], floor: OwnFloor | None, traced: TracedOutline
) -> float:
    if floor is None:
        return 0.0
    return max(floor.share_within(view, traced.outline) for view in views)
