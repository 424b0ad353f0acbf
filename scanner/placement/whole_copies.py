"""Whether boards may hold all parts when each gives whole copies, and none that nobody wants.

Prices alone let a board give half of one pattern and half of another, and more copies of a part
than are wanted, so that boards seem to hold what no layout can take from them. But at any prices
a board that takes part in holding everything gives nearly its best: where the boards' best
patterns are together worth ``slack`` more than what is wanted, none gives a pattern worth that
much less than its best. All patterns of so much worth can be listed, in whole copies and none in
excess; prices made for the lists leave few of them, and a whole-number programme says whether some
choice of one a board holds everything (R. Baldacci, N. Christofides and A. Mingozzi, "An exact
algorithm for the vehicle routing problem based on the set partitioning formulation with additional
cuts", Mathematical Programming 115 (2008)).

Prices that leave little slack are sought within reach of the best ones so far, over the patterns
seen so far (R. E. Marsten, W. W. Hogan and J. W. Blankenship, "The boxstep method for large-scale
optimization", Operations Research 23 (1975)).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.items import Floats
from scanner.placement.pricing import Found, Pricing
from scanner.placement.programme import any_whole, most

_MOST_ROUNDS = 30
# Patterns listed of a board while prices are sought, and for the answer; of the former so many of
# the richest are remembered. They are sought within this share of what the board is worth at most,
# then within twice as much, until there are some.
_FEW, _MANY, _KEPT = 5000, 30_000, 300
_FIRST_SHARE = 0.02
# All patterns are listed where the boards are worth no more than this too much.
_MOST_SLACK = 0.04
# How far from the best prices so far others are sought: so many times as dear or cheap, and for
# parts that cost nothing by a share of their size.
_FIRST_REACH, _LEAST_REACH, _MOST_REACH, _FROM_NOTHING = 1.3, 1.05, 16.0, 0.02
_NARROWINGS = 6
_MOST_NODES = 3000
# So many choices for one set of boards are laid out at most.
_MOST_LAID = 12
_NOTHING, _RIGHT = 1e-9, 1e-6
# Copies are counted from 1 in a byte, and one more must not begin again at 0.
_MOST_IN_A_BYTE = 254
# No board holds everything so many times over.
_OVER = 9.0


@dataclass(slots=True)
class CloserLook:
    """What single boards are known not to hold: asked of finer cells, pattern by pattern.

    may_hold: whether a board may hold so many copies of each part, (T,).
    """

    may_hold: Callable[[int, Floats], bool] = lambda _board, _counts: True
    _refused: dict[int, list[Floats]] = field(default_factory=dict)

    def refuses(self, board: int, counts: Floats) -> bool:
        """Whether the board cannot hold this; remembers it."""
        if self.may_hold(board, counts):
            return False
        self._refused.setdefault(board, []).append(counts)
        return True

    def left(self, board: int, listed: Floats) -> Floats:
        """Return the patterns (P, T) that hold nothing the board is known not to hold."""
        for counts in self._refused.get(board, ()):
            listed = listed[~np.all(listed >= counts, axis=1)]
        return listed


@dataclass(frozen=True, slots=True)
class Maker:
    """Makes layouts of patterns: which ones it could not lay, and where it leaves what it could.

    take: told what each board gives, (B, T), all of it laid out; returns what that is worth, 0
    where something that was to be placed did not come along.
    """

    unlaid: CloserLook
    take: Callable[[Floats], float]


@dataclass(slots=True)
class WholeCopies:
    """Refutes sets of boards; what boards were found to hold serves for the next set, too.

    price: of a copy of each part, such that all that is wanted costs 1: the best so far.
    """

    pricing: Pricing
    size: Floats
    wanted: Floats
    deep: int
    is_over: Callable[[], bool]
    closer: CloserLook
    price: Floats
    maker: "Maker | None" = None
    found: Found = field(init=False)
    laid: list[tuple[int, ...]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin with nothing found."""
        self.found = Found(len(self.pricing.grids))

    def laid_area(self, area: Floats) -> float:
        """Return the area of the boards on which everything was laid out, infinity for none."""
        return min((float(area[list(b)].sum()) for b in self.laid), default=float("inf"))

    def refutes(self, boards: Sequence[int]) -> bool:
        """Whether these boards surely do not hold all parts; False says nothing."""
        price, reach, lowest, hoped = self.price, _FIRST_REACH, float("inf"), 0.0
        for _ in range(_MOST_ROUNDS):
            worths = [self._most(b, price) for b in boards]
            total = float(sum(worths))
            if self.is_over():
                return False
            if total < 1 - _RIGHT:
                self.price = price
                return True
            if total < lowest - _NOTHING:
                if total < hoped + 0.2 * (lowest - hoped):
                    reach = min(reach**2, _MOST_REACH)
                lowest, self.price = total, price
                answer = None
                if total - 1 < _MOST_SLACK:
                    answer = self._answer(boards, price, worths)
                if answer is not None:
                    return answer
            elif lowest - hoped < _RIGHT:
                return False
            else:
                reach = max(reach**0.5, _LEAST_REACH)
            hoped, price = self._cheaper(boards, reach)
        return False

    def _most(self, board: int, price: Floats) -> float:
        """Return what a board's patterns are worth at most; remember the richest."""
        worth, counts = self.pricing.of(board, price, self.deep)
        self.found.add_one(board, np.minimum(counts, self.wanted))
        known = max(float(held @ price) for b, held in self._known() if b == board)
        share, grid = _FIRST_SHARE, self.pricing.grids[board]
        most_there = worth
        while most_there > known and not self.is_over():
            # Few are worth nearly what the board could give with copies that nobody wants.
            least = max(known - _RIGHT, (1 - share) * worth)
            rich = grid.near_best(price, self.wanted, least, self.deep, _FEW)
            if rich is None:
                break
            gain = rich @ price
            for n in np.argsort(-gain, kind="stable")[:_KEPT]:
                self.found.add_one(board, rich[n])
            if len(rich):
                return float(gain.max())
            most_there, share = least, 2 * share
        return most_there

    def _known(self) -> list[tuple[int, Floats]]:
        return list(zip(self.found.board, self.found.counts, strict=True))

    def _cheaper(self, boards: Sequence[int], reach: float) -> tuple[float, Floats]:
        """Return prices at which the patterns seen so far are worth least, and how much that is.

        They lie within reach of the best ones so far.
        """
        own = [(boards.index(b), held) for b, held in self._known() if b in boards]
        counts = np.array([held for _, held in own])
        parts, many = len(self.size), len(boards)
        low = self.price / reach
        high = self.price * reach + _FROM_NOTHING * self.size / float(self.wanted @ self.size)
        at_board = np.eye(many)[[b for b, _ in own]]
        all_parts = np.concatenate((self.wanted, np.zeros(many)))[None]
        rows = np.vstack((np.hstack((counts, -at_board)), all_parts, -all_parts))
        rest = 1 - float(self.wanted @ low)
        answer = most(
            np.concatenate((np.zeros(parts), -np.ones(many))),
            sparse.csr_matrix(rows),
            np.concatenate((-counts @ low, [rest, -rest])),
            np.concatenate((high - low, np.full(many, _OVER))),
        )
        assert answer.value is not None and answer.x is not None
        price = low + answer.x[:parts]
        price[price <= _NOTHING] = 0.0
        return -answer.value, price / float(price @ self.wanted)

    def _answer(self, boards: Sequence[int], price: Floats, worths: Sequence[float]) -> bool | None:
        """Return whether no choice of patterns holds everything; None where they are too many."""
        lists = []
        slack = max(0.0, sum(worths) - 1) + _RIGHT
        for b, worth in zip(boards, worths, strict=True):
            grid = self.pricing.grids[b]
            listed = grid.near_best(price, self.wanted, worth - slack, self.deep, _MANY)
            if listed is None or self.is_over():
                return None
            lists.append(listed)
        while not self.is_over():
            lists = [self.closer.left(b, one) for b, one in zip(boards, lists, strict=True)]
            # Parts that cost nothing were not listed: the others alone must do.
            choice, is_refuted = _choice(lists, self.wanted * (price > 0))
            if choice is None:
                return is_refuted
            if self.deep < self.pricing.levels:
                return False
            refused = [self.closer.refuses(b, one) for b, one in zip(boards, choice, strict=True)]
            if not any(refused):
                self._try_to_lay(boards, lists, price)
                return False
        return None

    def _try_to_lay(self, boards: Sequence[int], lists: Sequence[Floats], price: Floats) -> None:
        """Lay out choices of patterns until one can be had on all boards."""
        if self.maker is None:
            return
        for _ in range(_MOST_LAID):
            lists = [self.maker.unlaid.left(b, one) for b, one in zip(boards, lists, strict=True)]
            choice, _ = _choice(lists, self.wanted * (price > 0))
            if choice is None or self.is_over():
                return
            held = np.zeros((len(self.pricing.grids), len(self.wanted)))
            held[list(boards)] = choice
            held = none_in_excess(held, self.wanted)
            if not any([self.maker.unlaid.refuses(b, held[b]) for b in boards]):
                if self.maker.take(held) > 0:
                    self.laid.append(tuple(boards))
                return


