"""The whole road: from photos to parts, judged on the true boards.

``make bench-road`` takes the boards that ``make bench-floor`` scanned with the strip (``--way
two``: those that ``tests.bench.floor --ways two`` scanned from two photos a face, as is
recommended), places one parts list on all of them, cuts the parts out of the true boards where the
layout says, and counts those that come out whole and without a forbidden flaw: first while nobody
has looked at anything, then after a careful person has nodded (strikes what is none, keeps what is
one, draws what was missed and can be seen). Beside it stands the yield of the same search on the
true boards themselves, with the same saw and trims and no uncertainty.
"""

from __future__ import annotations

import argparse
import json
import pickle
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from scanner.board.board import Board, End, Face, Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.files.board_file import read_board
from scanner.geometry.polygons import largest_polygon, polygon_of
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.ground import ground_objections
from tests.bench.by_the_map import as_pictured, marked
from tests.bench.careful import nodded
from tests.bench.figures import (
    Bench,
    Figure,
    keep,
    percent_text,
    ratio_interval,
    share_interval,
    share_text,
)
from tests.bench.flaws import LABEL_RIM_MM
from tests.bench.floor import OUT as FLOOR
from tests.bench.floor import SEEDS, scan_one
from tests.bench.many import in_order
from tests.render.scene import draw_board
from tests.render.shape import Shape
from tests.render.truth import BoardTruth, board_truth

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

# Search steps a board: enough that more changes little, and the same on every machine.
_STEPS_A_BOARD = 60
# Boards a lot, about: what a shop buys for one job.
_LOT = 12
# Two rings of a truth leave a hairline this wide between wane and flat face.
_HAIR_MM = 0.6
# So much of a true flaw lies outside of the first renderer's outline of it, all round: a hole of
# 2 mm was drawn as 1.75, which the careful person does not see. Wild grain is outlined on the
# same grid as stains.
RIM_MM = LABEL_RIM_MM | {"wild_grain": LABEL_RIM_MM["stain"]}
# A way's name among the figures, what its title adds, and its option.
_TOLD = {
    "strip": ("road", "", ""),
    "two": ("road-two-photos", ", two photos a face", " --way two"),
}
BY_MAP = "nodded, marked by the map"
_EXACT = Shop(sawing_tolerance_mm=0.0, end_trim_seen_mm=0.0, end_trim_unseen_mm=0.0)

# All of one priority: the search then wants the area of parts that the yield measures.
PARTS: PartsList = (
    Part("seat slat", 24, 1100.0, 92.0, 19.0, Faces.BOTH),
    Part("apron", 24, 980.0, 76.0, 19.0, Faces.SHOW),
    Part("leg", 40, 430.0, 70.0, 19.0, Faces.BOTH),
    Part("shelf", 12, 760.0, 146.0, 19.0, Faces.SHOW),
    Part("stretcher", 24, 620.0, 60.0, 19.0, Faces.SOUND),
    Part("cleat", 60, 280.0, 44.0, 19.0, Faces.HIDDEN),
)


@dataclass(frozen=True)
class Outcome:
    """One way of placing, judged on the true boards.

    ``of_boards``: finished area of sound parts and gross area of each board opened, mm2.
    """

    way: str
    placed: int
    sound: int
    whole: int
    yield_sound: float
    objections: tuple[str, ...]
    of_boards: dict[str, tuple[float, float]]


def true_board(
    truth: BoardTruth, like: Board, rim_mm: Mapping[str, float] = MappingProxyType({})
) -> Board:
    """Return the board as it really is: no uncertainty, every flaw known.

    ``rim_mm``: by kind, how much further than its outline in the truth a flaw reaches.
    """
    flaws = []
    for number, flaw in enumerate(truth.flaws, 1):
        outlines = {
            int(face): largest_polygon(
                unary_union([polygon_of(ring) for ring in rings]).buffer(rim_mm.get(flaw.kind, 0.0))
            )
            for face, rings in flaw.outlines.items()
        }
        if flaw.kind == "wane":
            outlines = {
                face: _up_to(polygon_of(truth.outline[str(face)]), shape)
                for face, shape in outlines.items()
            }
        outlines = {face: shape for face, shape in outlines.items() if not shape.is_empty}
        if outlines:
            flaws.append(
                Flaw(
                    f"F{number}",
                    FlawKind(flaw.kind),
                    outlines,
                    sound=flaw.sound,
                    is_through=flaw.through,
                    reach_mm=flaw.reach,
                    state=FlawState.ADDED,
                    u_mm=0.0,
                )
            )
    faces = {n: Face(polygon_of(truth.outline[str(n)]), looked_over=True) for n in (1, 2)}
    return Board(
        id=like.id,
        species=truth.species,
        thickness=Measured(truth.thickness, 0.0),
        length=Measured(truth.length, 0.0),
        widths=tuple(Station(x, Measured(width, 0.0)) for x, width in truth.widths),
        faces=faces,
        flaws=tuple(flaws),
        ends={"A": End(looked_over=True), "B": End(looked_over=True)},
        outline_u_mm=0.0,
        turned=like.turned,
    )


