"""The chance that everything fits, over the board feet bought: by the real solver on drawn lots."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from scanner.board.board import Board
from scanner.board.volume import Tally, board_feet, sawn_width_mm
from scanner.lot.need import Need
from scanner.lot.yard import draw_board
from scanner.placement.layout import Layout
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.units import inches_from_mm

# Search steps for "does it fit?": a buyer's question needs no perfect layout, and errs on the side
# of more wood.
_STEPS = 60
# Nobody asks for more boards than this: a list that needs them fits no board of the grade.
MOST_BOARDS = 64


@dataclass(frozen=True, slots=True)
class Trial:
    """One simulated lot: boards bought one after the other until everything fits.

    Attributes
    ----------
    boards, feet
        How many boards, and how many board feet, were enough; None where no lot was.
    """

    boards: int | None
    feet: float | None


@dataclass(frozen=True, slots=True)
class ChanceCurve:
    """What the trials came to."""

    need: Need
    grade: str
    trials: tuple[Trial, ...]

    def chance(self, feet: float) -> float:
        """Return the share of the lots of so many board feet in which everything fits."""
        return sum(t.feet is not None and t.feet <= feet for t in self.trials) / len(self.trials)

    def feet_for(self, chance: float) -> float | None:
        """Return the board feet at which this share of lots is enough, None where none are."""
        feet = sorted(t.feet if t.feet is not None else np.inf for t in self.trials)
        wanted = feet[max(int(np.ceil(chance * len(feet))) - 1, 0)]
        return float(wanted) if np.isfinite(wanted) else None


class _AllPlacedError(Exception):
    """The first layout that holds every part is enough; its proof of quality is not wanted."""


def everything_fits(boards: Sequence[Board], need: Need, shop: Shop) -> bool:
    """Return whether the solver places every part of a need on the boards."""
    asked = sum(part.quantity for part in need.parts)
    room = sum(board.faces[1].outline.area for board in boards)
    if room < sum(part.quantity * part.length_mm * part.width_mm for part in need.parts):
        return False

    def look(layout: Layout) -> None:
        if layout.summary.placed >= asked:
            raise _AllPlacedError

    try:
        layout = solve(tuple(boards), need.parts, shop, Work(_STEPS), on_better=look)
    except _AllPlacedError:
        return True
    return layout.summary.placed >= asked


def run_trial(
    need: Need,
    grade: str,
    shop: Shop,
    seed: tuple[int, int],
    fits: Callable[[Sequence[Board], Need, Shop], bool] = everything_fits,
) -> Trial:
    """Return how much of one simulated lot is enough: doubled until it is, then halved in between.

    Parameters
    ----------
    seed
        The run's seed and the trial's number: the same pair draws the same boards.
    """
    if need.quarters is None:
        return Trial(None, None)
    rng = np.random.default_rng(seed)
    species = need.species or "any"
    parts_need = need
    boards: list[Board] = []

    def enough(count: int) -> bool:
        while len(boards) < count:
            number = len(boards) + 1
            boards.append(draw_board(grade, species, need.quarters or 4, rng, f"Y{number}"))
        return fits(boards[:count], parts_need, shop)

    too_few, count = 0, 1
    while not enough(count):
        too_few, count = count, 2 * count
        if count > MOST_BOARDS:
            return Trial(None, None)
    while count - too_few > 1:
        middle = (too_few + count) // 2
        if enough(middle):
            count = middle
        else:
            too_few = middle
    return Trial(count, _feet(boards[:count], need.quarters))


def _feet(boards: Sequence[Board], quarters: int) -> float:
    tally = Tally()
    measures = [
        tally.surface_measure(
            inches_from_mm(sawn_width_mm(s.width.value_mm for s in board.widths)),
            inches_from_mm(board.length.value_mm),
        )
        for board in boards
    ]
    return float(board_feet(measures, quarters))