def _choice(lists: Sequence[Floats], wanted: Floats) -> tuple[list[Floats] | None, bool]:
    """Return a pattern of each board that hold all together, or None; True where none do."""
    lists = [fullest(listed) for listed in lists]
    for _ in range(_NARROWINGS):
        if min(len(listed) for listed in lists) == 0:
            return None, True
        lists, is_refuted = _narrowed(lists, wanted, _prices(lists, wanted))
        if is_refuted:
            return None, True
    counts, at_board = _columns(lists)
    taken, is_refuted = any_whole(
        sparse.csr_matrix(np.vstack((-counts.T, at_board))),
        np.concatenate((-wanted, np.ones(len(lists)))),
        np.ones(len(counts)),
        _MOST_NODES,
    )
    if taken is None:
        return None, is_refuted
    return [np.where(own > 0.5, taken, 0.0).round() @ counts for own in at_board], False


def _narrowed(lists: Sequence[Floats], wanted: Floats, price: Floats) -> tuple[list[Floats], bool]:
    """Return each board's patterns (P, T) that may be part of holding all; True where none may."""
    gains = [listed @ price for listed in lists]
    most_of = [float(gain.max()) for gain in gains]
    slack = sum(most_of) - float(wanted @ price)
    kept = [
        listed[gain >= best - max(slack, 0.0) - _RIGHT]
        for listed, gain, best in zip(lists, gains, most_of, strict=True)
    ]
    return kept, slack < -_RIGHT


