"""Where the board lies in the flattened ground: the bar that most looks like a board."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely import affinity

from scanner.errors import PhotoError
from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.ground.bar_facts import Slope, facts_of, kind_odds, with_own_ends
from scanner.vision.ground.bar_model import BOARD, BOARD_OFFSET, CHOICE, weighed
from scanner.vision.ground.bars import LEAST_STEP, SHORTEST_MM, Bar, Doubles, Steps, find_bars
from scanner.vision.ground.cells import ACROSS_MM, ALONG_MM, Cells, Flags, cells_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from shapely.geometry import Polygon

    from scanner.vision.photos.picture import FacePicture

    # Asked of a rough rectangle and its direction: the board about it, or None.
    Sight = Callable[[Polygon, float], tuple[Polygon, float] | None]

# So many of the most promising bars are looked at closely.
_CLOSE_LOOKS = 24
# Log odds of being a board under which nothing is taken for one; and those, for a second bar, from
# which the picture is refused: only what is plainly a board may cost the user another photo.
_LEAST_ODDS = -4.0
_SECOND_ODDS = 1.5
# Where no board was found, only the floor this near to the rule is searched once more, all its
# bars. Seen on rendered photos: the courses of a brick wall, and a painted stripe and a crack from
# border to border, made more bars than are looked at closely, all longer than the board.
_NEAR_RULE_MM = 600.0
# Where even there nothing plainly is a board, so many likely bars are shown to the learned map;
# bars that share so much (intersection over union) lead it to the same board.
_MAP_LOOKS, _SAME_BAR = 3, 0.5
# Where the map shows one board where looks tell two bars, or one that runs out of the picture, so
# much of each bar lies on it: a hard shadow's border parts a board along, and the shaded strip of
# it goes on over the floor. Seen on rendered photos: 0.5 and more.
_ON_BOARD = 0.3
# A second bar shorter than this share of the board beside it is the end of some other board.
_SECOND_LENGTH = 0.6
# A second board lies clear of the first one's side and shadow.
_CLEAR_MM = 40.0
# So much of the floor this far beside a second board must show on each of its long sides.
_RIM_MM, _RIM_SHOWN = 60.0, 0.5
# A board runs out of the picture where over this share of its rows the last cells before the
# unseen are plainly wood (log odds against the floor beside it).
_WOOD_AT_FRAME = 0.5
_PLAINLY_WOOD = 0.3
_CELLS_AT_FRAME = 1
# Columns that an end may lose for want of edges: 190 mm.
_MOST_LINELESS = 8
_ASKEW_ROWS = 3


@dataclass(frozen=True, slots=True)
class BoardPlace:
    """A board's rough place.

    Attributes
    ----------
    outline
        Rough rectangle, ground frame, mm.
    angle_rad
        Direction of the board's length, from x towards y.
    length_mm, width_mm
        Of the rectangle.
    doubtful_end
        "left" or "right" where it may run out of the picture there: what lies at the frame looks
        like its wood beside this floor, but also like the ground at large. Else "".
    """

    outline: Polygon
    angle_rad: float
    length_mm: float
    width_mm: float
    doubtful_end: str = ""


def locate_board(
    ground: FacePicture, rule_area: Polygon, name: str, on_map: Sight | None = None
) -> BoardPlace:
    """Return where the board lies.

    Parameters
    ----------
    ground
        Flat picture of the floor around the rule, at the height of the board's face; x along the
        rule.
    rule_area
        Where the rule or strip lies in it, mm.
    name
        File name, for messages.
    on_map
        What the learned map shows about a rough rectangle; asked where colours and lines do not
        tell one whole board from its floor.

    Raises
    ------
    PhotoError
        No board, two boards, or a board that runs out of the picture.
    """
    cells = cells_of(ground, rule_area)
    told = _by_looks(cells, name)
    if isinstance(told, BoardPlace):
        return told
    near = _near_the_rule(cells)
    shown = None if on_map is None else _on_map(near, on_map)
    if on_map is None or shown is None:
        raise told.error
    if any(_share_on(bar, shown.outline) < _ON_BOARD for bar in told.bars):
        raise told.error
    second = _second_board(cells, near, shown)
    if second is None and (other := _on_map(near, on_map, beside=shown.outline)) is not None:
        second = other.outline
    if second is not None:
        raise _two_boards(shown.outline, second, name)
    return replace(shown, doubtful_end=told.end)


@dataclass(frozen=True, slots=True)
class _Refusal:
    """Why colours and lines alone refuse a picture, the bars that speak for it, an end in doubt."""

    error: PhotoError
    bars: tuple[Polygon, ...] = ()
    end: str = ""


def _by_looks(cells: Cells, name: str) -> BoardPlace | _Refusal:
    """Return where the board lies as colours and lines tell it."""
    best, near = _most_like_a_board(cells), None
    if best is None or best.odds < _LEAST_ODDS:
        near = _near_the_rule(cells)
        best = _plainly_a_board(near)
    if best is None:
        error = PhotoError(
            f"No board found beside the rule in {name}",
            "lay the board along the rule, not further off than half a metre, on a floor of"
            " another colour",
        )
        return _Refusal(error)
    place = _with_seen_ends(cells, best, name)
    if isinstance(place, BoardPlace) and (second := _second_board(cells, near, place)):
        error = _two_boards(place.outline, second, name)
        return _Refusal(error, (place.outline, second), place.doubtful_end)
    return place


def _second_board(cells: Cells, near: Cells | None, place: BoardPlace) -> Polygon | None:
    """Return what else in the picture plainly is a board, or None.

    ``near``: the cells near the rule, if these are to be searched alone, too.
    """
    seconds = [_most_like_a_board(_clear_of(place.outline, cells))]
    if near is not None:
        seconds.append(_plainly_a_board(_clear_of(place.outline, near)))
    for second in seconds:
        if second is None or second.odds <= _SECOND_ODDS:
            continue
        other = _place(cells, second)
        is_long = other.length_mm > _SECOND_LENGTH * place.length_mm
        if is_long and _lies_on_floor(cells, second.bar):
            return other.outline
    return None


def _two_boards(first: Polygon, second: Polygon, name: str) -> PhotoError:
    where = "above" if second.centroid.y < first.centroid.y else "below"
    return PhotoError(
        f"Two boards lie in {name}, the second one {where} the first",
        "take away all boards but one and take the photo again",
    )


def _share_on(bar: Polygon, board: Polygon) -> float:
    return float(bar.intersection(board).area / bar.area)


def _with_seen_ends(cells: Cells, best: _Found, name: str) -> BoardPlace | _Refusal:
    """Return the place of a bar; one that plainly runs out of the picture is refused."""
    best = replace(best, bar=_without_lineless_ends(best))
    end = _cut_off_end(best)
    if end and end == _cut_off_end(best, at_large=True):
        return _Refusal(cut_off(end, name), (_place(cells, best).outline,), end)
    if end:
        own = with_own_ends(best.slope, best.bar, at_large=True)
        first = own.column0 if end == "left" else best.bar.column0
        stop = own.column1 if end == "right" else best.bar.column1
        best = replace(best, bar=replace(best.bar, column0=first, column1=stop))
    return replace(_place(cells, best), doubtful_end=end)


def _on_map(near: Cells, on_map: Sight, beside: Polygon | None = None) -> BoardPlace | None:
    """Return the first board that the learned map shows about one of the likeliest bars.

    ``beside``: only clear of this one.
    """
    if beside is not None:
        near = _clear_of(beside, near)
    found, _, choice = _bars_with_odds(near, None)
    shown: list[Polygon] = []
    for at in np.argsort(-choice):
        rough = _place(near, found[at])
        if any(iou(rough.outline, other) > _SAME_BAR for other in shown):
            continue
        seen = on_map(rough.outline, rough.angle_rad)
        if seen is not None and (beside is None or not seen[0].intersects(beside)):
            return _traced_place(*seen)
        shown.append(rough.outline)
        if len(shown) == _MAP_LOOKS:
            break
    return None


def _traced_place(outline: Polygon, angle_rad: float) -> BoardPlace:
    """Return the place of an outline (rule frame, mm) that lies at an angle, with its own size."""
    upright = affinity.rotate(outline, -angle_rad, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = upright.bounds
    return BoardPlace(outline, angle_rad, x1 - x0, y1 - y0)


@dataclass(frozen=True, slots=True)
class _Found:
    bar: Bar
    slope: Slope
    odds: float


def _near_the_rule(cells: Cells) -> Cells:
    """Return the cells of which only those near the rule are known."""
    rows = np.flatnonzero(cells.rule.any(axis=1))
    if not len(rows):
        return cells
    reach = round(_NEAR_RULE_MM / ACROSS_MM)
    near = np.zeros_like(cells.known)
    near[max(0, int(rows[0]) - reach) : int(rows[-1]) + reach] = True
    return replace(cells, known=cells.known & near)


def _plainly_a_board(cells: Cells) -> _Found | None:
    """Return, of all the bars, the one most like a whole board of those that plainly are one."""
    found, odds, choice = _bars_with_odds(cells, None)
    sure = np.flatnonzero(odds > _SECOND_ODDS)
    return found[sure[choice[sure].argmax()]] if len(sure) else None


def _most_like_a_board(cells: Cells) -> _Found | None:
    """Return the bar that looks most like a whole board, with its odds of being one."""
    found, odds, choice = _bars_with_odds(cells, _CLOSE_LOOKS)
    if not found:
        return None
    at = int(choice.argmax())
    if odds[at] < _LEAST_ODDS and odds.max() > _SECOND_ODDS:
        # A strip of floor between two strong lines may win the choice and yet be no board: then
        # what is plainly a board is one.
        at = int(odds.argmax())
    return found[at]


def _bars_with_odds(cells: Cells, looks: int | None) -> tuple[list[_Found], Doubles, Doubles]:
    """Return the most promising bars (all: None), the odds of each, and how well it would do."""
    steps = Steps.of(cells)
    slopes: dict[float, Slope] = {}
    found, facts = [], []
    for rough in find_bars(cells, steps)[:looks]:
        if rough.slope not in slopes:
            slopes[rough.slope] = Slope.of(cells, steps, rough.slope)
        slope = slopes[rough.slope]
        bar = with_own_ends(slope, rough)
        if (bar.column1 - bar.column0) * ALONG_MM >= SHORTEST_MM:
            found.append((bar, slope))
            facts.append(facts_of(slope, bar))
    if not found:
        return [], np.zeros(0), np.zeros(0)
    table = np.array(facts)
    odds = BOARD_OFFSET + weighed(table, BOARD)
    bars = [_Found(*one, float(odd)) for one, odd in zip(found, odds, strict=True)]
    return bars, odds, weighed(table, CHOICE)


def _place(cells: Cells, found: _Found) -> BoardPlace:
    corners = found.bar.corners(cells)
    along, across = corners[1] - corners[0], corners[3] - corners[0]
    return BoardPlace(
        outline=polygon_of(corners),
        angle_rad=float(np.arctan2(along[1], along[0])),
        length_mm=float(np.hypot(*along)),
        width_mm=float(np.hypot(*across)),
    )


def _without_lineless_ends(found: _Found) -> Bar:
    """Return the bar without columns at its ends that neither of its long edges reaches.

    On a floor of like wood the looks go on beyond the board; its edges do not.
    """
    bar = found.bar
    steps = found.slope.steps
    # A bar lies askew by half a step of the slopes tried: its edges wander some rows at the ends.
    edges = [
        steps[max(0, row - _ASKEW_ROWS) : row + _ASKEW_ROWS + 1].max(axis=0)
        for row in (bar.row0, bar.row1)
    ]
    reached = np.mean(edges, axis=0) > LEAST_STEP
    columns = np.flatnonzero(reached[bar.column0 : bar.column1])
    if not len(columns):
        return bar
    start = min(int(columns[0]), _MOST_LINELESS)
    stop = max(int(columns[-1]) + 1, bar.column1 - bar.column0 - _MOST_LINELESS)
    return replace(bar, column0=bar.column0 + start, column1=bar.column0 + stop)


def _lies_on_floor(cells: Cells, bar: Bar) -> bool:
    """Return whether floor shows on both long sides of a bar.

    A wall, a kerb or the border of a lawn has floor on one side only: it runs out of the picture.
    """
    known, rule = cells.turned_flags(bar.slope)
    shown = known | rule
    rim = round(_RIM_MM / ACROSS_MM)
    columns = slice(bar.column0, bar.column1)
    for row0, row1 in ((bar.row0 - rim, bar.row0), (bar.row1, bar.row1 + rim)):
        there = shown[max(row0, 0) : max(row1, 0), columns]
        if there.sum() < _RIM_SHOWN * rim * (bar.column1 - bar.column0):
            return False
    return True


def _clear_of(board: Polygon, cells: Cells) -> Cells:
    """Return the cells of which only those clear of a board, its side and shadow are known."""
    return replace(cells, known=cells.known & ~_cells_in(cells, board.buffer(_CLEAR_MM)))


def _cells_in(cells: Cells, shape: Polygon) -> Flags:
    """Return which cells' middles lie in a convex shape."""
    rows, columns = cells.known.shape
    x = cells.origin_mm[0] + (np.arange(columns) + 0.5) * ALONG_MM
    y = cells.origin_mm[1] + (np.arange(rows) + 0.5) * ACROSS_MM
    inside = np.ones((rows, columns), dtype=bool)
    ring = np.asarray(shape.exterior.coords)
    if not shape.exterior.is_ccw:
        ring = ring[::-1]
    for (x0, y0), (x1, y1) in itertools.pairwise(ring):
        inside &= (x1 - x0) * (y[:, None] - y0) - (y1 - y0) * (x[None, :] - x0) >= 0
    return inside


