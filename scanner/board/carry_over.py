"""What a person said of a board, carried over onto a newer scan of it.

Nothing said is lost: a flaw that was kept, drawn or struck stays, moved to where the new scan has
its place. What the new scan finds there is taken for the same only where it lies within what was
said; whatever reaches further stays possible, so that the person is asked.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import count
from typing import TYPE_CHECKING

import numpy as np
from shapely import transform

from scanner.board.flaw import CRACKS, FlawState
from scanner.board.tape import TAPED_NOTE
from scanner.geometry.polygons import largest_polygon

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.board import Board
    from scanner.board.flaw import Flaw
    from scanner.board.seen_piece import SeenPiece

    Points = NDArray[np.float64]

# A new outline is drawn anew by a millimetre or two, and two scans differ by their U.
_ROUND_MM = 3.0
_LEAST_WITHIN = 0.8
# A struck flaw that the new photos show this much more surely is asked about again.
_SURER_BY = 0.15
_BEFORE = "Before the newest photos: "
_AGAIN = "Scanned again: "


@dataclass(frozen=True, slots=True)
class CarriedOver:
    """The newly scanned board with what was said of it, and in words what became of that."""

    board: Board
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Moves:
    """How places of the old scan move to the new one, by face.

    Attributes
    ----------
    by_face
        (N, 2) board mm of the old scan to (N, 2) of the new one.
    u_mm
        How well: U of a moved place.
    """

    by_face: Mapping[int, Callable[[Points], Points]]
    u_mm: float = 0.0

    def of(self, face: int) -> Callable[[Points], Points]:
        """Return the move of a face; both faces share one frame, so one may stand for the other."""
        return self.by_face.get(face) or next(iter(self.by_face.values()))

    def turns(self, board: Board) -> bool:
        """Whether end A of the old scan is end B of the new one."""
        low_x, low_y, high_x, high_y = board.faces[1].outline.bounds
        middle = (low_y + high_y) / 2
        left, right = self.of(1)(np.array([[low_x, middle], [high_x, middle]]))
        return bool(left[0] > right[0])


def was_spoken_of(board: Board) -> bool:
    """Whether anybody said anything of a board's flaws, faces or ends."""
    return (
        any(flaw.state is not FlawState.POSSIBLE for flaw in board.flaws)
        or any(face.looked_over for face in board.faces.values())
        or any(end.looked_over or end.trim_mm is not None for end in board.ends.values())
    )


def carry_over(old: Board, new: Board, moves: Moves) -> CarriedOver:
    """Return a newly scanned board with all that was said of the old scan.

    Parameters
    ----------
    old
        As it stands, with what was said of it.
    new
        The same board scanned anew; nothing was said of it.
    """
    said_of = [_moved(flaw, moves) for flaw in old.flaws if flaw.state is not FlawState.POSSIBLE]
    open_flaws = [flaw for flaw in new.flaws if not any(_settles(one, flaw) for one in said_of)]
    names = _free_names({flaw.id for flaw in said_of})
    asked = [replace(flaw, id=next(names)) for flaw in open_flaws]
    touched = {face for flaw in asked for face in flaw.outlines}
    faces = {
        number: replace(
            face,
            looked_over=number in old.faces
            and old.faces[number].looked_over
            and number not in touched,
        )
        for number, face in new.faces.items()
    }
    again = [n for n, face in faces.items() if old.faces[n].looked_over and not face.looked_over]
    is_turned = moves.turns(old)
    other = {"A": "B", "B": "A"} if is_turned else {"A": "A", "B": "B"}
    ends = {name: old.ends[other[name]] for name in new.ends}
    kept_notes = tuple(
        note if note.startswith(_BEFORE) else f"{_BEFORE}{note}"
        for note in old.notes
        if note not in new.notes and (note.startswith((_BEFORE, TAPED_NOTE)))
    )
    said = _in_words(len(said_of), len(asked), again, is_turned)
    board = replace(
        new,
        faces=faces,
        ends=ends,
        flaws=(*said_of, *asked),
        only_parts=old.only_parts,
        keep_whole=old.keep_whole,
        price=old.price,
        moisture=old.moisture,
        bought=old.bought,
        slope_one_in=old.slope_one_in,
        pieces=tuple(_moved_piece(piece, moves) for piece in old.pieces),
        notes=(*new.notes, *kept_notes, *((f"{_AGAIN}{' '.join(said)}",) if said else ())),
    )
    return CarriedOver(board, said)


def _in_words(kept: int, asked: int, again: list[int], is_turned: bool) -> tuple[str, ...]:
    said = []
    if kept:
        said.append(f"{kept} {'flaw' if kept == 1 else 'flaws'} as you said stayed.")
    if asked:
        said.append(f"{asked} possible {'flaw is' if asked == 1 else 'flaws are'} to look at.")
    if again:
        faces = " and ".join(f"face {number}" for number in again)
        said.append(f"Look over {faces} again: the new photos show something there.")
    if is_turned:
        said.append("Ends A and B have changed places, as the strip lies now.")
    return tuple(said)


def _moved_piece(piece: SeenPiece, moves: Moves) -> SeenPiece:
    corners = [
        [piece.x_mm, piece.y_mm],
        [piece.x_mm + piece.length_mm, piece.y_mm + piece.width_mm],
    ]
    (x0, y0), (x1, y1) = moves.of(piece.face)(np.array(corners))
    return replace(
        piece,
        x_mm=float(min(x0, x1)),
        y_mm=float(min(y0, y1)),
        length_mm=float(abs(x1 - x0)),
        width_mm=float(abs(y1 - y0)),
    )


def _moved(flaw: Flaw, moves: Moves) -> Flaw:
    outlines = {face: _moved_outline(one, moves.of(face)) for face, one in flaw.outlines.items()}
    return replace(flaw, outlines=outlines, u_mm=float(np.hypot(flaw.u_mm, moves.u_mm)))


def _moved_outline(outline: Polygon, move: Callable[[Points], Points]) -> Polygon:
    moved = transform(outline, move)
    # A thin crack may cross itself by a hair.
    return moved if moved.is_valid else largest_polygon(moved.buffer(0)) or moved


def _settles(said: Flaw, found: Flaw) -> bool:
    """Whether what was said of a flaw answers one that the new scan found."""
    # A hole inside a sound knot is not answered by the knot.
    if said.kind is not found.kind and not (said.kind in CRACKS and found.kind in CRACKS):
        return False
    surer_by = (found.score or 0.0) - (said.score or 0.0)
    if said.state is FlawState.STRUCK and surer_by > _SURER_BY:
        return False
    for face, outline in found.outlines.items():
        told = said.outlines.get(face)
        if told is None or outline.is_empty:
            return False
        within = outline.intersection(told.buffer(_ROUND_MM + said.u_mm)).area
        if within < _LEAST_WITHIN * outline.area:
            return False
    return True


def _free_names(taken: set[str]) -> Iterator[str]:
    return (name for number in count(1) if (name := f"F{number}") not in taken)
