"""The board from its background: arrises, ends and wane, traced in a flat picture."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special
from shapely import contains_xy
from shapely.geometry import Polygon

from scanner.board.reading import span_along_y_mm
from scanner.errors import PhotoError
from scanner.geometry.polygons import largest_polygon, polygon_of, union_of
from scanner.vision.outline.arris_path import sharpen, smooth_path, straightened
from scanner.vision.outline.bowed_line import FEWEST, keeps_its_line
from scanner.vision.outline.bumps import within_line, without_bumps
from scanner.vision.outline.corners import to_the_corners
from scanner.vision.outline.end_line import (
    between_ends,
    on_the_step,
    robust_line,
)
from scanner.vision.outline.face_map import LABEL_RIM_MM
from scanner.vision.outline.ragged_end import floor_from_mm, is_met, is_ragged, straight_step
from scanner.vision.outline.saws_line import by_the_saws_line
from scanner.vision.outline.several import ArrisOdds, SeenSides
from scanner.vision.outline.tone_step import NARROWEST_MM, step_odds
from scanner.vision.outline.wane import Past, lost_beside, sawn_line
from scanner.vision.photos.picture import FacePicture

# Ends are followed between the arrises less this, where corners are worn.
_CORNER_MM = 10.0
_NARROWEST_MM = 25.0
# Between its corners an end needs a few points of its own.
_SHORTEST_END_MM = 2.0 * _CORNER_MM + 4.0

# Cost of a row's climb per column, against scores that are logs of odds: an arris is smooth.
_BEND = 0.5
_LEAST_SCORE = -12.0
# What lies over a face leaves the map unsure of it: on rendered faces it had 0.14 and more of this,
# floor beside a natural edge 0.06.
_LEAST_FACE_SHARE = 0.1
# The foot of a board's side tells its arris to a millimetre or two: nearer to the traced arris than
# to the saw's line, it is the side that shows between them.
_OF_SIDE = 0.5
# The map tells wane where it tells it this wide past an arris.
_SHOWN_WANE_MM = 1.0
# Half a working pixel of blur and sampling in every traced point, one standard deviation.
_POINT_MM = 0.25
# Odds spread by the map's own blur where an arris is sharp, though their middle is known far nearer
# (one standard deviation each). What they spread beyond that is doubt, and errs alike along a
# stretch, by more than each column says. Set on faces 5100-5107 and boards 7255-7269: sharp
# arrises told to a millimetre and more lay within 0.5 to 0.8 mm (95 %), others within twice of what
# was told.
_BLUR_MM, _SHARP_MM, _DOUBT_WEIGHT = 0.6, 0.3, 1.5

Doubles = NDArray[np.float64]
Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class TracedOutline:
    """What was traced of one face, face mm as in its picture.

    Attributes
    ----------
    outline
        The flat face to the arris; where there is wane, to the wane's inner line.
    wane
        Wane areas outside the outline.
    covered
        Areas inside the outline that something lies over (grass, dirt, a shadow): the saw's line is
        drawn on under it, and wane under it would not show.
    upper, lower
        (N, 2) points on the two long sides, x rising.
    left, right
        (2, 2) the ends' lines, y rising.
    upper_u_mm, lower_u_mm
        (N,) U of each point, mm.
    """

    outline: Polygon
    wane: tuple[Polygon, ...]
    upper: Doubles
    lower: Doubles
    left: Doubles
    right: Doubles
    upper_u_mm: Doubles
    lower_u_mm: Doubles
    covered: tuple[Polygon, ...] = ()

    @property
    def u_mm(self) -> float:
        """How far 19 of 20 points of the two long sides lie off at most, as they were told, mm."""
        first, last = self.left[:, 0].max(), self.right[:, 0].min()
        sides = ((self.upper[:, 0], self.upper_u_mm), (self.lower[:, 0], self.lower_u_mm))
        u_mm = np.concatenate([u[(x > first) & (x < last)] for x, u in sides])
        if not len(u_mm):
            return 0.0
        # Each point is off by its own spread: the width that holds 95 % of them all.
        low, high = float(u_mm.min()), float(u_mm.max())
        for _ in range(20):
            middle = (low + high) / 2
            held = special.erf(1.96 * middle / u_mm / np.sqrt(2)).mean()
            low, high = (middle, high) if held < 0.95 else (low, middle)
        return high

    def doubt_u_mm(self, x: float) -> tuple[float, float]:
        """Return by how much U of both arrises at a place is more than a sharp one's, mm.

        In squares: a sharp arris is known as well as its edge is read off the photo.
        """
        sides = ((self.upper[:, 0], self.upper_u_mm), (self.lower[:, 0], self.lower_u_mm))
        upper, lower = (float(np.interp(x, at, u)) for at, u in sides)
        return _beyond_sharp_mm(upper), _beyond_sharp_mm(lower)


def _beyond_sharp_mm(u_mm: float) -> float:
    return math.sqrt(max(u_mm**2 - (1.96 * _SHARP_MM) ** 2, 0.0))


def trace_outline(face: FacePicture, name: str) -> TracedOutline:
    """Return the outline of a board that lies along x with a margin of floor all round.

    Parameters
    ----------
    face
        The flat picture, 0.3 to 1.5 mm per pixel.
    name
        File name, for messages.

    Raises
    ------
    PhotoError
        The picture shows no board whose sides can be followed.
    """
    return trace_seen(SeenSides((face,)), name)


def trace_seen(seen: SeenSides, name: str) -> TracedOutline:
    """Return the outline that one or several views of a place tell; see `trace_outline`.

    Parameters
    ----------
    seen
        What the views tell of the sides.
    name
        File name, for messages.

    Raises
    ------
    PhotoError
        The views show no board whose sides can be followed.
    """
    ground = _Ground(seen)
    upper, upper_spread = ground.long_side("upper")
    lower, lower_spread = ground.long_side("lower")
    gap = lower[:, 1] - upper[:, 1]
    # Where the edges meet at an end, as one photo of a long board may tell an end that only the
    # others see, there is no end to follow either.
    if (
        not len(ground.board)
        or np.median(gap[ground.board]) < _NARROWEST_MM
        or min(np.median(gap[ground.near(end)]) for end in ("left", "right")) < _SHORTEST_END_MM
    ):
        raise _not_told_apart(name)
    left = ground.end("left", upper, lower)
    right = ground.end("right", upper, lower)
    upper, lower = (
        _straightened(ground.drawn_on(name, edge, corners), spread, corners)
        for name, edge, spread, corners in (
            ("upper", upper, upper_spread, (float(left[0, 0]), float(right[0, 0]))),
            ("lower", lower, lower_spread, (float(left[1, 0]), float(right[1, 0]))),
        )
    )
    cut = between_ends(left, right)
    if not all(len(_inside(edge, cut)) for edge in (upper, lower)):
        raise _not_told_apart(name)
    us_mm = u_of_spread_mm(upper_spread), u_of_spread_mm(lower_spread)
    # Each by the other as it was traced, so that a board turned over in its picture is told alike.
    (upper, upper_u), (lower, lower_u) = (
        ground.sawn("upper", upper, us_mm[0], lower, cut),
        ground.sawn("lower", lower, us_mm[1], upper, cut),
    )
    return _joined(ground, upper, lower, left, right, upper_u, lower_u)


def _not_told_apart(name: str) -> PhotoError:
    return PhotoError(
        f"The board's two long edges cannot be told apart in {name}",
        "lay the board on a floor of another colour and take the photo again",
    )


def u_of_spread_mm(spread_mm: Doubles) -> Doubles:
    """Return U of points of a long side by how their odds spread, one standard deviation, mm."""
    doubt = np.sqrt(np.maximum(spread_mm**2 - _BLUR_MM**2, 0.0))
    return np.asarray(1.96 * np.hypot(_SHARP_MM, _DOUBT_WEIGHT * doubt))


class _Ground:
    """The board's four sides, and the columns of a long side that the board reaches."""

    def __init__(self, seen: SeenSides) -> None:
        self.seen = seen
        self.board = seen.board
        self.origin = np.asarray(seen.views[0].origin_mm)

    def traced(
        self, side: ArrisOdds, reached: NDArray[np.intp], steps: Singles | None = None
    ) -> tuple[Doubles, Doubles]:
        """Return how far out the side's arris lies at each column, and how its odds spread, mm.

        ``steps`` are log odds of the same by steps in tone.
        """
        told = side.odds if steps is None else side.odds + steps
        # Past the board's end nothing is told: the arris runs on as it came.
        score = np.zeros_like(told)
        score[:, reached] = told[:, reached]
        score = np.maximum(score - score.max(axis=0), _LEAST_SCORE).astype(np.float32)
        path = smooth_path(score, _BEND)
        rows = sharpen(score, path)
        t = np.interp(rows, np.arange(len(side.t_mm)), side.t_mm) - LABEL_RIM_MM
        # Spread of the odds within reach of the path: a faint arris is an unsure one.
        away = side.t_mm[:, None] - t[None, :]
        odds = np.exp(score.astype(np.float64)) * (np.abs(away) < 10.0)
        spread = np.sqrt((odds * away**2).sum(axis=0) / np.maximum(odds.sum(axis=0), 1e-9))
        return t, np.asarray(np.hypot(spread, _POINT_MM), dtype=np.float64)

    def _outward(self, name: str, y_mm: Doubles) -> Doubles:
        """Return y from the picture's first row as mm outwards on a long side, or that as y."""
        return y_mm if name == "lower" else self.seen.size_mm[1] - y_mm

    def long_side(self, name: str) -> tuple[Doubles, Doubles]:
        """Return points (N, 2) in face mm along one long side, x rising, and their odds' spread."""
        side = self.seen.lay(name)
        t, spread = self.traced(side, self.board)
        if len(self.board) >= FEWEST and np.median(side.reach_mm) > NARROWEST_MM:
            steps = step_odds(self.seen.views[side.best], name, side, t + LABEL_RIM_MM, self.board)
            t, spread = self.traced(side, self.board, steps)
        t = without_bumps(side, t, self.board)
        return np.column_stack([side.s_mm, self._outward(name, t)]) + self.origin, spread

    def drawn_on(self, name: str, edge: Doubles, corners_x: tuple[float, float]) -> Doubles:
        """Return a long side's points, those near its corners where its own line puts them."""
        at_x = self.origin[0]
        t = self._outward(name, edge[:, 1] - self.origin[1])
        t = to_the_corners(self.seen.lay(name), t, (corners_x[0] - at_x, corners_x[1] - at_x))
        return np.column_stack([edge[:, 0], self._outward(name, t) + self.origin[1]])

    def sawn(
        self, name: str, edge: Doubles, u_mm: Doubles, opposite: Doubles, cut: Polygon
    ) -> tuple[Doubles, Doubles]:
        """Return a long side's points, held by the line that the saw cut, and U of each, mm.

        No bump goes past it beside wane, and what is told badly lies nearer to it.
        """
        outward = 1 if name == "lower" else -1
        inside = contains_xy(cut, edge[:, 0], edge[:, 1])
        if inside.sum() < FEWEST:
            return edge, u_mm
        past = self.past(name, edge)
        line_y = edge[:, 1].copy()
        line_y[inside] = sawn_line(edge[inside], outward, _inside(opposite, cut), past.of(inside))
        t, line = (self._outward(name, y - self.origin[1]) for y in (edge[:, 1], line_y))
        flat = within_line(self.seen.lay(name), t, line, np.flatnonzero(inside))
        free = inside & (past.wane_mm < _SHOWN_WANE_MM)
        held, sd_mm = by_the_saws_line(edge[:, 0], flat, line, u_mm / 1.96, free)
        held_u_mm = np.minimum(np.maximum(1.96 * sd_mm, 1.96 * _SHARP_MM), u_mm)
        return np.column_stack([edge[:, 0], edge[:, 1] + outward * (held - t)]), held_u_mm

    def near(self, name: str) -> NDArray[np.intp]:
        """Return the columns of the long sides near one end, but clear of worn corners."""
        near = self.board[3:18] if name == "left" else self.board[-18:-3]
        return near if len(near) else self.board

    def end(self, name: str, upper: Doubles, lower: Doubles) -> Doubles:
        """Return the line of one end as two points (x, y), y rising, face mm."""
        near = self.near(name)
        y0, y1 = (float(np.median(edge[near, 1])) - self.origin[1] for edge in (upper, lower))
        side = self.seen.lay(name)
        inside = np.flatnonzero((side.s_mm >= y0 + _CORNER_MM) & (side.s_mm <= y1 - _CORNER_MM))
        side = side.between(int(inside[0]), int(inside[-1]) + 1)
        t, _ = self.traced(side, np.arange(len(side.s_mm)))
        slope, middle = robust_line(side.s_mm, t)
        out_mm = middle + slope * side.s_mm
        outward, zero = (1, 0.0) if name == "right" else (-1, self.seen.size_mm[0])
        ends_s = np.array([y0, y1])
        line = np.column_stack([zero + outward * (middle + slope * ends_s), ends_s])
        view = self.seen.views[side.best]
        if is_ragged(t - out_mm):
            floor = (side.s_mm, floor_from_mm(side) - LABEL_RIM_MM - out_mm)
            straight = straight_step(view, line, outward, _CORNER_MM, floor)
            straight_mm = np.interp(side.s_mm, ends_s, outward * (straight[:, 0] - zero))
            if is_met(t - straight_mm):
                line = straight
        line = on_the_step(view, line, _CORNER_MM)
        return np.asarray(line + self.origin)

    def past(self, name: str, edge: Doubles) -> Past:
        """Return what shows past each point of a long side."""
        return self.seen.past(name, self._outward(name, edge[:, 1] - self.origin[1]))

    def lies_under(self, name: str, edge: Doubles, beside: Polygon) -> bool:
        """Return whether something lies over the face beside a traced long side: grass, dirt.

        There the saw's line goes on under it. Where the map is certain that none of it is face, the
        floor or the board's own side begins at the arris as traced, and wood ends there.
        """
        unsure = self.seen.face_share(beside) > _LEAST_FACE_SHARE
        return unsure and not self.shows_side(name, edge, beside)

    def shows_side(self, name: str, edge: Doubles, beside: Polygon) -> bool:
        """Return whether what lies beside a traced long side is the board's own side.

        Then the foot of that side lies as far out as it must from the traced arris; from under
        something that lies over the arris it would come out further.
        """
        by_foot = self.seen.arris_by_foot(name)
        if by_foot is None:
            return False
        # Columns of a long side are its points.
        x = edge[:, 0]
        here = (x >= beside.bounds[0]) & (x <= beside.bounds[2])
        traced = self._outward(name, edge[here, 1] - self.origin[1])
        depth = beside.area / max(beside.bounds[2] - beside.bounds[0], 1.0)
        return bool(np.median(by_foot[here] - traced) < _OF_SIDE * depth)


