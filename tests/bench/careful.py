"""The careful person of the road's benches: what they nod at, reshape, strike and draw.

They see the pictures, and the board lies before them; they know no place better than a hand draws.
"""

from dataclasses import replace

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawState
from scanner.geometry.polygons import iou

# What a careful person with the board before them sees: a spot or crack this long.
_SEEN_MM = 2.0
# A mark that covers less of a flaw than this is drawn anew.
_COVERED = 0.9
# So is one that a flaw sticks out of by more than this: the tip of a crack is little of its area.
_STICKS_OUT_MM = 3.0
# A candidate is kept where its outline and the flaw share this much; else it is drawn anew, with a
# hand's care outside of the flaw.
_KEPT_IOU = 0.6
_HAND_MM = 1.5


def nodded(board: Board, truth: Board, hand_mm: float = _HAND_MM) -> Board:
    """Return the board after a careful person went over it with the picture before them.

    A candidate that shows a flaw, and shows it in its place, is kept, with the kind that the
    person reads from the picture; any other is struck. A kept one is reshaped on a face where it
    marks the flaw badly or in part only. What is then missing is drawn. Whatever is drawn is drawn
    ``hand_mm`` outside of the flaw.
    """
    kept: list[Flaw] = []
    for flaw in board.flaws:
        match = _match(flaw, truth.flaws)
        # What marks nothing on one of its faces can't be mended there: struck, and drawn anew.
        if match is None or not flaw.outlines.keys() <= match.outlines.keys():
            kept.append(replace(flaw, state=FlawState.STRUCK))
        else:
            kept.append(_seen(flaw, match, hand_mm, board.outline_u_mm))
    confirmed = [flaw for flaw in kept if flaw.state is FlawState.CONFIRMED]
    number = len(board.flaws)
    for flaw in truth.flaws:
        for face, shape in flaw.outlines.items():
            # A knot inside a patch of wild grain is marked only by a mark of its own kind.
            alike = [f for f in confirmed if f.kind is flaw.kind and face in f.outlines]
            covered = unary_union([f.outlines[face] for f in alike])
            left, low, right, high = shape.bounds
            if max(right - left, high - low) < _SEEN_MM:
                continue
            if _covers(covered, shape):
                continue
            number += 1
            # A person draws round it with a little room; the marks of a crack that shows on both
            # faces are joined, so that it counts on both as far as it runs on either.
            drawn = shape.buffer(hand_mm)
            kept.append(
                replace(
                    flaw, id=f"F{number}", outlines={face: drawn}, state=FlawState.ADDED,
                    is_through=flaw.is_through, u_mm=board.outline_u_mm,
                )
            )  # fmt: skip
    faces = {n: replace(face, looked_over=True) for n, face in board.faces.items()}
    ends = {name: replace(end, looked_over=True) for name, end in board.ends.items()}
    return replace(board, flaws=tuple(kept), faces=faces, ends=ends)


def _seen(flaw: Flaw, match: Flaw, hand_mm: float, drawn_u_mm: float) -> Flaw:
    """Return a candidate as the flaw that it is, reshaped where it marks that badly.

    What is reshaped has the U of what a person draws, as the page gives it.
    """
    outlines = {
        face: shape
        if _likeness(shape, match.outlines[face]) > _KEPT_IOU
        and _covers(shape, match.outlines[face])
        else match.outlines[face].buffer(hand_mm)
        for face, shape in flaw.outlines.items()
    }
    is_reshaped = any(outlines[face] is not shape for face, shape in flaw.outlines.items())
    return replace(
        flaw, kind=match.kind, sound=match.sound, state=FlawState.CONFIRMED, outlines=outlines,
        is_through=match.is_through,
        reach_mm=match.reach_mm if is_reshaped else flaw.reach_mm,
        u_mm=drawn_u_mm if is_reshaped else flaw.u_mm,
    )  # fmt: skip


def _covers(mark: BaseGeometry, true: Polygon) -> bool:
    """Return whether a person lets a mark stand as covering a flaw."""
    inside = true.intersection(mark).area >= _COVERED * true.area
    return bool(inside and mark.buffer(_STICKS_OUT_MM).covers(true))


def _likeness(shape: Polygon, true: Polygon) -> float:
    """Return how well a mark fits; a thin crack's is judged with the care of a hand."""
    return iou(shape.buffer(_HAND_MM), true.buffer(_HAND_MM))


def _match(flaw: Flaw, true: tuple[Flaw, ...]) -> Flaw | None:
    """Return the true flaw that a candidate marks well enough to keep, None if there is none."""
    best, most = None, _KEPT_IOU
    for other in true:
        for face, shape in flaw.outlines.items():
            if face in other.outlines:
                share = _likeness(shape, other.outlines[face])
                if share > most:
                    best, most = other, share
    return best
