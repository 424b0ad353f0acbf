"""Find board cards: which board and face a photo shows, and at which end the card lies.

Markers by S. Garrido-Jurado and others (Pattern Recognition 47, 2014) as OpenCV finds them, of a
dictionary of their own, so that no card is taken for a piece of strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.card_codes import board_and_face
from scanner.vision.cv import Bytes, Floats, card_markers_in, grey_of, shrunk

if TYPE_CHECKING:
    from scanner.vision.photos.picture import Photo

# At half size a marker of 42 mm still has three pixels a module at 1 mm/px.
_HALVED_FROM_PX = 3000
# Fewer pixels along a marker's side than this read wood as markers (seven modules a side).
_SMALLEST_PX = 14.0
# A marker is square: seen steeply its sides differ, but not so much.
_MOST_UNEQUAL = 3.0


@dataclass(frozen=True, slots=True)
class SeenCard:
    """A board card in a photo: what it says, and the corners (4, 2) of its marker, px."""

    board: int
    face: int
    corners_px: Floats

    @property
    def middle_px(self) -> Floats:
        """The middle of the marker."""
        middle: Floats = self.corners_px.mean(axis=0)
        return middle


def find_cards(photo: Photo, grey: Bytes | None = None) -> tuple[SeenCard, ...]:
    """Return the board cards in a photo, largest first; one said twice is kept once."""
    picture = grey_of(photo.pixels) if grey is None else grey
    factor = 2 if max(picture.shape) > _HALVED_FROM_PX else 1
    ids, corners = card_markers_in(shrunk(picture, factor) if factor > 1 else picture)
    corners = (corners + 0.5) * factor - 0.5
    sides = np.linalg.norm(np.diff(corners, axis=1, append=corners[:, :1]), axis=2)
    cards: dict[int, SeenCard] = {}
    for row in np.argsort(-sides.sum(axis=1)):
        said = board_and_face(int(ids[row]))
        low, high = float(sides[row].min()), float(sides[row].max())
        if said is None or low < _SMALLEST_PX or high > _MOST_UNEQUAL * low:
            continue
        cards.setdefault(int(ids[row]), SeenCard(*said, corners[row]))
    return tuple(cards.values())


def end_with_card(cards: tuple[SeenCard, ...], ends_px: Floats) -> tuple[SeenCard, int] | None:
    """Return the card that lies at an end of the board, and which end (0 or 1) that is.

    Parameters
    ----------
    ends_px
        The middles of the board's two ends in the photo, shape (2, 2).

    Notes
    -----
    A card nearer to the board's middle than to an end settles no end; one further off than a
    quarter of the board's length belongs to another board.
    """
    length = float(np.linalg.norm(ends_px[1] - ends_px[0]))
    best: tuple[float, SeenCard, int] | None = None
    for card in cards:
        off = np.linalg.norm(ends_px - card.middle_px, axis=1)
        end = int(np.argmin(off))
        if off[end] < 0.25 * length and (best is None or off[end] < best[0]):
            best = (float(off[end]), card, end)
    return None if best is None else best[1:]
