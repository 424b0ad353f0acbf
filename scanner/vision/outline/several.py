"""What several photos tell of one board's sides, each looked at from where its own camera stood.

An arris is sharp in the photo that looks over it from the board's other side. In the others the
board's side shows beyond it, and may look like the face: they count for little there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.draw import polygon

from scanner.vision.outline.by_foot import within_foot
from scanner.vision.outline.face_map import FaceMap, face_map
from scanner.vision.outline.shaded_face import with_shaded_face
from scanner.vision.outline.side import Side, Sides, arris_over_foot, board_ends
from scanner.vision.outline.wane import Past

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.outline.own_floor import OwnFloor
    from scanner.vision.outline.side import Doubles, Singles
    from scanner.vision.photos.picture import FacePicture

# A side that shows this far past its arris halves what a photo counts for there.
_SHOWS_MM = 3.0
# An arris is told by the floor beyond it: so much of it, and so far along.
_BEYOND_MM = 15.0
_ALONG_MM = 60.0
# Where no photo shows floor they count by the other reasons.
_LEAST_SEEN = 0.005
# One photo's certainty about a place must not outweigh all that the others tell.
_LEAST_ODDS = -12.0
# A photo that counts less than this share of the best one is no witness of that arris,
_WITNESS_SHARE = 0.5
# unless it tells the arris further from where the best one does than its view of the side explains.
_APART_MM = 4.0
# Between two bounds the middle errs least.
_OF_HIGHER = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class ArrisOdds:
    """Where the arris of one side lies, as all photos tell it together.

    Attributes
    ----------
    odds
        (T + 1, S) log odds of the arris lying on each border of rows, up to a constant a column.
    t_mm, s_mm
        (T + 1,) and (S,), as in `Side`.
    best
        The view that tells most of this side.
    reach_mm
        (T + 1,) how far past each border that view shows the foot of a square side, as in `Side`.
    """

    odds: Singles
    t_mm: Doubles
    s_mm: Doubles
    best: int
    reach_mm: Doubles

    def between(self, first: int, stop: int) -> ArrisOdds:
        """Return a stretch of the side, columns first ... stop - 1."""
        return replace(self, odds=self.odds[:, first:stop], s_mm=self.s_mm[first:stop])


class SeenSides:
    """The mapped views of one place, one a photo, all of one size and origin."""

    def __init__(self, views: tuple[FacePicture, ...]) -> None:
        self.views = views
        self._lay(tuple(face_map(view) for view in views))
        self._witness: int | None = None

    def without(self, floor: OwnFloor) -> SeenSides:
        """Return the same, with what looks like the picture's own floor told to be none."""
        bare = object.__new__(SeenSides)
        bare.__dict__.update(self.__dict__)
        maps = zip(self._maps, self.views, strict=True)
        bare._lay(tuple(floor.against(told, view) for told, view in maps))
        return bare

    def _lay(self, maps: tuple[FaceMap, ...]) -> None:
        self._maps = maps
        views = self.views
        self._sides = tuple(Sides(told, view) for told, view in zip(self._maps, views, strict=True))
        self.size_mm = self._sides[0].size_mm
        self.board = np.unique(np.concatenate([sides.board_columns() for sides in self._sides]))

    def through(self, view: int) -> SeenSides:
        """Return the same, but each arris as one view alone tells it where it sees it well."""
        alone = object.__new__(SeenSides)
        alone.__dict__.update(self.__dict__, _witness=view)
        return alone

    def lay(self, name: str) -> ArrisOdds:
        """Return what is told of a side: "upper", "lower", "left" or "right"."""
        laid = [sides.lay(name) for sides in self._sides]
        if name in ("upper", "lower"):
            # Of an unknown camera nobody knows how much of the board's side can show.
            laid = [
                side if view.foot_mm is None else with_shaded_face(side, self.board)
                for side, view in zip(laid, self.views, strict=True)
            ]
        told = [side.arris_odds() for side in laid]
        if name in ("upper", "lower"):
            told = [
                within_foot(side, odds, self.board) for side, odds in zip(laid, told, strict=True)
            ]
        first = laid[0]
        if len(laid) == 1:
            return ArrisOdds(told[0], first.t_mm, first.s_mm, 0, first.reach_mm)
        level = np.stack([np.maximum(odds - odds.max(axis=0), _LEAST_ODDS) for odds in told])
        share = _shares(laid, level)
        if self._witness is not None:
            own = share[self._witness] >= _WITNESS_SHARE * share.max(axis=0)
            own |= _is_apart(laid, level, share, self._witness)
            share[:, own] = 0
            share[self._witness, own] = 1
        together = np.einsum("vs,vts->ts", share, level).astype(np.float32)
        best = int(share.mean(axis=1).argmax())
        return ArrisOdds(together, first.t_mm, first.s_mm, best, laid[best].reach_mm)

    def arris_by_foot(self, name: str) -> Doubles | None:
        """Return (S,) how far out the arris of "upper" or "lower" lies by the foot of its side.

        As the view that tells most of that side shows it, columns as in `lay`; None where the
        board's side is turned away or shows too narrow to have a foot of its own.
        """
        best = self.lay(name).best
        return arris_over_foot(self._sides[best].lay(name))

    def past(self, name: str, arris_mm: Doubles) -> Past:
        """Return what shows past the arris of "upper" or "lower", at each column of `lay`.

        ``arris_mm`` (S,) is how far out it lies. Wane slopes away: the photo that sees most of it
        tells.
        """
        wide = [sides.wane_mm(name, arris_mm) for sides in self._sides]
        most = int(np.argmax([one.sum() for one in wide]))
        sides, wane_mm = self._sides[most], wide[most]
        ends = board_ends(sides.lay(name))
        beyond = partial(sides.beyond, name, arris_mm)
        if ends is None:
            most_mm = wane_mm + sides.hides_mm(name, arris_mm)
            return Past(wane_mm, wane_mm, most_mm, beyond)
        past_mm = np.maximum(ends - arris_mm, 0.0)
        # Down on the floor wane lies as far out as the board's foot tells, up at the face as far as
        # the map shows it. How high up it is widest nobody knows: bark on a log's edge often is.
        higher_mm = _OF_HIGHER * np.maximum(wane_mm - past_mm, 0.0)
        return Past(wane_mm, past_mm, past_mm + higher_mm, beyond)

    def face_share(self, shape: Polygon) -> float:
        """Return the mean share of flat face that the map tells inside a shape (face mm), 0 to 1.

        Of the photo that tells most of it.
        """
        corners_mm = np.asarray(shape.exterior.coords)
        return max(
            _inside(told.face, told, corners_mm - view.origin_mm)
            for told, view in zip(self._maps, self.views, strict=True)
        )