def _up_to(flat: Polygon, wane: Polygon) -> Polygon:
    """Return wane without the hairline that two rings leave between it and the flat face."""
    closed = unary_union([flat, wane]).buffer(_HAIR_MM).buffer(-_HAIR_MM)
    return largest_polygon(closed.difference(flat))


def judge(
    way: str, layout: Layout, truths: dict[str, Board], by_map: dict[str, Board] | None = None
) -> Outcome:
    """Cut the parts out of the true boards and look at each.

    Where layout.json says, in the board's frame; or, with the boards that were planned on, where
    the board map has a person mark them: along from the hooked corner, across from the far edge.
    """
    parts = {part.name: part for part in PARTS}
    sound = whole = 0
    area = dict.fromkeys((p.board for p in layout.placements), 0.0)
    objections: list[str] = []
    for index, placement in enumerate(layout.placements):
        part, board = parts[placement.part], truths[placement.board]
        if by_map is not None:
            piece = next(piece for piece in layout.pieces if index in piece.placements)
            placement = marked(placement, piece, by_map[placement.board], board)
        found = list(ground_objections(placement, part, board, _EXACT))
        if not found:
            sound += 1
            area[placement.board] += part.length_mm * part.width_mm
        else:
            objections.append(f"{placement.board} {placement.part}: {found[0].words}")
        whole += _is_whole(placement, part, board)
    of_boards = {id: (mm2, truths[id].faces[1].outline.area) for id, mm2 in area.items()}
    gross = sum(board for _, board in of_boards.values())
    share = sum(area.values()) / gross if gross else 0.0
    placed = len(layout.placements)
    return Outcome(way, placed, sound, whole, share, tuple(objections), of_boards)


def yield_figure(looked: Outcome, known: Outcome) -> Figure:
    """Return the yield against the all-knowing planner's; some dozen boards tell it roughly."""
    nothing = (0.0, 0.0)
    table = [
        (*looked.of_boards.get(id, nothing), *known.of_boards.get(id, nothing))
        for id in sorted({*looked.of_boards, *known.of_boards})
    ]
    share, low, high = ratio_interval(np.array(table))
    return Figure(
        "yield of sound parts against a planner who knows all",
        f"{percent_text(100 * share, 1)} % ({100 * low:.1f} to {100 * high:.1f})",
        "95 %",
        share >= 0.95,
        by_chance=share < 0.95 <= high,
    )


def _is_whole(placement: Placement, part: Part, board: Board) -> bool:
    """Whether the finished size, in the middle of the rough place, is all wood on both faces."""
    dx, dy = (placement.length_mm - part.length_mm) / 2, (placement.width_mm - part.width_mm) / 2
    x, y = placement.x_mm + dx, placement.y_mm + dy
    finished = box(x, y, x + part.length_mm, y + part.width_mm)
    return all(_wood(board, face).buffer(0.05).covers(finished) for face in (1, 2))


def _wood(board: Board, face: int) -> Polygon:
    return board.wood(face)


def boards_of_floor(seeds: range, way: str = "strip") -> tuple[list[Board], dict[str, Board]]:
    """Return the scanned boards of the floor bench and the true ones by id.

    ``way``: strip, two (two photos a face) or both (the boards' lengths taped too; scanned here
    where they were not yet).
    """
    scanned, truths = [], {}
    for seed in seeds:
        file = FLOOR / f"{seed}-{way}" / "board.json"
        if way == "both" and not file.is_file():
            scan_one(seed, way)
        if not file.is_file():
            continue
        board = read_board(file)
        scanned.append(board)
        truths[board.id] = true_board(board_truth(Shape(draw_board(seed))), board, RIM_MM)
    return scanned, truths


def run(scanned: list[Board], truths: dict[str, Board]) -> list[Outcome]:
    """Place, nod, place again, and place on the true boards; judge each."""
    shop = Shop()
    work = Work(_STEPS_A_BOARD * max(len(scanned), 1))
    looked = [nodded(board, truths[board.id]) for board in scanned]
    # The all-knowing planner has the same saw, trims and tolerance, and no U.
    known = [truths[board.id] for board in scanned]
    outcomes = []
    for way, boards in (("unseen", scanned), ("nodded", looked), ("all-knowing", known)):
        layout = solve(tuple(boards), PARTS, shop, work)
        outcomes.append(judge(way, layout, truths))
    return [*outcomes, by_the_map(scanned, truths, work)]


def _run_lot(lot: list[tuple[Board, Board]]) -> list[Outcome]:
    return run([board for board, _ in lot], {board.id: truth for board, truth in lot})


