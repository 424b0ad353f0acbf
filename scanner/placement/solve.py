"""The front door: `solve` lays all parts on all boards of the lot at once."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from shapely.geometry import box

from scanner.board.board import Board, Face
from scanner.board.measured import Measured
from scanner.errors import PlacementError
from scanner.placement.assemble import assemble, placements_of
from scanner.placement.bars import lines_of
from scanner.placement.bound import CELL
from scanner.placement.fewer_boards import FewerBoards
from scanner.placement.former import former_choice
from scanner.placement.give import find_sizes
from scanner.placement.items import value_mm2
from scanner.placement.kept import kept_placements, taken_stretches
from scanner.placement.layout import Layout, Placement
from scanner.placement.master import Pool
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.patterns import best_pattern
from scanner.placement.problem import problem_of
from scanner.placement.search import Campaign, Choice, Clock
from scanner.placement.set_plan import is_partly_placed, plan_of
from scanner.placement.sets import Manner, MatchedSet, refuse_mixed_sets
from scanner.placement.shop import Shop
from scanner.placement.sizes import fixed_sizes, givings_of, sized
from scanner.placement.spares import with_spares_beside
from scanner.placement.stop import Stop

# Sizes that may give are tried with this many steps a board, within this share of the search.
_TRIAL_STEPS = 6
_SHARE_FOR_SIZES = 0.4
# Spares and fillers only come into what is left over, for this many steps a board.
_STEPS_FOR_THE_REST = 4


@dataclass(frozen=True, slots=True)
class _Task:
    """What does not change during a search."""

    boards: tuple[Board, ...]
    parts: PartsList
    shop: Shop
    seed: int
    kept: tuple[Placement, ...]
    former: Layout | None


def solve(
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
    stop: Stop,
    seed: int = 1,
    keep: Layout | None = None,
    on_better: Callable[[Layout], None] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Layout:
    """Return the best layout found before ``stop``.

    Parameters
    ----------
    boards, parts, shop
        What there is, what is wanted, how the shop cuts.
    stop
        When to end; with ``Work`` the same seed gives the same layout.
    keep
        A former layout: what is locked or cut stays, what was spoiled is asked for again, and what
        was only planned stays where nothing is gained by another place.
    on_better
        Called with every better layout (without reasons, offcuts and bound, which take longer).
    progress
        Called with the share of the search done, 0 to 1.

    Raises
    ------
    PlacementError
        The parts list is empty, a name is used twice, or ``keep`` does not fit boards and parts.
    """
    _refuse(parts)
    warm_up()
    stop.start()
    clock = Clock(_Watched(stop, progress))
    kept = kept_placements(keep, boards, parts)
    task = _sized(_Task(boards, parts, shop, seed, kept, keep), clock)
    smallest = sized(parts, {g: g.least_mm for g in givings_of(parts)})
    parts = task.parts
    main = tuple(part for part in parts if not part.filler)
    placed = list(kept)
    if boards and main:
        found = _main_search(task, main, clock, on_better)
        placed += with_spares_beside(boards, main, found, kept, shop, seed)
    placed += _into_the_rest(task, placed, clock)
    layout = assemble(
        boards, parts, shop, tuple(placed), seed, clock.steps, is_final=True, smallest=smallest
    )
    if progress is not None:
        progress(1.0)
    return layout


def _refuse(parts: PartsList) -> None:
    if not parts:
        raise PlacementError("the parts list has no rows", "add at least one part")
    refuse_mixed_sets(parts)
    names = [part.name for part in parts]
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise PlacementError(
            f"two parts are called {doubled[0]}", "give each row of the parts list its own name"
        )


def _sized(task: _Task, clock: Clock) -> _Task:
    """Return the task with a size for every part whose size may give."""
    givings = givings_of(task.parts)
    if not givings or not task.boards:
        return task

    def trial(parts: PartsList) -> tuple[float, float]:
        few = Clock(_Steps(clock.steps + _TRIAL_STEPS * (len(task.boards) + 1)), clock.steps)
        main = tuple(part for part in parts if not part.filler)
        found = _main_search(replace(task, parts=parts), main, few, None)
        clock.steps = few.steps
        value = {part.name: value_mm2(part) for part in parts}
        opened = {p.board for p in (*found, *task.kept)}
        wood = sum(board.wood(1).area for board in task.boards if board.id in opened)
        return sum(value[p.part] for p in found), -wood

    def is_over() -> bool:
        return clock.is_over() or clock.stop.share(clock.steps) > _SHARE_FOR_SIZES

    settled = fixed_sizes(givings, task.parts, task.kept, task.shop)
    sizes = find_sizes(task.parts, givings, settled, trial, is_over)
    return replace(task, parts=sized(task.parts, sizes))


class _Watched:
    """A stop rule that tells the progress while it is asked."""

    def __init__(self, stop: Stop, progress: Callable[[float], None] | None) -> None:
        self._stop = stop
        self._progress = progress
        self._said = -1.0

    def start(self) -> None:
        self._stop.start()

    def is_over(self, steps: int) -> bool:
        share = self._stop.share(steps)
        if self._progress is not None and share - self._said >= 0.01:
            self._said = share
            self._progress(share)
        return self._stop.is_over(steps)

    def share(self, steps: int) -> float:
        return self._stop.share(steps)

    def seconds_left(self, steps: int) -> float:
        return self._stop.seconds_left(steps)


def _main_search(
    task: _Task,
    main: tuple[Part, ...],
    clock: Clock,
    on_better: Callable[[Layout], None] | None,
) -> list[Placement]:
    """Place the parts asked for: most value first, then fewer boards."""
    kept = Counter(p.part for p in task.kept)
    wanted = {part.name: max(0, part.quantity - kept[part.name]) for part in main}
    taken = taken_stretches(task.kept, task.shop.kerf_mm)
    plan = plan_of(task.boards, main, wanted, task.kept, task.shop, taken)
    if not plan.parts and not plan.sets:
        return []
    problem = problem_of(task.boards, plan.parts, plan.wanted, task.shop, taken, plan.sets)

    def tell(choice: Choice) -> None:
        if on_better is not None:
            placements = (*task.kept, *placements_of(problem, choice, task.kept))
            on_better(
                assemble(
                    task.boards, task.parts, task.shop, placements, task.seed, clock.steps,
                    is_final=False,
                )
            )  # fmt: skip

    pool = Pool(problem.types.value, problem.types.wanted)
    # A part without priority still wants a place.
    pool.value = np.maximum(pool.value, 1e-6)
    every = Campaign(
        problem, pool, frozenset(range(len(task.boards))), clock, np.random.default_rng(task.seed),
        tell, former_choice(problem, task.former, task.kept),
    )  # fmt: skip
    goal = float(problem.types.wanted @ pool.value)
    every.advance(2**62, goal)
    best = every.finest
    if every.best_value >= goal * (1 - 1e-12) and not clock.is_over():
        free = frozenset(b for b, board in enumerate(task.boards) if _has(task.kept, board))
        fewer = FewerBoards(every, np.array([g.area for g in problem.grounds]), free, tell)
        fewer.run(goal)
        best = fewer.finest
    placed = placements_of(problem, best, task.kept)
    half = is_partly_placed(main, (*task.kept, *placed)) if plan.sets and not task.kept else ()
    return [p for p in placed if p.part not in half]


def _has(placements: tuple[Placement, ...], board: Board) -> bool:
    return any(p.board == board.id for p in placements)


def _into_the_rest(task: _Task, placed: list[Placement], clock: Clock) -> list[Placement]:
    """Lay spares and fillers into what is left of the boards that are opened anyway."""
    have = Counter(p.part for p in placed)
    rest = [
        (part, part.quantity + part.spares - have[part.name])
        for part in task.parts
        if part.filler or (part.spares and have[part.name] >= part.quantity)
    ]
    rest = [(part, copies) for part, copies in rest if copies > 0]
    opened = tuple(b for b in task.boards if _has(tuple(placed), b))
    if not rest or not opened:
        return []
    parts = tuple(replace(part, filler=False) for part, _ in rest)
    problem = problem_of(
        opened,
        parts,
        [copies for _, copies in rest],
        task.shop,
        taken_stretches(tuple(placed), task.shop.kerf_mm),
    )
    pool = Pool(np.maximum(problem.types.value, 1e-6), problem.types.wanted)
    few = Clock(_Steps(clock.steps + _STEPS_FOR_THE_REST * len(opened)), clock.steps)
    campaign = Campaign(
        problem, pool, frozenset(range(len(opened))), few, np.random.default_rng(task.seed)
    )
    campaign.advance(2**62, float(problem.types.wanted @ pool.value))
    clock.steps = few.steps
    return placements_of(problem, campaign.finest, tuple(placed))


class _Steps:
    """A short stop rule of its own: the main search may have used up the time."""

    def __init__(self, last: int) -> None:
        self._last = last

    def start(self) -> None:
        """Begin to count."""

    def is_over(self, steps: int) -> bool:
        return steps >= self._last

    def share(self, steps: int) -> float:
        return 0.0

    def seconds_left(self, steps: int) -> float:
        return float("inf")


@cache
def warm_up() -> None:
    """Load the compiled kernels, or compile them (once on a machine, some ten seconds).

    The clock of a search starts after this, so that a fresh machine searches as long as another.
    """
    outline = box(0.0, 0.0, 400.0, 60.0)
    face = Face(outline, looked_over=True)
    board = Board("warm", "any", Measured(25, 0), Measured(400, 0), (), {1: face, 2: face})
    parts = (Part("p", 1, 100.0, 20.0, 15.0, Faces.SHOW),)
    pair = MatchedSet("pair", Manner.BESIDE, parts * 2)
    problem = problem_of((board,), parts, [1], Shop(), sets=(pair,))
    types = problem.types
    for lines in lines_of(board, parts, Shop(), CELL, 1):
        lines.most(types.value[:1])
    best_pattern(problem, 0, types.value, types.wanted, np.random.default_rng(0))
