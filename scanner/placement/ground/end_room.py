"""How much more each end of a board may lose before a part is lost."""

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import box

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.rules.end_trim import trim_mm
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop
from scanner.units import MM_PER_INCH

# Less than a sixteenth of an inch is nothing to saw off.
_NOTHING_MM = MM_PER_INCH / 16


@dataclass(frozen=True, slots=True)
class EndRoom:
    """One end: what it may lose beyond what it loses already, and the part that is lost first.

    Attributes
    ----------
    more_mm
        On the safe side by the outline's U; never less than 0.
    """

    end: str
    more_mm: float
    part: Placement

    @property
    def is_used_up(self) -> bool:
        """Whether nothing is left to saw off."""
        return self.more_mm < _NOTHING_MM


def end_rooms(board: Board, placements: Sequence[Placement], shop: Shop) -> tuple[EndRoom, ...]:
    """Return the room at end A and end B of a board; empty where no part lies on it.

    A crosscut goes square across the board, so each end is measured along the rows of each part,
    on the face where the wood ends sooner.
    """
    own = [p for p in placements if p.board == board.id and p.state != "spoiled"]
    found = []
    for end in sorted(board.ends):
        trim = trim_mm(board.ends[end], shop)
        rooms = [(_free_mm(board, p, end) - trim - board.outline_u_mm, p) for p in own]
        if rooms:
            more, part = min(rooms, key=lambda room: (room[0], room[1].part, room[1].copy))
            found.append(EndRoom(end, max(0.0, more), part))
    return tuple(found)


def _free_mm(board: Board, p: Placement, end: str) -> float:
    """Return the length of unbroken wood between a part and an end, the shorter of both faces."""
    x0, _, x1, _ = frame_of(board)
    low, high = p.y_mm, p.y_mm + p.width_mm
    start, stop = p.x_mm, p.x_mm + p.length_mm
    band = box(x0 - 1, low, start, high) if end == "A" else box(stop, low, x1 + 1, high)
    free = []
    for number in board.faces:
        bare = band.difference(board.wood(number))
        # The band reaches 1 mm beyond the frame, so some of it is always bare.
        left, _, right, _ = bare.bounds
        free.append(float(start - right if end == "A" else left - stop))
    return min(free)