def _shares(laid: list[Side], level: Singles) -> NDArray[np.float32]:
    """Return (V, S) what each view counts for at each column of a side; a column's sum is 1."""
    first = laid[0]
    row_mm, column_mm = first.t_mm[1] - first.t_mm[0], first.s_mm[1] - first.s_mm[0]
    size = (2 * round(_ALONG_MM / 2 / column_mm) + 1, round(_BEYOND_MM / row_mm))
    columns = np.arange(len(first.s_mm))
    # Where the arris may lie: one place a view, (V, S).
    rough = level.argmax(axis=1)
    counts = []
    for side, own in zip(laid, rough, strict=True):
        # The row at the anchor and those further out.
        beyond = cv2.blur(
            side.seen, size, anchor=(size[0] // 2, 0), borderType=cv2.BORDER_REPLICATE
        )
        # Past any place where the arris may lie: a photo that ends before the arris, or whose rule
        # hides all that lies beyond it, tells some place further in.
        seen = np.asarray(beyond)[np.minimum(rough, len(beyond) - 1), columns].min(axis=0)
        sharp = 1 / (1 + (side.reach_mm[own] / _SHOWS_MM) ** 2)
        counts.append(np.maximum(seen, _LEAST_SEEN) ** 2 * sharp)
    total = np.stack(counts)
    return np.asarray(total / total.sum(axis=0), dtype=np.float32)


def _is_apart(
    laid: list[Side], level: Singles, share: NDArray[np.float32], view: int
) -> NDArray[np.bool_]:
    """Return (S,) where a view and the one that counts most cannot both be right about the arris.

    The board's side may move the arris out by what shows of it, and no further.
    """
    side = laid[view]
    rough = level.argmax(axis=1)
    columns = np.arange(level.shape[2])
    best = rough[share.argmax(axis=0), columns]
    apart_mm = np.abs(side.t_mm[rough[view]] - side.t_mm[best]) - side.reach_mm[rough[view]]
    # Single columns of a map are noisy: most of them along a stretch must tell it.
    width = 2 * round(_ALONG_MM / 2 / float(side.s_mm[1] - side.s_mm[0])) + 1
    most = cv2.blur((apart_mm > _APART_MM).astype(np.float32)[None], (width, 1))
    return np.asarray(most[0] > 0.5)


def _inside(odds: Singles, told: FaceMap, corners_mm: Doubles) -> float:
    """Return the mean share that log odds of a map's pixels come to inside a shape."""
    at = corners_mm - told.first_mm
    rows, columns = polygon(at[:, 1] / told.step_mm[1], at[:, 0] / told.step_mm[0], odds.shape)
    if not len(rows):
        return 0.0
    return float((1 / (1 + np.exp(-odds[rows, columns]))).mean())