def run_lots(
    scanned: list[Board], truths: dict[str, Board], lot_size: int, jobs: int
) -> list[Outcome]:
    """Run the road on lots of about ``lot_size`` boards, each with the whole parts list; pooled."""
    count = max(round(len(scanned) / lot_size), 1)
    lots = [[(b, truths[b.id]) for b in scanned[index::count]] for index in range(count)]
    return [pooled(ways) for ways in zip(*in_order(_run_lot, lots, jobs), strict=True)]


def pooled(outcomes: Sequence[Outcome]) -> Outcome:
    """Return the outcomes of lots without a board in common as one."""
    of_boards = {id: areas for one in outcomes for id, areas in one.of_boards.items()}
    gross = sum(board for _, board in of_boards.values())
    return Outcome(
        outcomes[0].way,
        sum(one.placed for one in outcomes),
        sum(one.sound for one in outcomes),
        sum(one.whole for one in outcomes),
        sum(mm2 for mm2, _ in of_boards.values()) / gross if gross else 0.0,
        tuple(line for one in outcomes for line in one.objections),
        of_boards,
    )


def by_the_map(scanned: list[Board], truths: dict[str, Board], work: Work) -> Outcome:
    """Nod on the pictures, place, and mark the true boards as the maps say (see `by_the_map`)."""
    looked = [nodded(board, as_pictured(truths[board.id], board)) for board in scanned]
    layout = solve(tuple(looked), PARTS, Shop(), work)
    return judge(BY_MAP, layout, truths, {board.id: board for board in looked})


def sound_figures(outcomes: Sequence[Outcome]) -> tuple[Figure, ...]:
    """Return what every road is judged by; outcomes in the order in which `run` gives them."""
    unseen, nodded, known, by_map = outcomes
    return (
        Figure("sound before anybody looked", share_text(unseen.sound, unseen.placed)),
        Figure(
            "sound after a careful person's nods",
            share_text(nodded.sound, nodded.placed),
            "99 %",
            nodded.sound >= 0.99 * nodded.placed,
        ),
        Figure(
            "sound where they are marked from corner and far edge, as the board map says",
            share_text(by_map.sound, by_map.placed),
        ),
        yield_figure(nodded, known),
    )


def _bench(outcomes: list[Outcome], seeds: str, way: str, lot: int) -> Bench:
    nodded = outcomes[1]
    name, told, option = _TOLD[way]
    lots = "" if lot == _LOT else f" --lot {lot}"
    return Bench(
        name,
        f"From photos to parts{told}",
        f"the boards of the floor bench in lots of about {lot}, one parts list a lot, parts cut out"
        " of the true boards",
        f"python -m tests.bench.road --seeds {seeds}{lots}{option}",
        (
            Figure(
                "parts whole",
                share_text(nodded.whole, nodded.placed),
                met=nodded.whole == nodded.placed,
            ),
            *sound_figures(outcomes),
        ),
    )


def main() -> None:
    """Run the bench and print the table."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--seeds", default=f"{SEEDS.start}-{SEEDS.stop - 1}")
    arguments.add_argument("--way", default="strip", choices=("strip", "two", "both"))
    arguments.add_argument("--kept", type=Path, help="write scanned and true boards here")
    arguments.add_argument("--cases", type=Path, nargs="+", help="boards that --kept wrote instead")
    arguments.add_argument("--lot", type=int, default=_LOT, help="boards a lot, about")
    arguments.add_argument("--jobs", type=int, default=1, help="lots side by side")
    chosen = arguments.parse_args()
    low, high = (int(s) for s in chosen.seeds.split("-"))
    if chosen.cases:
        cases = [case for file in chosen.cases for case in pickle.loads(file.read_bytes())]
        scanned, truths = [board for board, _ in cases], {board.id: true for board, true in cases}
    else:
        scanned, truths = boards_of_floor(range(low, high + 1), chosen.way)
    if chosen.kept:
        chosen.kept.write_bytes(pickle.dumps([(board, truths[board.id]) for board in scanned]))
    outcomes = run_lots(scanned, truths, chosen.lot, chosen.jobs)
    best = next(o for o in outcomes if o.way == "all-knowing").yield_sound
    for o in outcomes:
        a, b = share_interval(o.sound, o.placed)
        print(
            f"{o.way:24} placed {o.placed:3}, sound {o.sound:3} ({o.sound / max(o.placed, 1):.1%},"
            f" 95 % {a:.1%} to {b:.1%}), whole {o.whole:3}, yield of sound parts"
            f" {o.yield_sound:.3f} ({o.yield_sound / best if best else 0:.1%} of all-knowing)"
        )
        for line in o.objections[:12]:
            print(f"     {line}")
    Path("out/bench").mkdir(parents=True, exist_ok=True)
    if chosen.way in _TOLD:
        keep(_bench(outcomes, f"{low}-{high}", chosen.way, chosen.lot))
    Path(f"out/bench/road-{chosen.way}.json").write_text(
        json.dumps([vars(o) for o in outcomes], indent=1)
    )


if __name__ == "__main__":
    main()
