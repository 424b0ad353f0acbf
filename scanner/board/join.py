"""Lay the two faces of a board over each other; here it is decided how face 2 is mirrored."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, get_args

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.board import Turned
from scanner.board.crack_run import with_whole_reach
from scanner.board.crack_score import scored_by_both_faces
from scanner.board.flaw import CRACKS, Flaw, FlawKind
from scanner.board.log_outside import agreeing_outside
from scanner.board.one_board import one_board_doubts
from scanner.board.partners import partners
from scanner.board.reading import FaceReading, spans_along_y_mm
from scanner.errors import BoardError
from scanner.geometry.polygons import iou, mirrored

if TYPE_CHECKING:
    from collections.abc import Mapping


# Two faces of one board may differ by what is not square: ends sawn out of square through the
# thickness, and edges likewise (common practice, no source: a few degrees on 25-50 mm).
_OUT_OF_SQUARE_MM = 12.0
# Edges are compared so often along the board; what agrees so closely votes for one place.
_EDGE_STEP_MM = 10.0
_AGREE_MM = 1.5
# What agrees on both faces, a knot of full size or the log's outside, counts as so much of outline.
_AGREED_MM = 0.5
# The ends' mid-widths, which set the axis, are off by half the wane there: 10 mm in 1 m.
_MOST_SLOPE = 0.012
# The size with which a finder's words of a spot end; sizes nearer than this pass for one.
_SPOT_SIZE = re.compile(r"(\d+) x (\d+) mm$")
_ONE_SIZE_MM = 2


@dataclass(frozen=True, slots=True)
class JoinedFaces:
    """Both faces in the board frame.

    Attributes
    ----------
    turned
        How the board was turned over between the photographs.
    turn_rad, shift_mm
        What the mirrored face 2 was turned (about the origin) and then moved by.
    outline_2, sapwood_2
        Face 2's outline and where its sapwood shows, seen through the board.
    flaws
        Flaws of both faces, those that come through as one, named F1, F2 ... along the board.
    doubts
        What the user should know.
    disagreement_mm
        How badly outlines and knots agree; less than 0 where knots come through.
    """

    turned: Turned
    turn_rad: float
    shift_mm: tuple[float, float]
    outline_2: Polygon
    sapwood_2: tuple[Polygon, ...]
    flaws: tuple[Flaw, ...]
    doubts: tuple[str, ...]
    disagreement_mm: float


@dataclass(frozen=True, slots=True)
class LaidOver:
    """Face 2 as it lies best under face 1, whether or not they are of one board.

    Attributes
    ----------
    turned, turn_rad, shift_mm
        As in `JoinedFaces`.
    seen
        Face 2's reading, seen through the board.
    disagreement_mm
        How badly outlines and knots agree so.
    margin_mm
        How much worse outlines, knots and the log's outside agree turned over in the other way.
    """

    turned: Turned
    seen: FaceReading
    turn_rad: float
    shift_mm: tuple[float, float]
    disagreement_mm: float
    margin_mm: float


def join_faces(
    first: FaceReading,
    second: FaceReading,
    thickness_mm: float,
    names: tuple[str, str],
    *,
    has_cards: bool = False,
) -> JoinedFaces:
    """Lay face 2 over face 1 and say how the board was turned.

    Parameters
    ----------
    first, second
        Readings of both faces, each in its own view.
    thickness_mm
        Of the board: how far a slanting knot may wander from face to face.
    names
        Photo names for messages.
    has_cards
        Whether cards beside both faces say that they are of one board: what is only missing is
        then not asked for.

    Raises
    ------
    BoardError
        The two faces cannot be of one board.
    """
    _refuse_different(first, second, names)
    laid = lay_over(first, second, thickness_mm)
    seen, turned = laid.seen, laid.turned
    overlap = iou(first.wood, seen.wood)
    if overlap < 0.9:
        raise BoardError(
            f"{names[0]} and {names[1]} seem to show two different boards"
            f" (laid over each other only {overlap:.0%} of their outlines agree)",
            "give the two faces of one board",
        )
    doubts = one_board_doubts(first, seen, thickness_mm, names, has_cards=has_cards)
    # What is about the noise of a traced edge, 0.3 to 0.6 mm, tells nothing.
    if laid.margin_mm < 0.5:
        doubts += (
            "The board looks alike turned sideways or end over end:"
            f" face 2 was taken as turned {turned.replace('_', ' ')}; look whether its knots agree",
        )
    flaws = tuple(
        scored_by_both_faces(with_whole_reach(flaw, first.outline))
        for flaw in _joined_flaws(first.flaws, seen.flaws, thickness_mm)
    )
    return JoinedFaces(
        turned,
        laid.turn_rad,
        laid.shift_mm,
        seen.outline,
        seen.sapwood,
        flaws,
        doubts,
        laid.disagreement_mm,
    )


def lay_over(first: FaceReading, second: FaceReading, thickness_mm: float) -> LaidOver:
    """Return face 2 laid under face 1 as well as it goes, of one board or not.

    Parameters
    ----------
    first, second, thickness_mm
        As `join_faces` takes them.
    """
    ways: list[tuple[float, LaidOver]] = []
    for turned in get_args(Turned):
        seen, turn, shift = _seen_through(first, second, turned)
        off = _disagreement_mm(first, seen, thickness_mm)
        # Strangers too may have wane at the same place: it tells how a board was turned, not whose
        # face it is.
        against = off - _AGREED_MM * agreeing_outside(first, seen)
        ways.append((against, LaidOver(turned, seen, turn, shift, off, 0.0)))
    ways.sort(key=lambda way: way[0])
    (best, laid), (other, _) = ways
    return replace(laid, margin_mm=other - best)


def _refuse_different(first: FaceReading, second: FaceReading, names: tuple[str, str]) -> None:
    apart = abs(first.length.value_mm - second.length.value_mm)
    # 1.5 x the joint U: about 3 standard deviations of the difference.
    allowed = 1.5 * float(np.hypot(first.length.u_mm, second.length.u_mm)) + _OUT_OF_SQUARE_MM
    if apart > allowed:
        raise BoardError(
            f"{names[0]} and {names[1]} seem to show two different boards"
            f" (lengths {first.length.text()} and {second.length.text()})",
            "give the two faces of one board",
        )
    u = max((s.width.u_mm for r in (first, second) for s in r.widths), default=1.0)
    widths = [_mean_width_mm(reading.wood) for reading in (first, second)]
    if abs(widths[0] - widths[1]) > 1.5 * u + _OUT_OF_SQUARE_MM:
        raise BoardError(
            f"{names[0]} and {names[1]} seem to show two different boards"
            f" (mean widths {widths[0]:.0f} and {widths[1]:.0f} mm)",
            "give the two faces of one board",
        )


def _mean_width_mm(shape: Polygon) -> float:
    low_x, _, high_x, _ = shape.bounds
    return float(shape.area / (high_x - low_x))


def _seen_through(
    first: FaceReading, second: FaceReading, turned: Turned
) -> tuple[FaceReading, float, tuple[float, float]]:
    """Return face 2 mirrored, turned and moved so that its edges lie under face 1's."""
    _, _, length, width = second.outline.bounds
    over = moved_reading(second, lambda shape: mirrored(shape, turned, length, width))
    turn, shift = edges_onto(first, over)
    return (
        moved_reading(over, partial(turned_and_moved, turn_rad=turn, shift_mm=shift)),
        turn,
        shift,
    )