def _prices(lists: Sequence[Floats], wanted: Floats) -> Floats:
    """Return the parts' prices where fractions of patterns hold what is wanted most often over."""
    counts, at_board = _columns(lists)
    rows = np.vstack((-counts.T, at_board))
    often = np.concatenate((wanted, np.zeros(len(lists))))[:, None]
    answer = most(
        np.concatenate((np.zeros(len(counts)), [1.0])),
        sparse.csr_matrix(np.hstack((rows, often))),
        np.concatenate((np.zeros(len(wanted)), np.ones(len(lists)))),
        np.concatenate((np.ones(len(counts)), [_OVER])),
    )
    return np.maximum(answer.prices[: len(wanted)], 0.0)


def _columns(lists: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Return all patterns (P, T) and which board each is of (B, P)."""
    board = np.repeat(np.arange(len(lists)), [len(listed) for listed in lists])
    return np.vstack(lists), np.eye(len(lists))[:, board]


def none_in_excess(held: Floats, wanted: Floats) -> Floats:
    """Return what boards hold, (B, T), without copies that nobody wants, the last ones left out."""
    before = np.cumsum(held, axis=0) - held
    return np.clip(held, 0.0, np.maximum(wanted - before, 0.0))


def fullest(listed: Floats) -> Floats:
    """Return the patterns (P, T) that no other of them holds with a copy more.

    Where one has more copies than a byte counts, all of them are returned.
    """
    if len(listed) < 2 or listed.max(initial=0.0) > _MOST_IN_A_BYTE:
        return listed
    # A byte a part, none of them 0, which numpy would cut off at the end.
    words = np.ascontiguousarray(listed + 1).astype(np.uint8)
    width = f"S{words.shape[1]}"
    every, is_full = words.view(width).ravel(), np.ones(len(words), np.bool_)
    every = np.sort(every)
    for t in range(words.shape[1]):
        more = words.copy()
        more[:, t] += 1
        asked = more.view(width).ravel()
        at = np.minimum(np.searchsorted(every, asked), len(every) - 1)
        is_full &= every[at] != asked
    return listed[is_full]
