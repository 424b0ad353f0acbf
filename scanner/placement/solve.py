"""The front door: `solve` lays all parts on all boards of the lot at once."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, partial

import numpy as np
from shapely.geometry import box

from scanner.board.board import Board, Face
from scanner.board.measured import Measured
from scanner.placement.choosing import finer_rows
from scanner.placement.choosing.calm_ends import with_calm_ends
from scanner.placement.choosing.choice import Choice
from scanner.placement.choosing.fewer_boards import FewerBoards
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.patterns import best_pattern
from scanner.placement.choosing.problem import Problem, problem_of
from scanner.placement.choosing.search import Campaign
from scanner.placement.choosing.set_plan import Fits, partly_placed, plan_of
from scanner.placement.finish.as_it_was import filled_up, is_worth_more, still_allowed
from scanner.placement.finish.assemble import assemble, placements_of
from scanner.placement.finish.former import former_choice, with_former_copies
from scanner.placement.finish.gaps import missing_copies, with_the_rest
from scanner.placement.finish.laid_by_proof import can_be_laid, laid_out, laying_of, worth_of
from scanner.placement.finish.last_fill import with_last_fill
from scanner.placement.finish.spares import with_spares_beside
from scanner.placement.giving.give import Score, find_sizes
from scanner.placement.giving.nest_rows import (
    Nestings,
    find_nestings,
    in_nests,
    into_nests,
    is_nest,
    may_nest,
    out_of_nests,
    part_in_nest,
)
from scanner.placement.giving.sizes import fixed_sizes, givings_of, sized
from scanner.placement.giving.stave_counts import counts_fixed, find_counts, first_counts
from scanner.placement.laid.kept import kept_placements, taken_stretches
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Faces, Part, PartsList, refuse_unaskable
from scanner.placement.proof.bars import lines_of
from scanner.placement.proof.bound import CELL
from scanner.placement.proof.laying import Laying
from scanner.placement.proof.proof_time import (
    proof_within,
    share_before_laying,
    with_time_to_prove,
)
from scanner.placement.shop import Shop
from scanner.placement.stop import Clock, Steps, Stop, Watched
from scanner.placement.wanted.beside import held_beside
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS, value_mm2
from scanner.placement.wanted.sets import Manner, MatchedSet, refuse_mixed_sets
from scanner.placement.wanted.staves import (
    Counts,
    in_staves,
    inside,
    is_glued,
    loosest,
    outside,
    panel,
)

# Sizes that may give are tried with this many steps a board, within this share of the search.
_TRIAL_STEPS = 6
_SHARE_FOR_SIZES = 0.4
_SHORT_SEARCH_S = 5.0
# Rows of a millimetre lose up to one at each strip, and some sets of boards hold all parts only
# without that. So up to so many boards a search for value that is stuck goes on with fine rows,
# which take three times as long, and a long one for fewer boards after this share of all its time.
_MOST_ON_FINE_ROWS, _SHARE_BEFORE_FINE_ROWS = 12, 0.15


@dataclass(frozen=True, slots=True)
class _Task:
    """What does not change during a search.

    ``listed`` are the rows of the parts list, ``parts`` those that the search lays out: panels
    that are glued up have one row each, with so many staves as ``counts`` says, and what
    ``nestings`` says is laid out as nests.
    """

    boards: tuple[Board, ...]
    listed: PartsList
    shop: Shop
    seed: int
    kept: tuple[Placement, ...]
    former: Layout | None
    parts: PartsList = ()
    counts: Counts = field(default_factory=dict)
    nestings: Nestings = field(default_factory=dict)


def solve(
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
    stop: Stop,
    seed: int = 1,
    keep: Layout | None = None,
    on_better: Callable[[Layout], None] | None = None,
    progress: Callable[[float], None] | None = None,
    in_full: bool = True,
) -> Layout:
    """Return the best layout found before ``stop``.

    Parameters
    ----------
    boards, parts, shop
        What there is, what is wanted, how the shop cuts.
    stop
        When to end; with ``Work`` the same seed gives the same layout.
    keep
        A former layout: what is locked or cut stays, with what was planned beside it; what was
        spoiled is asked for again; what else was planned stays where nothing is gained by another
        place. The answer is never worth less than what the judge still allows of it.
    on_better
        Called with every better layout (without reasons, offcuts and bound, which take longer).
    progress
        Called with the share of the search done, 0 to 1.
    in_full
        False leaves out reasons, offcuts and bound, which take longer than a short search.

    Raises
    ------
    PlacementError
        The parts list is empty, a name is used twice, or ``keep`` does not fit boards and parts.
    """
    refuse_unaskable(parts)
    refuse_mixed_sets(parts)
    warm_up()
    smallest = loosest(sized(parts, {g: g.least_mm for g in givings_of(parts)}), shop)
    searched = with_time_to_prove(stop, boards, smallest, shop)
    # A person who changed something waits: of a short search the bound takes no second more.
    is_quick = keep is not None and stop.seconds_left(0) < _SHORT_SEARCH_S
    stop.start()
    seconds = stop.seconds_left(0)
    clock = Clock(Watched(searched, progress))
    fixed = kept_placements(keep, boards, parts)
    planned = still_allowed(keep, fixed, boards, parts, shop)
    held = held_beside(
        fixed, planned, {b.id: b for b in boards}, {part.name: part for part in parts}, shop
    )
    kept = (*fixed, *held)
    task = _nested(
        _glued(_sized(_Task(boards, parts, shop, seed, kept, keep), clock), clock), clock
    )
    main = _main_rows(task)
    if clock.is_over():
        # Sizes, staves and nests took all the time there was: nothing laid out would be no answer.
        clock = Clock(Steps(clock.steps + _TRIAL_STEPS * (len(boards) + 1)), clock.steps)
    placed, prices = list(task.kept), dict[str, float]()
    if boards and main:
        is_long = searched is not stop
        until = share_before_laying(seconds) if is_long and _is_plain(task) else 1.0
        found = _main_search(task, main, clock, on_better, prices, is_long, until)
        placed += _named(task, with_spares_beside(boards, main, found, task.kept, shop, seed))
        placed += _singly(task, placed, clock)
    placed = with_last_fill(boards, task.parts, placed, task.kept, task.former, shop)
    placed = with_the_rest(boards, task.parts, placed, task.former, shop, seed, clock)
    matched = [part.name for part in task.parts if part.match]
    placed = with_former_copies(placed, task.former, task.kept, matched)
    listed, named = task.listed, outside(placed, task.counts)
    was = (*fixed, *planned)
    if is_worth_more(was, named, boards, parts, shop):
        listed, named = filled_up(was, kept, keep, boards, parts, shop, clock)
    finish = partial(
        assemble, boards, listed, shop, seed=seed, work=clock.steps, is_final=in_full,
        smallest=smallest, is_quick=is_quick,
        taken=taken_stretches(task.kept, shop, boards, task.former),
    )  # fmt: skip
    proof = proof_within(stop, clock.steps, smallest == parts, any(map(is_glued, parts)), prices)
    if proof is not None:
        proof = replace(proof, laying=_laying(task, placed))
    layout = finish(named, proof=proof)
    if proof is not None and proof.laying is not None and proof.laying.best:
        better = laid_out(proof.laying, boards, task.parts, shop)
        again = finish(better, proof=replace(proof, known=layout.bound))
        if worth_of(again, task.parts) > worth_of(layout, task.parts):
            layout = again
    if progress:
        progress(1.0)
    return layout


def _sized(task: _Task, clock: Clock) -> _Task:
    """Return the task with a size for every part whose size may give."""
    givings = givings_of(task.listed)
    if not givings or not task.boards:
        return task

    def trial(parts: PartsList) -> Score:
        return _score(_in_rows(replace(task, listed=parts), counts), clock)

    counts = first_counts(task.listed, _begun(task), task.shop)
    settled = fixed_sizes(givings, task.listed, task.kept, task.shop)
    sizes = find_sizes(task.listed, givings, settled, trial, partial(_is_late, clock))
    return replace(task, listed=sized(task.listed, sizes))


def _glued(task: _Task, clock: Clock) -> _Task:
    """Return the task with the rows to lay out: panels in as many staves as suits the wood."""

    def trial(counts: Counts) -> Score:
        return _score(_in_rows(task, counts), clock)

    if not task.boards:
        return _in_rows(task, first_counts(task.listed, _begun(task), task.shop))

    def can_hold(part: Part, count: int) -> bool:
        taken = taken_stretches(task.kept, task.shop, task.boards, task.former)
        one = panel(part, count, task.shop)
        return any(Fits((b,), task.shop, taken).places_on(b, one) for b in task.boards)

    is_over = partial(_is_late, clock)
    counts = find_counts(task.listed, _begun(task), task.shop, can_hold, trial, is_over)
    return _in_rows(task, counts)


def _nested(task: _Task, clock: Clock) -> _Task:
    """Return the task with curved parts in nests, where that places more or needs less wood."""
    if not any(may_nest(part) for part in task.parts) or not task.boards:
        return task

    def trial(nestings: Nestings) -> tuple[Score, Counter[str]]:
        tried = replace(task, nestings=nestings)
        found, score = _quickly(tried, clock)
        return score, Counter(part_in_nest(p.part) for p in found if is_nest(p.part))

    is_over = partial(_is_late, clock)
    nestings = find_nestings(task.parts, task.kept, task.boards, task.shop, trial, is_over)
    return replace(task, nestings=nestings)


def _main_rows(task: _Task) -> PartsList:
    return tuple(part for part in in_nests(task.parts, task.nestings) if not part.filler)


def _named(task: _Task, found: Sequence[Placement]) -> list[Placement]:
    """Return placements with the copies of each nest, as the rows before nesting name them."""
    return out_of_nests(found, task.nestings, task.parts, task.shop, task.kept)


def _singly(task: _Task, placed: Sequence[Placement], clock: Clock) -> list[Placement]:
    """Return the copies whose nest found no place, each alone where it finds one."""
    return missing_copies(
        task.boards, [part for part in task.parts if part.name in task.nestings], placed,
        task.former, task.shop, task.seed, clock,
    )  # fmt: skip


def _former_in_nests(task: _Task) -> Layout | None:
    if task.former is None or not task.nestings:
        return task.former
    return replace(task.former, placements=into_nests(task.former.placements, task.nestings))


def _begun(task: _Task) -> Counts:
    return counts_fixed(task.kept, task.former.placements if task.former else ())


def _in_rows(task: _Task, counts: Counts) -> _Task:
    former = task.former
    if former is not None:
        former = replace(former, placements=inside(former.placements, task.listed))
    return replace(
        task,
        parts=in_staves(task.listed, counts, task.shop),
        kept=inside(task.kept, task.listed),
        former=former,
        counts=counts,
    )


def _score(task: _Task, clock: Clock) -> Score:
    """Lay the parts out quickly; return what that is worth."""
    return _quickly(task, clock)[1]


def _quickly(task: _Task, clock: Clock) -> tuple[list[Placement], Score]:
    """Search for a few steps; return what the search placed and what that is worth."""
    few = Clock(Steps(clock.steps + _TRIAL_STEPS * (len(task.boards) + 1)), clock.steps)
    found = _main_search(task, _main_rows(task), few, None)
    every = [*task.kept, *_named(task, found)]
    every += _singly(task, every, few)
    clock.steps = few.steps
    value = {part.name: value_mm2(part) for part in task.parts}
    opened = {p.board for p in every}
    wood = sum(board.wood(1).area for board in task.boards if board.id in opened)
    return found, (sum(value[p.part] for p in every), -wood)


def _is_late(clock: Clock) -> bool:
    return clock.is_over() or clock.stop.share(clock.steps) > _SHARE_FOR_SIZES


def _main_search(
    task: _Task,
    main: tuple[Part, ...],
    clock: Clock,
    on_better: Callable[[Layout], None] | None,
    prices: dict[str, float] | None = None,
    is_long: bool = False,
    until: float = 1.0,
) -> list[Placement]:
    """Place the parts asked for: most value first, then fewer boards.

    ``prices`` takes up what a copy of each part costs in the end, by name. ``is_long``: whether
    there is time for a second look on fine rows; ``until``: the share of all time at which that
    ends, since the proof finds more then.
    """
    kept = Counter(p.part for p in task.kept)
    wanted = {part.name: max(0, part.quantity - kept[part.name]) for part in main}
    taken = taken_stretches(task.kept, task.shop, task.boards, task.former)
    plan = plan_of(task.boards, main, wanted, task.kept, task.shop, taken)
    if not plan.parts and not plan.sets:
        return []
    on_rows = partial(problem_of, task.boards, plan.parts, plan.wanted, task.shop, taken, plan.sets)
    problem = on_rows()

    def tell(problem: Problem, choice: Choice) -> None:
        if on_better is not None:
            found = (*task.kept, *_named(task, placements_of(problem, choice, task.kept)))
            on_better(
                assemble(
                    task.boards, task.listed, task.shop, outside(found, task.counts), task.seed,
                    clock.steps, is_final=False,
                )
            )  # fmt: skip

    pool = Pool.of(problem.types)
    every = Campaign(
        problem, pool, frozenset(range(len(task.boards))), clock, np.random.default_rng(task.seed),
        partial(tell, problem), former_choice(problem, _former_in_nests(task), task.kept),
    )  # fmt: skip
    goal = float(problem.types.wanted @ pool.value)
    on_fine = partial(on_rows, row_heights=FINE_ROW_HEIGHTS)
    may_be_fine = _is_plain(task) and len(task.boards) <= _MOST_ON_FINE_ROWS
    every = finer_rows.search(every, goal, on_fine if may_be_fine else None, tell)
    problem, best = every.problem, every.finest
    if prices is not None and every.prices is not None:
        prices |= {part.name: float(p) for part, p in zip(plan.parts, every.prices, strict=False)}
    if every.best_value >= goal * (1 - 1e-12) and not clock.is_over():
        held = {p.board for p in task.kept}
        free = frozenset(b for b, board in enumerate(task.boards) if board.id in held)
        fewer = FewerBoards(every, problem.area, free, partial(tell, problem))
        is_fine = is_long and len(task.boards) <= _MOST_ON_FINE_ROWS and not every.start
        fewer.run(goal, _SHARE_BEFORE_FINE_ROWS if is_fine else 1.0)
        best = fewer.finest
        if is_fine and not clock.is_over():
            fine = on_fine()
            pool = Pool(pool.value, pool.wanted)
            again = FewerBoards(
                Campaign(fine, pool, every.boards, clock, every.rng, best=dict(best)),
                problem.area, free, partial(tell, fine),
            )  # fmt: skip
            again.run(goal, until)
            if again.wood_mm2 < fewer.wood_mm2:
                problem, best = fine, again.finest
    best = with_calm_ends(problem, best, every.start)
    placed = placements_of(problem, best, task.kept)
    half = partly_placed(main, (*task.kept, *placed), task.kept) if plan.sets else ()
    return [p for p in placed if p.part not in half]


def _laying(task: _Task, placed: Sequence[Placement]) -> Laying | None:
    """Return what lays out the proof's patterns; None where a part is not laid out by itself."""
    if not _is_plain(task):
        return None
    return laying_of(task.boards, task.parts, placed, task.shop, task.seed)


def _is_plain(task: _Task) -> bool:
    """Whether the proof may lay out the parts as they are listed, each by itself."""
    is_new = task.former is None and not task.nestings and not task.kept
    return is_new and task.parts == task.listed and can_be_laid(task.parts)


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