def turned_and_moved(shape: Polygon, turn_rad: float, shift_mm: tuple[float, float]) -> Polygon:
    """Return a shape turned about the origin and then moved, as `edges_onto` says."""
    turned = affinity.rotate(shape, turn_rad, origin=(0, 0), use_radians=True)
    return affinity.translate(turned, *shift_mm)


def moved_reading(reading: FaceReading, move: Callable[[Polygon], Polygon]) -> FaceReading:
    """Return a reading with every shape moved."""
    flaws = tuple(replace(flaw, outlines={1: move(flaw.outlines[1])}) for flaw in reading.flaws)
    sapwood = tuple(move(shape) for shape in reading.sapwood)
    return replace(reading, outline=move(reading.outline), flaws=flaws, sapwood=sapwood)


def edges_onto(first: FaceReading, over: FaceReading) -> tuple[float, tuple[float, float]]:
    """Return the turn (rad, about the origin) and shift that lay face 2's edges on face 1's.

    Edges with wane agree on neither face, and wane may go unseen: so what most of both edges say
    counts, not their mean.
    """
    low_1, _, high_1, _ = first.outline.bounds
    low_2, _, high_2, _ = over.outline.bounds
    along = (low_1 + high_1 - low_2 - high_2) / 2
    middle = (low_1 + high_1) / 2
    x = np.arange(low_1 + 15, high_1 - 15, _EDGE_STEP_MM)
    steps, gaps = [], []
    for a, b in ((first.outline, over.outline), (first.wood, over.wood)):
        gap = spans_along_y_mm(a, x) - spans_along_y_mm(b, x - along)
        both = ~np.isnan(gap[:, 0])
        steps.append(np.repeat(x[both] - middle, 2))
        gaps.append(gap[both].ravel())
    offset, slope = _most_agreed(np.concatenate(steps), np.concatenate(gaps))
    # The turn is about the origin; what that moves at the board's middle is taken back.
    turn = float(np.arctan(slope))
    at = np.array([middle - along, 0.0])
    turned_at = np.array([np.cos(turn) * at[0], np.sin(turn) * at[0]])
    return turn, (float(along + at[0] - turned_at[0]), float(offset - turned_at[1]))


