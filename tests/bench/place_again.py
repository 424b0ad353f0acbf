"""A medium lot placed again after each of five events: how long it takes, and what stays.

    python -m tests.bench.place again --regime ample --seed 300

Jobs of the folder BOTHFACES_REAL names. The first layout is searched for ``--first`` steps, the
next for ``--seconds`` of CPU time; the time printed is all of it, bound and reasons included.
A part stays where a copy of it lies at the same place of the same board.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from scanner.board.board import Board, End
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.bench.cutting_jobs import cutting_job
from tests.bench.place import CpuSeconds, objective

State = Literal["cut", "spoiled"]


@dataclass(frozen=True, slots=True)
class Lot:
    """What there is and what is wanted, and the layout that held until now."""

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    layout: Layout


def changed(lot: Lot, state: State, which: Callable[[Placement], bool]) -> Lot:
    """Return the lot with the state of some placements changed."""
    placements = tuple(replace(p, state=state) if which(p) else p for p in lot.layout.placements)
    return replace(lot, layout=replace(lot.layout, placements=placements))


def fullest(lot: Lot) -> str:
    """Return the board that carries most parts."""
    return Counter(p.board for p in lot.layout.placements).most_common(1)[0][0]


def board_cut(lot: Lot) -> Lot:
    """All parts of one board are cut."""
    board = fullest(lot)
    return changed(lot, "cut", lambda p: p.board == board)


def part_spoiled(lot: Lot) -> Lot:
    """A board is cut, and one part of it spoiled."""
    lot = board_cut(lot)
    spoiled = next(p for p in lot.layout.placements if p.state == "cut")
    return changed(lot, "spoiled", lambda p: p == spoiled)


def board_added(lot: Lot) -> Lot:
    """A board is bought."""
    more = cutting_job("medium", "scarce", 399, lot.shop.cut_class).boards[0]
    return replace(lot, boards=(*lot.boards, replace(more, id="new")))


def end_trimmed(lot: Lot) -> Lot:
    """An end is cut back by 120 mm."""
    id = fullest(lot)
    boards = tuple(
        replace(b, ends={**b.ends, "A": End(True, 120.0)}) if b.id == id else b for b in lot.boards
    )
    return replace(lot, boards=boards)


def list_changed(lot: Lot) -> Lot:
    """One part more of the first row, one less of the last."""
    first, *rest, last = lot.parts
    parts = [replace(first, quantity=first.quantity + 1), *rest]
    if last.quantity > 1:
        parts.append(replace(last, quantity=last.quantity - 1))
    return replace(lot, parts=tuple(parts))


EVENTS: tuple[Callable[[Lot], Lot], ...] = (
    board_cut,
    part_spoiled,
    board_added,
    end_trimmed,
    list_changed,
)


def places(layout: Layout) -> Counter[tuple[str, str, int, int]]:
    """Count what lies where: part, board, place in tenths of a millimetre."""
    return Counter(
        (p.part, p.board, round(p.x_mm * 10), round(p.y_mm * 10))
        for p in layout.placements
        if p.state != "spoiled"
    )


def main(argv: list[str]) -> None:
    """Print one line an event."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--size", default="medium")
    parser.add_argument("--regimes", default="scarce,ample")
    parser.add_argument("--seed", type=int, default=300)
    parser.add_argument("--first", type=int, default=1500)
    parser.add_argument("--seconds", type=float, default=1.0)
    asked = parser.parse_args(argv)
    for regime in asked.regimes.split(","):
        job = cutting_job(asked.size, regime, asked.seed, "three_stage_trimmed")
        first = solve(job.boards, job.parts, job.shop, Work(asked.first))
        priorities = {part.name: part.priority for part in job.parts}
        for event in EVENTS:
            lot = event(Lot(job.boards, job.parts, job.shop, first))
            begin = time.process_time()
            again = solve(
                lot.boards, lot.parts, lot.shop, CpuSeconds(asked.seconds), 2, keep=lot.layout
            )
            took = time.process_time() - begin
            said = validate_layout(again, lot.boards, lot.parts, lot.shop)
            former, now = places(lot.layout), places(again)
            print(
                f"{asked.size} {regime} seed {asked.seed}, {event.__name__}: {took:.2f} s, "
                f"{sum((former & now).values())} of {sum(former.values())} parts stay, value "
                f"{objective(first, 'scarce', priorities) / 1e6:.3f} -> "
                f"{objective(again, 'scarce', priorities) / 1e6:.3f}, boards "
                f"{first.summary.boards_opened} -> {again.summary.boards_opened}, unplaced "
                f"{sum(u.copies for u in again.unplaced)}, objections {len(said)}",
                flush=True,
            )