def cut_off(end: str, name: str) -> PhotoError:
    """Return the refusal of a photo that does not show one end of the board."""
    return PhotoError(
        f"The board's {end} end lies outside {name}",
        "step back until the whole board is in the picture and take it again",
    )


def _cut_off_end(found: _Found, *, at_large: bool = False) -> str:
    """Return which end of a board runs on into what no photo shows, or nothing.

    Row by row, the last cells before the unseen must look like wood and not like the floor beside
    the board, and so must what lies between the board's end and them: a board that ends just before
    the frame shows floor there, and a look seldom seen at the frame's corner proves nothing. Its
    long edges must go on there too: a floor of the same wood has none. ``at_large``: as in
    `kind_odds`.
    """
    bar, cells = found.bar, found.slope.cells
    odds = kind_odds(found.slope, bar, at_large=at_large)[cells.labels]
    inset = max(1, (bar.row1 - bar.row0) // 8)
    middle = (bar.column0 + bar.column1) // 2
    for end, way in (("left", -1), ("right", 1)):
        columns = slice(middle, None) if way > 0 else slice(middle, None, -1)
        known = cells.known[bar.row0 + inset : bar.row1 - inset, columns]
        # Cells with no unseen one between them and the board's middle.
        last = np.logical_and.accumulate(known, axis=1).sum(axis=1) - 1
        rows = np.flatnonzero(last >= _CELLS_AT_FRAME)
        if not len(rows):
            continue
        there = odds[bar.row0 + inset : bar.row1 - inset, columns]
        at_frame = np.mean([there[rows, last[rows] - k] for k in range(_CELLS_AT_FRAME)], axis=0)
        own_end = bar.column1 - middle if way > 0 else middle - bar.column0 + 1
        goes_on = [there[row, own_end : last[row] + 1].sum() >= 0.0 for row in rows]
        if ((at_frame > _PLAINLY_WOOD) & goes_on).mean() <= _WOOD_AT_FRAME:
            continue
        frame = middle + way * int(np.median(last[rows]))
        near = range(frame - 3, frame) if way > 0 else range(frame + 1, frame + 4)
        if found.slope.steps[np.ix_((bar.row0, bar.row1), near)].mean() > LEAST_STEP / 2:
            return end
    return ""
