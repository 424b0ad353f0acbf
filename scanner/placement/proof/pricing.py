"""What boards are worth at most at some prices, and what they were found to hold there."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.choosing.programme import most
from scanner.placement.proof.section_grid import SectionGrid
from scanner.placement.wanted.items import Floats


@dataclass(slots=True)
class Pricing:
    """All boards priced; remembers how far fine answers lie below coarse ones.

    ``is_over``: whether time is up; what was not priced by then is worth any amount.
    """

    grids: Sequence[SectionGrid]
    is_over: Callable[[], bool] = lambda: False
    shares: dict[tuple[int, int], float] = field(default_factory=dict)

    @property
    def levels(self) -> int:
        """How many levels the boards have."""
        return len(self.grids[0].levels)

    def at(self, price: Floats, deep: int, boards: Sequence[int] = ()) -> tuple[Floats, Floats]:
        """Return the most on each board (B,), and what it would hold (B, T).

        The most is infinite on boards that time ran out before.
        """
        worth = np.zeros(len(self.grids))
        counts = np.zeros((len(self.grids), len(price)))
        for b in boards or range(len(self.grids)):
            if self.is_over():
                worth[b] = np.inf
                continue
            worth[b], counts[b] = self.of(b, price, deep)
        return worth, counts

    def of(self, board: int, price: Floats, deep: int) -> tuple[float, Floats]:
        """Return the most on one board, and what it would hold (T,)."""
        guess = self.shares.get((board, deep), 0.97)
        worth, share, counts = self.grids[board].most(price, guess, deep)
        self.shares[board, deep] = share - 0.003
        return worth, counts


@dataclass(slots=True)
class Found:
    """What boards were found to hold: the columns of the linear programme."""

    boards: int
    board: list[int] = field(default_factory=list)
    counts: list[Floats] = field(default_factory=list)
    _seen: set[tuple[int, bytes]] = field(default_factory=set)

    def add(self, counts: Floats) -> bool:
        """Note what each board holds, (B, T); False where nothing was new."""
        return any([self.add_one(b, own) for b, own in enumerate(counts)])

    def add_one(self, board: int, counts: Floats) -> bool:
        """Note what one board holds, (T,); False where that was known."""
        key = (board, counts.tobytes())
        if not counts.any() or key in self._seen:
            return False
        self._seen.add(key)
        self.board.append(board)
        self.counts.append(counts)
        return True

    def prices(
        self, value: Floats, wanted: Floats, boards: Sequence[int] = ()
    ) -> tuple[float, Floats]:
        """Return the best value with fractions of these, and the price of a copy of each part.

        boards: those that count; none: all.
        """
        own = [n for n, b in enumerate(self.board) if not boards or b in boards]
        if not own:
            return 0.0, np.zeros(len(value))
        counts, board = np.array([self.counts[n] for n in own]), np.array(self.board)[own]
        which, part = np.nonzero(counts)
        matrix = sparse.csr_matrix(
            (
                np.concatenate((np.ones(len(board)), counts[which, part])),
                (
                    np.concatenate((board, self.boards + part)),
                    np.concatenate((np.arange(len(board)), which)),
                ),
            ),
            shape=(self.boards + len(value), len(board)),
        )
        limit = np.concatenate((np.ones(self.boards), wanted))
        answer = most(counts @ value, matrix, limit, np.ones(len(board)))
        assert answer.value is not None
        return answer.value, np.maximum(answer.prices[self.boards :], 0.0)
