"""The search round the kernels: prices, patterns, a choice of patterns, and ruin and recreate.

1. A first layout board by board, within a fraction of a second.
2. Column generation: prices from the linear master, a new pattern for each board at those prices.
3. Whole-number choice of patterns (set packing).
4. Ruin and recreate: a few boards are laid out anew with what the others leave, at prices shaken a
   little; every pattern found joins the pool, and the choice is made again.

P. C. Gilmore and R. E. Gomory, Operations Research 9 (1961); G. Schrimpf and others, "Record
breaking optimization results using the ruin and recreate principle", Journal of Computational
Physics 159 (2000).
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from itertools import combinations

import numpy as np

from scanner.placement.choosing import rhythm
from scanner.placement.choosing.choice import Choice, as_it_lay, counts_of, stays, value_of, within
from scanner.placement.choosing.dive import dive
from scanner.placement.choosing.first import board_after_board
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.part_of_board import partly_anew
from scanner.placement.choosing.patterns import (
    CLOSE,
    QUICK,
    THOROUGH,
    Look,
    Pattern,
    best_pattern,
    patched,
    widened,
)
from scanner.placement.choosing.problem import Problem
from scanner.placement.stop import Clock
from scanner.placement.wanted.items import Floats, Ints


@dataclass(slots=True)
class Campaign:
    """The search for most value on some of the boards; goes on where it was left.

    ``best`` never holds more copies than wanted; ``finest`` is the same in the shop's cut class.
    Both are those of most worth: their value, and a bonus for what lies where ``start`` had it.
    ``begin``: patterns of some of the boards to begin with, no more copies than wanted.
    """

    problem: Problem
    pool: Pool
    boards: frozenset[int]
    clock: Clock
    rng: np.random.Generator
    on_best: Callable[[Choice], None] = lambda choice: None
    start: Choice = field(default_factory=dict)
    begin: Choice = field(default_factory=dict)
    best: dict[int, Pattern] = field(default_factory=dict)
    best_value: float = -1.0
    best_worth: float = -1.0
    finest: dict[int, Pattern] = field(default_factory=dict)
    finest_value: float = -1.0
    finest_worth: float = -1.0
    linear_value: float = float("inf")
    is_converged: bool = False
    priced: list[tuple[Floats, Floats]] = field(default_factory=list)
    _centre: Floats | None = None
    _centre_bound: float = float("inf")
    _current: dict[int, Pattern] = field(default_factory=dict)
    _linear: tuple[float, Floats, Floats] | None = None
    _known: int = 0
    _since: int = 0
    _rounds: int = 0
    _in_vain: int = 0
    _worth_before: float = -1.0

    def advance(
        self,
        steps: int,
        goal: float = float("inf"),
        only_if_possible: bool = False,
        share: float = 1.0,
        until_stuck: bool = False,
    ) -> None:
        """Search for about so many steps, or until the goal's value is reached or time is up.

        ``only_if_possible``: give up as soon as the prices say that the goal is out of reach;
        ``share``: of all time, at which to end; ``until_stuck``: end where nothing better is found
        any more.
        """
        end = self.clock.steps + steps
        if self.best_value < 0:
            self._first()
        while (
            self.clock.steps < end
            and not self.clock.is_over()
            and self.clock.stop.share(self.clock.steps) < share
            and self.best_value < goal * rhythm.ALMOST
        ):
            if not self.is_converged and self._since == 0:
                self._price_round()
                may_widen = self.is_converged and not self.is_exact
                if only_if_possible and not may_widen and self.falls_short(goal):
                    return
                if self.is_converged or self._rounds % self._rhythm()[0] == 0:
                    self._choose()
                if only_if_possible and self.falls_short(goal):
                    return
                between, first = self._rhythm()
                if self._rounds % between or self._rounds < first:
                    continue
            self._ruin_and_recreate()
            self._since += 1
            if self._since >= max(
                rhythm.RUINS_BETWEEN_CHOICES, rhythm.RUINS_A_BOARD * len(self.boards)
            ):
                self._since = 0
                self._choose()
                self.is_converged = False
                self._in_vain = 0 if self.best_worth > self._worth_before else self._in_vain + 1
                self._worth_before = self.best_worth
                if until_stuck and self.is_stuck:
                    return

    @property
    def is_stuck(self) -> bool:
        """Whether several rounds of ruins, each with its choice, found nothing better."""
        return self._in_vain >= rhythm.IN_VAIN

    @property
    def is_exact(self) -> bool:
        """Whether parts are as wide as their strips, so that prices bound all that can be laid."""
        return self.problem.shop.cut_class == "three_stage"

    def falls_short(self, goal: float) -> bool:
        """Whether prices say that these boards cannot reach the goal's value."""
        is_too_little = self.is_converged and self.linear_value < goal * rhythm.ALMOST
        least = rhythm.SHORT if self.is_exact else rhythm.SHORT_OF_WIDER
        return is_too_little or self._centre_bound < goal * least

    def go_on_from(self, choice: Choice) -> None:
        """Lay boards out anew from this choice on; it is known already, and so are fair prices."""
        self._current, self._rounds = dict(choice), rhythm.FIRST_ROUNDS

    def price_then_choose(self, rounds: int) -> None:
        """Price the boards at most so many times, then choose whole patterns once."""
        for _ in range(rounds):
            if self.is_converged or self.clock.is_over():
                break
            self._price_round()
        self._choose()

    @property
    def prices(self) -> Floats | None:
        """What one copy less to be had of each type would cost, (T,), by the last linear answer."""
        return None if self._linear is None else self.pool.value - self._linear[1]

    def _rhythm(self) -> tuple[int, int]:
        """Return the rounds of pricing between choices, and before the first ruin."""
        if len(self.boards) >= rhythm.MANY_BOARDS:
            return rhythm.MANY_ROUNDS_BETWEEN_CHOICES, rhythm.MANY_FIRST_ROUNDS
        return rhythm.ROUNDS_BETWEEN_CHOICES, rhythm.FIRST_ROUNDS

    def _lay_out(self, board: int, price: Floats, left: Ints, look: Look = THOROUGH) -> Pattern:
        self.clock.steps += 1
        pattern = best_pattern(self.problem, board, price, left, self.rng, look)
        self.pool.add(pattern)
        return pattern

    def _first(self) -> None:
        """Lay out board after board, the largest first; many boards quickly at first."""
        if self.begin:
            self.take(self._begun())
            self._current = dict(self.best)
            # A few boards are laid out anew first: choosing all anew would forget what lies.
            self._since = 1
            return
        is_many = len(self.boards) >= rhythm.MANY_BOARDS
        choice: Choice = self._in_order(QUICK if is_many else THOROUGH, not self.start)
        if self.start:
            mended = self._mended()
            # The search goes on from what lay there before unless that is worth far less.
            if value_of(mended, self.pool.value) >= rhythm.STARTS_ANEW * value_of(
                choice, self.pool.value
            ):
                choice = mended
                # A few boards are laid out anew first: choosing all anew would move everything.
                self._since = 1
        self.take(choice)
        self._current = dict(choice)
        if is_many and not self.start and not self._is_late():
            closer = self._in_order(THOROUGH, is_shown=False)
            if value_of(closer, self.pool.value) > self.best_value:
                self.take(closer)
                self._current = closer

    def _in_order(self, look: Look, is_shown: bool) -> dict[int, Pattern]:
        order = sorted(self.boards, key=lambda b: (-self.problem.area[b], b))
        lay_out = partial(self._lay_out, look=look)
        show = self.on_best if is_shown else lambda _: None
        return board_after_board(self.pool, order, lay_out, self._is_late, show)

    def _begun(self) -> Choice:
        """Return what lies to begin with, with what the other boards and the gaps take up."""
        choice = dict(self.begin)
        for board in sorted(self.boards - self.begin.keys()):
            left = self.pool.wanted - counts_of(choice, len(self.pool.value))
            choice[board] = self._lay_out(board, self.pool.value, left)
        return patched(self.problem, choice, self.pool.wanted, sorted(self.begin))

    def _is_late(self) -> bool:
        """Whether the time is up; steps may run over while a first layout is made."""
        return self.clock.stop.seconds_left(self.clock.steps) <= 0

    def _mended(self) -> dict[int, Pattern]:
        """Return the former layout with what is missing put in, moving as little as may be.

        Into its gaps first, then by laying out one of its boards anew, then two, then on others.
        """
        for pattern in self.start.values():
            self.pool.add(pattern)
        opened = sorted(self.start)
        others = sorted(self.boards - self.start.keys())
        self._current = patched(self.problem, self.start, self.pool.wanted, opened)
        pairs = [list(pair) for pair in combinations(opened, 2)]
        self.rng.shuffle(pairs)
        tries = [[b] for b in opened for _ in range(rhythm.PARTLY_TRIES + 1)]
        for n, ruined in enumerate(tries + pairs[: rhythm.MOST_PAIRS]):
            left = self.pool.wanted - counts_of(self._current, len(self.pool.value))
            if not np.any(left > 0) or self.clock.is_over():
                break
            # Nothing moves without a gain.
            if n < len(tries) and n % (rhythm.PARTLY_TRIES + 1) < rhythm.PARTLY_TRIES:
                self._recreate_partly(ruined[0], -1e-6)
            else:
                self._recreate(ruined, -1e-6)
        return patched(self.problem, self._current, self.pool.wanted, others)

    def take(self, choice: Choice) -> None:
        """Note a choice where it is better; the search itself goes by the exact class alone.

        So what is found for the class that allows narrower parts in a strip is never worse than
        what the exact class would have found with the same seed and work.
        """
        choice = as_it_lay(choice, self.start)
        value, worth = value_of(choice, self.pool.value), self._worth(choice)
        if worth > self.best_worth:
            self.best, self.best_value, self.best_worth = dict(choice), value, worth
        if (
            self.problem.shop.cut_class != "three_stage"
            and value > rhythm.WORTH_WIDENING * self.best_value
        ):
            choice = widened(self.problem, choice, self.pool.wanted)
            worth = self._worth(choice)
        if worth > self.finest_worth:
            self.finest, self.finest_worth = dict(choice), worth
            self.finest_value = value_of(choice, self.pool.value)
            self.on_best(choice)

    def _worth(self, choice: Choice) -> float:
        return value_of(choice, self.pool.value) + sum(map(self._bonus, choice.values()))

    def _bonus(self, pattern: Pattern) -> float:
        return rhythm.STAYS * stays(pattern, self.start, self.pool.value) if self.start else 0.0

    def _price_round(self) -> None:
        """Price the parts by the linear master, and find a new pattern for every board."""
        _, duals, _ = self._solve_linear()
        centre = duals if self._centre is None else self._centre
        is_pure = self._rounds % rhythm.PURE_EVERY == rhythm.PURE_EVERY - 1
        self._rounds += 1
        price = duals if is_pure else rhythm.SMOOTHING * centre + (1 - rhythm.SMOOTHING) * duals
        is_new = self.price_round_at(price)
        if not is_new and not is_pure and not self.clock.is_over():
            is_new = self.price_round_at(duals)
        if not is_new:
            self.is_converged = True

    def price_round_at(self, price: Floats) -> bool:
        """Find a new pattern for every board at these prices; False where none was new."""
        worth = np.zeros(len(self.problem.boards))
        is_new = False
        known = len(self.pool.patterns)
        for board in sorted(self.boards):
            if self.clock.is_over():
                return is_new
            worth[board] = self.worth_at(board, price)
        is_new = len(self.pool.patterns) > known
        bound = float(self.pool.wanted @ (self.pool.value - price) + worth.sum())
        if bound < self._centre_bound:
            self._centre, self._centre_bound = price, bound
        self.priced.append((price, worth))
        return is_new

    def worth_at(self, board: int, price: Floats) -> float:
        """Return what the best pattern found of a board is worth at these prices."""
        return float(self._lay_out(board, price, self.pool.wanted).counts @ price)

    def _solve_linear(self) -> tuple[float, Floats, Floats]:
        if self._linear is None or self._known != len(self.pool.patterns):
            self._linear = self.pool.linear(self.boards)
            self._known = len(self.pool.patterns)
            self.linear_value = self._linear[0]
        return self._linear

    def _choose(self) -> None:
        """Choose whole patterns anew from all that are known."""
        if self.clock.is_over():
            return
        if len(self.boards) >= rhythm.MANY_BOARDS:
            choice = dive(self.pool, self.boards, self._lay_out, self.clock.is_over)
            if choice:
                self.take(choice)
                self._current = dict(self.best)
            return
        chosen = self.pool.whole(
            self.boards, self._solve_linear(), self.best_worth, rhythm.MIP_NODES,
            self.clock.seconds_for(rhythm.MIP_SECONDS), self._bonus if self.start else None,
        )  # fmt: skip
        if not chosen:
            return
        choice = within(chosen, self.pool.wanted)
        self.take(choice)
        self._current = dict(choice)

    def _ruin_and_recreate(self) -> None:
        """Lay out a few boards anew with what the others leave; keep it unless it is worse."""
        boards = sorted(self.boards)
        many = min(len(boards), int(self.rng.choice([1, 2, 3, 4], p=rhythm.RUINED)))
        ruined = [boards[i] for i in self.rng.choice(len(boards), many, replace=False)]
        worse = (
            rhythm.WORSE_ALONE
            if len(boards) == 1
            else min(rhythm.WORSE_IN_ALL, rhythm.WORSE_A_BOARD / len(boards))
        )
        allowed = max(self.best_value, 0.0) * worse * self.rng.random() ** 4
        if many == 1 and ruined[0] in self._current and self.rng.random() < rhythm.PARTLY:
            choice = self._recreate_partly(ruined[0], allowed)
        else:
            choice = self._recreate(ruined, allowed)
        if choice:
            self.take(choice)
        elif self.rng.random() < 0.01:
            self._current = dict(self.best)

    def _recreate_partly(self, board: int, allowed: float) -> dict[int, Pattern]:
        """Lay out some sections of a board anew, else as ``_recreate``."""
        before = self._current[board]
        if not len(before.places):
            return {}
        left = self.pool.wanted - counts_of(self._current, len(self.pool.value)) + before.counts
        shake = rhythm.SHAKE if self.rng.random() < 0.5 else 0.0
        price = self.pool.value * np.maximum(
            0.05, 1 + shake * self.rng.standard_normal(len(self.pool.value))
        )
        self.clock.steps += 1
        pattern = partly_anew(self.problem, before, price, left, self.rng, not self.start)
        self.pool.add(pattern)
        gain = float((pattern.counts - before.counts) @ self.pool.value)
        if gain + self._bonus(pattern) - self._bonus(before) < -allowed:
            return {}
        self._current = {**self._current, board: pattern}
        return self._current

    def _recreate(self, ruined: list[int], allowed: float) -> dict[int, Pattern]:
        """Lay out these boards anew; keep that, and return it, unless it is worse than allowed."""
        many = len(ruined)
        choice = {b: p for b, p in self._current.items() if b not in ruined}
        left = self.pool.wanted - counts_of(choice, len(self.pool.value))
        before = self._worth({b: self._current[b] for b in ruined if b in self._current})
        for n, board in enumerate(ruined):
            is_last = n == len(ruined) - 1
            shake = 0.0 if is_last and many > 1 else rhythm.SHAKE
            price = self.pool.value * np.maximum(
                0.05, 1 + shake * self.rng.standard_normal(len(self.pool.value))
            )
            if not is_last and self._linear is not None and self.rng.random() < 0.5:
                # Leave the next board what is scarce: half the price a spare copy would fetch.
                price = price - 0.5 * self.rng.random() * (self.pool.value - self._linear[1])
            look = CLOSE if self.rng.random() < rhythm.CLOSE_RUINS else THOROUGH
            choice[board] = self._lay_out(board, price, left, look)
            left = left - choice[board].counts
            if self.clock.is_over():
                break
        after = self._worth({b: choice[b] for b in ruined if b in choice})
        if after < before - allowed:
            return {}
        self._current = choice
        return choice