def _most_agreed(x: NDArray[np.float64], gap: NDArray[np.float64]) -> tuple[float, float]:
    """Return offset and slope of the line through most of the gaps (Tukey's biweight)."""
    centres = np.arange(np.floor(gap.min()), np.ceil(gap.max()) + 1, 0.5)
    votes = [(np.abs(gap - centre) < _AGREE_MM).sum() for centre in centres]
    offset, slope = float(centres[int(np.argmax(votes))]), 0.0
    # Wide first, so that a slope is seen, then narrow.
    for reach in (6.0, 6.0, 4.0, 4.0, 3.0, 3.0, 3.0):
        off = (gap - offset - slope * x) / reach
        weight = np.where(np.abs(off) < 1, (1 - off**2) ** 2, 0.0)
        if weight.sum() < 1e-6:
            break
        mean_x = float((weight * x).sum() / weight.sum())
        mean_gap = float((weight * gap).sum() / weight.sum())
        spread = float((weight * (x - mean_x) ** 2).sum())
        slope = float((weight * (x - mean_x) * (gap - mean_gap)).sum() / max(spread, 1e-9))
        slope = float(np.clip(slope, -_MOST_SLOPE, _MOST_SLOPE))
        offset = mean_gap - slope * mean_x
    return offset, slope


def _disagreement_mm(first: FaceReading, seen: FaceReading, thickness_mm: float) -> float:
    """Return how badly two laid-over faces agree, in mm: outlines, and knots that come through."""
    a, b = first.wood, seen.wood
    outline_part = float(a.symmetric_difference(b).area / a.length)
    return outline_part - _AGREED_MM * _agreeing_knots(first.flaws, seen.flaws, thickness_mm)


def _agreeing_knots(front: tuple[Flaw, ...], back: tuple[Flaw, ...], thickness_mm: float) -> float:
    """Return how many flaws of face 1 have a partner on face 2, sizes counted up to 30 mm."""
    total = 0.0
    for i, _ in partners(front, back, thickness_mm):
        total += min(1.0, front[i].outlines[1].area ** 0.5 / 30.0)
    return total


def _joined_flaws(
    front: tuple[Flaw, ...], back: tuple[Flaw, ...], thickness_mm: float
) -> tuple[Flaw, ...]:
    pairs = dict(partners(front, back, thickness_mm))
    partnered = set(pairs.values())
    joined = [
        _one_flaw(flaw, back[pairs[i]]) if i in pairs else flaw for i, flaw in enumerate(front)
    ]
    joined += [
        replace(flaw, outlines={2: flaw.outlines[1]})
        for j, flaw in enumerate(back)
        if j not in partnered
    ]
    return in_order(joined)


def _one_flaw(one: Flaw, two: Flaw) -> Flaw:
    outlines: Mapping[int, Polygon] = {1: one.outlines[1], 2: two.outlines[1]}
    # A crack that opens on both faces at one place has gone through: the trade calls it a split.
    surer = one if (one.score or 1.0) >= (two.score or 1.0) else two
    kind = FlawKind.SPLIT if one.kind in CRACKS else surer.kind
    reaches = [reach for reach in (one.reach_mm, two.reach_mm) if reach is not None]
    sound = _sound_of_both(kind, {one.sound, two.sound})
    # The words are those of the face that shows the reach, the kind and the soundness told.
    told = max(
        (one, two),
        key=lambda flaw: (flaw.reach_mm or 0.0, flaw.kind is kind, flaw.sound is sound),
    )
    return replace(
        one,
        kind=kind,
        outlines=outlines,
        is_through=True,
        sound=sound,
        reach_mm=max(reaches) if reaches else None,
        reason=_words_of_both(told.reason, two.reason, 2)
        if told is one
        else _words_of_both(told.reason, one.reason, 1),
        score=max((s for s in (one.score, two.score) if s is not None), default=None),
        u_mm=max(one.u_mm, two.u_mm),
    )


def _words_of_both(told: str | None, other: str | None, other_face: int) -> str | None:
    """Return the words of one face, with the flaw's size on the other where that is another."""
    if not told:
        return None
    here, there = _SPOT_SIZE.search(told), _SPOT_SIZE.search(other or "")
    if here and there:
        apart = (abs(int(a) - int(b)) for a, b in zip(here.groups(), there.groups(), strict=True))
        if max(apart) > _ONE_SIZE_MM:
            return f"{told}; {there[0]} on face {other_face}"
    return f"{told}; also on the other face"


def _sound_of_both(kind: FlawKind, sounds: set[bool | None]) -> bool | None:
    if kind is not FlawKind.KNOT or (None in sounds and False not in sounds):
        return None
    return False not in sounds


def in_order(flaws: list[Flaw]) -> tuple[Flaw, ...]:
    """Return the flaws named F1, F2 ... by their place along the board."""
    placed = sorted(flaws, key=lambda f: min(o.bounds[0] for o in f.outlines.values()))
    return tuple(replace(flaw, id=f"F{n}") for n, flaw in enumerate(placed, start=1))
