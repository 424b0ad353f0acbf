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

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from scanner.placement.choosing.programme import most
from scanner.placement.proof.closer_look import CloserLook, Maker
from scanner.placement.proof.pricing import Pricing
from scanner.placement.proof.rich_patterns import RIGHT, RichPatterns
from scanner.placement.proof.whole_choice import OVER, Lists
from scanner.placement.wanted.items import Floats

_MOST_ROUNDS = 30
# Patterns listed of a board for the answer.
_MANY = 30_000
# So many rounds more for a set that stands so far, unless one lowers by less than this share what
# the boards are worth too much; as long as none could be listed so many rounds in a row may lower
# it by less than another one before all is listed as it is.
_MORE_ROUNDS, _LITTLE = 5, 0.05
_MOST_SLOW, _SLOW = 3, 0.1
# All patterns are listed where the boards are worth no more than this too much, and again where
# that fell to such a share of what left too many to list. At last more are listed, in more steps.
_MOST_SLACK, _MUCH_LESS = 0.04, 0.6
_MOST_AT_LAST, _WORK_AT_LAST = 100_000, 400_000_000
# That takes so long, and the prices for so many, and is not begun later: nothing breaks it off.
_LONG_S = 6.0
# Where they are too many all the same, only layouts are tried in which no board gives less than its
# best but for such a share of what the boards are worth too much.
_SHARES_OF_SLACK = (0.6, 0.4, 0.3)
# How far from the best prices so far others are sought: so many times as dear or cheap, and for
# parts that cost nothing by a share of their size.
_FIRST_REACH, _LEAST_REACH, _MOST_REACH, _FROM_NOTHING = 1.3, 1.05, 16.0, 0.02
# So many choices for one set of boards are laid out at most: as they are, of what boards surely
# hold, and again as they are.
_FIRST_LAID, _MOST_SURE, _MOST_LAID = 3, 12, 12
# ... and so many where single boards answer quickly.
_MOST_QUICK = 400
# A set stands after so many choices that a closer look was asked of, and so many closest looks,
# about a second each; of these so many are taken at once where each choice was tried in vain.
_MOST_CLOSE, _MOST_CLOSEST, _AT_ONCE = 60, 24, 8
# Where some part costs nothing so much of all prices goes by size alone.
_EVEN = 0.05
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class _Standing:
    """What a set of boards that was not refuted may give at some prices.

    least: what patterns of each board are worth at least, if they may be part of holding all.
    """

    given: Lists
    price: Floats
    least: Mapping[int, float]