def _straightened(edge: Doubles, spread_mm: Doubles, corners_x: tuple[float, float]) -> Doubles:
    """Return a long side's points, each on its neighbours' line; past corners nothing counts."""
    x = edge[:, 0]
    take = (x >= corners_x[0]) & (x <= corners_x[1])
    if take.sum() < 3:
        return edge
    return np.column_stack([x, straightened(x, edge[:, 1], spread_mm, take)])


def _joined(
    ground: _Ground,
    upper: Doubles,
    lower: Doubles,
    left: Doubles,
    right: Doubles,
    upper_u: Doubles,
    lower_u: Doubles,
) -> TracedOutline:
    """Return the outline cut from the two long sides by the two ends."""
    band = polygon_of(np.vstack([upper, lower[::-1]]))
    cut = between_ends(left, right)
    wane, covered = [], []
    us_mm = {"upper": upper_u, "lower": lower_u}
    for name, edge, opposite, outward in (("upper", upper, lower, -1), ("lower", lower, upper, +1)):
        inside = contains_xy(cut, edge[:, 0], edge[:, 1])
        past = ground.past(name, edge).of(inside)
        for lost in lost_beside(edge[inside], outward, _inside(opposite, cut), past):
            if lost.is_wane:
                wane.append(lost.seen)
            elif not keeps_its_line(edge[inside], *lost.whole.bounds[::2]) and ground.lies_under(
                name, edge, lost.whole
            ):
                covered.append(lost.whole)
                # Wane would not show there: the arris may lie anywhere between.
                us_mm[name] = np.maximum(us_mm[name], _depths_mm(lost.whole, edge[:, 0]))
    whole = union_of([band, *(shape.buffer(0.01) for shape in covered)])
    outline = largest_polygon(whole.intersection(cut))
    return TracedOutline(
        outline=outline,
        wane=tuple(_clipped(shape, cut) for shape in wane),
        upper=upper,
        lower=lower,
        left=left,
        right=right,
        upper_u_mm=us_mm["upper"],
        lower_u_mm=us_mm["lower"],
        covered=tuple(_clipped(shape, cut) for shape in covered),
    )


def _depths_mm(shape: Polygon, x: Doubles) -> Doubles:
    """Return (N,) how far a shape reaches across at each place along the board, mm."""
    spans = [span_along_y_mm(shape, float(at)) for at in x]
    return np.array([span[1] - span[0] if span else 0.0 for span in spans])


def _inside(edge: Doubles, region: Polygon) -> Doubles:
    """Return the points of a long side that lie between the two ends."""
    return np.asarray(edge[contains_xy(region, edge[:, 0], edge[:, 1])])


def _clipped(shape: Polygon, region: Polygon) -> Polygon:
    return largest_polygon(shape.intersection(region))
