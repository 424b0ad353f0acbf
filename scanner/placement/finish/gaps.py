"""Spares and fillers: into what is left over on boards that are opened anyway."""

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from scanner.board.board import Board
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.problem import Problem, problem_of
from scanner.placement.choosing.search import Campaign
from scanner.placement.finish.assemble import placements_of
from scanner.placement.finish.spares import on_boards_of_the_set, without_those_that_break_a_set
from scanner.placement.laid.kept import taken_stretches
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.stop import Clock, Steps

# What comes into gaps is searched for this many steps a board.
_STEPS = 4


def with_the_rest(
    boards: Sequence[Board],
    parts: PartsList,
    placed: Sequence[Placement],
    former: Layout | None,
    shop: Shop,
    seed: int,
    clock: Clock,
) -> list[Placement]:
    """Return the placements with spares and fillers in what they leave of the boards opened.

    Spares that would break their set give their wood up to what else finds room there. ``former``:
    the layout of which something is cut.
    """
    found = list(placed)
    refused: frozenset[str] = frozenset()
    while True:
        opened = tuple(board for board in boards if any(p.board == board.id for p in found))
        rest = [] if not opened else _still_to_lay(parts, found, opened, refused)
        if not rest:
            return found
        taken = taken_stretches(tuple(found), shop, boards, former)
        copies = [n for _, n in rest]
        problem = problem_of(opened, [part for part, _ in rest], copies, shop, taken)
        more = _quickly_laid(problem, tuple(found), seed, clock)
        before = Counter(p.part for p in found)
        found = without_those_that_break_a_set(more, found, parts, boards, shop)
        stay = Counter(p.part for p in found) - before
        given_up = (Counter(p.part for p in more) - stay).keys() - refused
        if not given_up:
            return found
        refused |= given_up


def missing_copies(
    boards: Sequence[Board],
    parts: Sequence[Part],
    placed: Sequence[Placement],
    former: Layout | None,
    shop: Shop,
    seed: int,
    clock: Clock,
) -> list[Placement]:
    """Return the copies of these parts that are not ``placed`` yet, where boards have room."""
    have = Counter(p.part for p in placed)
    rest = [part for part in parts if have[part.name] < part.quantity]
    if not rest:
        return []
    copies = [part.quantity - have[part.name] for part in rest]
    taken = taken_stretches(tuple(placed), shop, boards, former)
    problem = problem_of(boards, rest, copies, shop, taken)
    return _quickly_laid(problem, tuple(placed), seed, clock)


def _quickly_laid(
    problem: Problem, kept: tuple[Placement, ...], seed: int, clock: Clock
) -> list[Placement]:
    """Return what few steps of search lay; the clock counts them."""
    pool = Pool.of(problem.types)
    every = frozenset(range(len(problem.boards)))
    few = Clock(Steps(clock.steps + _STEPS * len(every)), clock.steps)
    campaign = Campaign(problem, pool, every, few, np.random.default_rng(seed))
    campaign.advance(2**62, float(problem.types.wanted @ pool.value))
    clock.steps = few.steps
    return placements_of(problem, campaign.finest, kept)


def _still_to_lay(
    parts: PartsList,
    placed: Sequence[Placement],
    opened: Sequence[Board],
    refused: Collection[str],
) -> list[tuple[Part, int]]:
    """Return fillers and spares with their copies, each bound to boards it may lie on."""
    have = Counter(p.part for p in placed)
    rest = []
    for part in parts:
        is_spare = part.spares and have[part.name] >= part.quantity
        copies = part.quantity + part.spares - have[part.name]
        if part.name in refused or copies <= 0 or not (part.filler or is_spare):
            continue
        bound = on_boards_of_the_set(part, parts, placed, opened)
        if bound is not None:
            rest.append((replace(bound, filler=False), copies))
    return rest