@dataclass(slots=True)
class WholeCopies:
    """Refutes sets of boards; what boards were found to hold serves for the next set, too.

    price: of a copy of each part, such that all that is wanted costs 1: the best for the last set
    that was asked for, empty before the first. search: whether a search on some boards alone laid
    out everything there.
    """

    pricing: Pricing
    size: Floats
    wanted: Floats
    deep: int
    is_over: Callable[[], bool]
    closer: CloserLook
    price: Floats = field(default_factory=lambda: np.zeros(0))
    maker: Maker | None = None
    seconds_left: Callable[[], float] = lambda: float("inf")
    search: Callable[[Sequence[int]], bool] = lambda _boards: False
    rich: RichPatterns = field(init=False)
    laid: list[tuple[int, ...]] = field(default_factory=list)
    _open: dict[tuple[int, ...], tuple[_Standing, bool]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with nothing found."""
        self.rich = RichPatterns(self.pricing, self.wanted, self.deep, self.is_over, self.closer)

    def laid_area(self, area: Floats) -> float:
        """Return the area of the boards on which everything was laid out, infinity for none."""
        return min((float(area[list(b)].sum()) for b in self.laid), default=float("inf"))

    def refutes(self, boards: Sequence[int], begin: Floats) -> bool:
        """Whether these boards surely do not hold all parts; False says nothing.

        begin: prices of a copy that are good where nobody counts copies, (T,), to begin with.
        With a maker closer looks are left for later, unless each choice was tried in vain: other
        boards may be laid out more quickly.
        """
        price, reach, lowest, hoped = begin, _FIRST_REACH, float("inf"), 0.0
        standing, more, is_better, listable = None, _MORE_ROUNDS, False, _MOST_SLACK
        slow, before = 0, self.price
        for n in range(_MOST_ROUNDS):
            worths = self.rich.worths(boards, price)
            total = float(sum(worths))
            if self.is_over():
                return False
            if total < 1 - RIGHT:
                self.price = price
                return True
            if total < lowest - _NOTHING:
                # What the first prices show says nothing of how far they may be moved.
                if lowest < OVER and total < hoped + 0.2 * (lowest - hoped):
                    reach = min(reach**2, _MOST_REACH)
                fell = lowest - total
                slow = 0 if fell > _SLOW * (total - 1) else slow + 1
                lowest, self.price, richest = total, price, worths
                is_better = standing is not None
                if is_better and fell < _LITTLE * (total - 1):
                    break
                if not is_better and total - 1 < listable:
                    answer = self._answer(boards, price, worths)
                    if isinstance(answer, bool):
                        return answer
                    standing, listable = answer, _MUCH_LESS * (total - 1)
                    if standing is not None and self.closer.is_quick:
                        # Asking board by board takes less time than better prices.
                        break
            elif lowest - hoped < RIGHT:
                break
            else:
                slow += 1
                reach = max(reach**0.5, _LEAST_REACH)
            more -= standing is not None
            if more < 0 or (slow >= _MOST_SLOW and lowest - 1 < _MOST_SLACK):
                break
            if n == 0 and len(before):
                # What was best for other boards may be better still.
                price = before
                continue
            asked = price
            hoped, price = self._cheaper(boards, reach)
            if reach <= _LEAST_REACH and np.allclose(price, asked, rtol=1e-6, atol=0):
                # Nothing was learnt there, and nothing will be.
                break
        is_last = self.deep == self.pricing.levels
        may_be_listed = standing is None and (is_last or self.closer.is_quick)
        may_be_listed = may_be_listed and self.seconds_left() > _LONG_S
        if is_better or (may_be_listed and lowest - 1 < _MOST_SLACK):
            # Lists are shorter at better prices.
            answer = self._answer(boards, self.price, richest, may_be_listed)
            if isinstance(answer, bool):
                return answer
            standing = answer or standing
        if standing is None:
            is_found = False
            if is_last and self.maker is not None and not self.is_over():
                is_found = self._lay_of_richest(boards, richest)
            # So much to spare finer cells would hardly take away.
            if not is_found and (is_last or lowest - 1 > _MOST_SLACK):
                self._search(boards)
            return False
        if self.maker is None:
            return self._refuted_closely(boards, standing, self.closer.is_quick)
        is_laid = self._is_laid(boards, standing)
        at_once = _MOST_CLOSEST if self.closer.is_quick else _AT_ONCE
        if is_laid is None and self._refuted_closely(boards, standing, True, at_once):
            return True
        if not is_laid:
            self._open[tuple(boards)] = standing, is_laid is None
        return False

    def refutes_closely(self, boards: Sequence[int]) -> bool:
        """Whether closer looks, which take long, refute boards that stood and were not laid out."""
        known = self._open.get(tuple(boards))
        return known is not None and self._refuted_closely(boards, *known)

    def _cheaper(self, boards: Sequence[int], reach: float) -> tuple[float, Floats]:
        """Return prices at which the patterns seen so far are worth least, and how much that is.

        They lie within reach of the best ones so far.
        """
        own = [(boards.index(b), held) for b, held in self.rich.known(boards)]
        parts, many = len(self.size), len(boards)
        # Where all that was found was refused since, any prices will do.
        counts = np.array([held for _, held in own]).reshape(-1, parts)
        low = self.price / reach
        high = self.price * reach + _FROM_NOTHING * self.size / float(self.wanted @ self.size)
        at_board = np.eye(many)[np.array([b for b, _ in own], np.int64)]
        all_parts = np.concatenate((self.wanted, np.zeros(many)))[None]
        rows = np.vstack((np.hstack((counts, -at_board)), all_parts, -all_parts))
        rest = 1 - float(self.wanted @ low)
        answer = most(
            np.concatenate((np.zeros(parts), -np.ones(many))),
            sparse.csr_matrix(rows),
            np.concatenate((-counts @ low, [rest, -rest])),
            np.concatenate((high - low, np.full(many, OVER))),
        )
        assert answer.value is not None and answer.x is not None
        price = low + answer.x[:parts]
        price[price <= _NOTHING] = 0.0
        return -answer.value, price / float(price @ self.wanted)

    def _answer(
        self,
        boards: Sequence[int],
        price: Floats,
        worths: Sequence[float],
        are_many: bool = False,
    ) -> bool | _Standing | None:
        """Return whether no choice of patterns holds everything; None where they are too many.

        On the finest cells, or where single boards answer quickly, what the choice is from.
        are_many: whether many are listed, too.
        """
        if np.any(price[self.wanted > 0] <= 0):
            # Parts that cost nothing are not listed, and boards may have no room left for them.
            price = (1 - _EVEN) * price + _EVEN * self.size / float(self.wanted @ self.size)
            worths = self.rich.worths(boards, price)
        slack = max(0.0, sum(worths) - 1) + RIGHT
        least = dict(zip(boards, (worth - slack for worth in worths), strict=True))
        limits = (_MOST_AT_LAST, _WORK_AT_LAST) if are_many else (_MANY,)
        lists = list[Floats]()
        for b in boards:
            is_late = self.is_over() or (are_many and self.seconds_left() <= _LONG_S)
            listed = None if is_late else self.rich.listed(b, price, least[b], *limits)
            if listed is None:
                return None
            lists.append(listed)
        given = self._given(boards, price, lists)
        if self.is_over():
            return None
        choice, is_refuted = given.choice(seconds=self.seconds_left())
        if choice is None or not (self.closer.is_quick or self.deep == self.pricing.levels):
            return is_refuted
        return _Standing(given, price, least)

    def _is_laid(self, boards: Sequence[int], standing: _Standing) -> bool | None:
        """Whether everything was laid out on these boards; None where no choice is left to try.

        A few choices are tried as they are, then what boards surely hold, then some more.
        """
        assert self.maker is not None
        if self.closer.is_quick:
            return self._may_be_laid(boards, standing.given, _MOST_QUICK)
        if self._may_be_laid(boards, standing.given, _FIRST_LAID):
            return True
        sure = self._listed_by(self.maker.unlaid, boards, standing)
        if sure is not None:
            for b, listed in zip(boards, sure, strict=True):
                self.maker.unlaid.forget(b, listed)
            given = Lists(sure, self.wanted, standing.price)
            if self._may_be_laid(boards, given, _MOST_SURE):
                return True
        return self._may_be_laid(boards, standing.given, _MOST_LAID)

    def _search(self, boards: Sequence[int]) -> None:
        """Note it where a search on these boards alone lays everything out."""
        if not self.is_over() and self.search(boards):
            self.laid.append(tuple(boards))

    def _lay_of_richest(self, boards: Sequence[int], worths: Sequence[float]) -> bool:
        """Try to lay out boards that may give more than can be listed with their richest patterns.

        Nothing follows where that fails.
        """
        if len(boards) < 2:
            return False
        tries = _MOST_QUICK if self.closer.is_quick else _MOST_LAID
        for share in _SHARES_OF_SLACK:
            lists = list[Floats]()
            for b, worth in zip(boards, worths, strict=True):
                least = worth - share * (sum(worths) - 1)
                listed = self.rich.listed(b, self.price, least, _MANY)
                if listed is None or self.is_over():
                    break
                lists.append(self.closer.left(b, listed))
            if self.is_over():
                return False
            if len(lists) == len(boards):
                given = Lists(lists, self.wanted, self.price, is_part=True)
                return bool(self._may_be_laid(boards, given, tries))
        return False

    def _listed_by(
        self, look: CloserLook, boards: Sequence[int], standing: _Standing
    ) -> list[Floats] | None:
        """Return what boards may give by another look; None where something is not known."""
        lists = []
        for b in boards:
            listed = look.listed(b, standing.price, self.wanted, standing.least[b])
            if listed is None or self.is_over():
                return None
            lists.append(listed)
        return lists

    def _given(self, boards: Sequence[int], price: Floats, lists: Sequence[Floats]) -> Lists:
        """Return the lists of boards without what these are known not to hold."""
        own = [self.closer.left(b, one) for b, one in zip(boards, lists, strict=True)]
        return Lists(own, self.wanted, price)

    def _may_be_laid(self, boards: Sequence[int], given: Lists, tries: int) -> bool | None:
        """Whether some choice of patterns was laid out on all boards; None: none is left to try.

        What a closer look refuses on the way is left out of what is given.
        """
        assert self.maker is not None
        sought = given.copy()
        for at, b in enumerate(boards):
            for counts in self.maker.unlaid.refused(b):
                sought.leave_out(at, counts)
        for _ in range(tries):
            choice, is_refuted = sought.choice(True, self.seconds_left())
            if choice is None or self.is_over():
                return None if is_refuted else False
            unlaid = []
            for at, b in enumerate(boards):
                if self.is_over():
                    return False
                if self.maker.unlaid.refuses(b, choice[at]):
                    unlaid.append(at)
            for at in unlaid:
                refused = choice[at]
                if self.closer.refuses(boards[at], refused):
                    refused = self.closer.refused_within(boards[at], refused)
                    given.leave_out(at, refused)
                sought.leave_out(at, refused)
            if not unlaid:
                held = np.zeros((len(self.pricing.grids), len(self.wanted)))
                held[list(boards)] = choice
                if self.maker.take(held) > 0:
                    self.laid.append(tuple(boards))
                return True
        return False

    def _refuted_closely(
        self,
        boards: Sequence[int],
        standing: _Standing,
        are_few: bool,
        most_closest: int = _MOST_CLOSEST,
    ) -> bool:
        """Return whether no choice is left once what a closer look refuses is left out.

        That refutes the set: the lists hold all that a board may give where everything is held,
        each looked at on ground that allows more than there is; a pattern leaves them only where
        such ground refuses what it holds, never because it could not be laid.

        are_few: whether choices are so few that each is asked; else all is listed anew first.
        most_closest: so many closest looks are taken at most.
        """
        given = standing.given
        closer = None if are_few else self._listed_by(self.closer, boards, standing)
        if closer is not None:
            given = self._given(boards, standing.price, closer)
        self.closer.closest_left = most_closest
        is_laid = self.maker.unlaid.may_hold if self.maker else lambda _board, _counts: False
        for _ in range(_MOST_QUICK if self.closer.is_quick else _MOST_CLOSE):
            choice, is_refuted = given.choice(seconds=self.seconds_left())
            if choice is None:
                return is_refuted
            if self.is_over():
                return False
            refused = [at for at, b in enumerate(boards) if self.closer.refuses(b, choice[at])]
            if not refused:
                refused = self.closer.refused_closest(boards, choice, is_laid, self.is_over)
            for at in refused:
                is_quick, b = self.closer.is_quick, boards[at]
                least = self.closer.refused_within(b, choice[at]) if is_quick else choice[at]
                given.leave_out(at, least)
            if not refused:
                return False
        return False
