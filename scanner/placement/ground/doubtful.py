"""How far an end that nobody looked at is doubtful: there short, hidden or spare parts belong.

A check may run on unseen beyond the trim: 12 in in oak and walnut, less elsewhere (trade answers on
end checks; 100 mm is our own choice).
"""

from scanner.board.board import Board
from scanner.placement.rules.end_trim import trim_mm
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop

_LONG_CHECKS = ("oak", "walnut")
_REACH_LONG_MM, _REACH_MM = 300.0, 100.0


def doubtful_span(board: Board, end: str, shop: Shop) -> tuple[float, float] | None:
    """Return the doubtful stretch of one end along the board, mm; None at an end looked at."""
    if board.ends[end].looked_over:
        return None
    long = any(name in board.species.lower() for name in _LONG_CHECKS)
    reach = _REACH_LONG_MM if long else _REACH_MM
    x0, _, x1, _ = frame_of(board)
    trim = trim_mm(board.ends[end], shop)
    return (x0, x0 + trim + reach) if end == "A" else (x1 - trim - reach, x1)
