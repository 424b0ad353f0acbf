"""The chance that everything fits, over the board feet bought: by the real solver on drawn lots."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import beta, binom

from scanner.board.board import Board
from scanner.board.volume import Tally, board_feet, sawn_width_mm
from scanner.lot.need import Need
from scanner.lot.own_boards import boards_like, draw_own
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
# In a grade's place where lots are drawn from the user's own boards.
OWN = "boards like your own"
# Each end of a 95 % interval.
_TAIL = 0.025


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
    """What the trials came to.

    ``own`` is how many of the user's own boards they were drawn from, where ``grade`` is `OWN`;
    none of the need's species and thickness means no trials.
    """

    need: Need
    grade: str
    trials: tuple[Trial, ...]
    own: int = 0

    def chance(self, feet: float) -> float:
        """Return the share of the lots of so many board feet in which everything fits."""
        return sum(t.feet is not None and t.feet <= feet for t in self.trials) / len(self.trials)

    def feet_for(self, chance: float) -> float | None:
        """Return the board feet at which this share of lots is enough, None where none are."""
        feet = sorted(t.feet if t.feet is not None else np.inf for t in self.trials)
        wanted = feet[max(int(np.ceil(chance * len(feet))) - 1, 0)]
        return float(wanted) if np.isfinite(wanted) else None

    def feet_between(self, chance: float) -> tuple[float, float | None]:
        """Return a 95 % interval of `feet_for`, by the lots' own order; None: open above.

        Whatever the spread's shape (H. A. David and H. N. Nagaraja, Order Statistics, 2003, 7.1;
        from memory).
        """
        feet = sorted(t.feet if t.feet is not None else np.inf for t in self.trials)
        count = len(feet)
        low = int(binom.ppf(_TAIL, count, chance))
        high = int(binom.ppf(1 - _TAIL, count, chance)) + 1
        first = feet[max(low, 1) - 1] if low else 0.0
        last = feet[high - 1] if high <= count else np.inf
        return float(first), float(last) if np.isfinite(last) else None

    def chance_between(self, feet: float) -> tuple[float, float]:
        """Return a 95 % interval of `chance` (C. Clopper and E. Pearson, Biometrika 26, 1934)."""
        count = len(self.trials)
        hits = round(self.chance(feet) * count)
        low = float(beta.ppf(_TAIL, hits, count - hits + 1)) if hits else 0.0
        high = float(beta.ppf(1 - _TAIL, hits + 1, count - hits)) if hits < count else 1.0
        return low, high


class _AllPlacedError(Exception):
    """The first layout that holds every part is enough; its proof of quality is not wanted."""


def everything_fits(boards: Sequence[Board], need: Need, shop: Shop) -> bool:
    """Return whether the solver places every part of a need on the boards, its spares too.

    A spare of a set lies beside it only where that costs nothing, so it is not asked for.
    """
    # Spares are asked for like parts: what is placed counts them, and a spare is no seat.
    parts = tuple(
        replace(part, quantity=part.quantity + (0 if part.match else part.spares), spares=0)
        for part in need.parts
    )
    asked = sum(part.quantity for part in parts)
    room = sum(board.faces[1].outline.area for board in boards)
    if room < sum(part.quantity * part.length_mm * part.width_mm for part in parts):
        return False

    def look(layout: Layout) -> None:
        if layout.summary.placed >= asked:
            raise _AllPlacedError

    try:
        layout = solve(tuple(boards), parts, shop, Work(_STEPS), on_better=look, in_full=False)
    except _AllPlacedError:
        return True
    return layout.summary.placed >= asked


def run_trial(
    need: Need,
    grade: str,
    shop: Shop,
    seed: tuple[int, int],
    fits: Callable[[Sequence[Board], Need, Shop], bool] = everything_fits,
    begin: int = 1,
    own: Sequence[Board] = (),
) -> Trial:
    """Return how much of one simulated lot is enough: strides until it is, then halves in between.

    Parameters
    ----------
    grade
        Whose boards are drawn; `OWN` draws among ``own`` that are like the need.
    seed
        The run's seed and the trial's number: the same pair draws the same boards.
    begin
        How many boards are tried first; what another lot needed saves most of the tries.
    own
        The user's own boards.
    """
    quarters = need.quarters
    like = boards_like(own, need) if grade == OWN else ()
    if quarters is None or (grade == OWN and not like):
        return Trial(None, None)
    rng = np.random.default_rng(seed)
    species = need.species or "any"
    boards: list[Board] = []

    def enough(count: int) -> bool:
        while len(boards) < count:
            name = f"Y{len(boards) + 1}"
            boards.append(
                draw_own(like, rng, name)
                if like
                else draw_board(grade, species, quarters, rng, name)
            )
        return fits(boards[:count], need, shop)

    most = _first_enough(enough, min(max(begin, 1), MOST_BOARDS))
    return Trial(None, None) if most is None else Trial(most, _feet(boards[:most], quarters))


def _first_enough(enough: Callable[[int], bool], begin: int) -> int | None:
    """Return the least number that is enough, None where none up to the most boards is."""
    too_few, most, count, stride = 0, MOST_BOARDS + 1, begin, 1
    while most - too_few > 1:
        if enough(count):
            most = count
        else:
            too_few = count
        if too_few and most <= MOST_BOARDS:
            count = (too_few + most) // 2
        else:
            # Not caught from both sides yet: ever longer strides away from where it began.
            count = max(1, most - stride) if most <= MOST_BOARDS else too_few + stride
            count, stride = min(count, MOST_BOARDS), 2 * stride
    return most if most <= MOST_BOARDS else None


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
