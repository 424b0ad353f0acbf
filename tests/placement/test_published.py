"""Published plates (guillotine.jsonl, defects.jsonl beside the cutting jobs; kerf 0, three stages).

Sources of the numbers: Christofides & Whitlock 1977, Beasley 1985, Wang 1983, Oliveira & Ferreira
1990, Fayard, Hifi & Zissimopoulos 1998, Cung, Hifi & Le Cun 2000 and others; plates with defects:
Afsharian, Niknejad & Wascher 2014. The three-stage values were worked out beside the jobs.
"""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

import pytest
from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.placement.parts import Faces, Part
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.bench.cutting_jobs import cutting_folder, exact_shop, given_board

if TYPE_CHECKING:
    from scanner.board.board import Board

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not cutting_folder().is_dir(), reason=f"no cutting instances at {cutting_folder()}"
    ),
]
# Layouts are searched for so many steps; BOTHFACES_PUBLISHED=all takes every plate.
STEPS = 120
EVERY = 1 if os.environ.get("BOTHFACES_PUBLISHED") == "all" else 8


def rows(name: str) -> list[dict[str, Any]]:
    path = cutting_folder() / name
    lines = path.read_text().splitlines() if path.exists() else []
    found = [json.loads(line) for line in lines]
    return [row for row in found if row.get("three_stage") or "defects" in row][::EVERY]


def plate(row: dict[str, Any]) -> tuple[Board, tuple[Part, ...], dict[str, float]]:
    """Return a plate as a board of as many mm, its items as parts, and their values."""
    flaws = tuple(
        Flaw(
            f"F{n}",
            FlawKind.MARKED,
            {1: box(d["x"], d["y"], d["x"] + d["length"], d["y"] + d["width"])},
            state=FlawState.ADDED,
            u_mm=0.0,
        )
        for n, d in enumerate(row.get("defects", ()), 1)
    )
    board = given_board("B1", box(0, 0, row["length"], row["width"]), flaws)
    parts, values = [], {}
    for n, item in enumerate(row["items"]):
        length, width = item["length"], item["width"]
        if length > row["length"] or width > row["width"]:
            continue
        fit = (row["length"] // length) * (row["width"] // width)
        name = f"item {n}"
        values[name] = float(item["value"])
        parts.append(
            Part(
                name,
                fit if item["copies"] is None else item["copies"],
                float(length),
                float(width),
                20.0,
                Faces.BOTH,
                priority=item["value"] / (length * width),
            )
        )
    return board, tuple(parts), values


def reached(row: dict[str, Any]) -> float:
    board, parts, values = plate(row)
    shop = exact_shop(0.0, "three_stage")
    layout = solve((board,), parts, shop, Work(STEPS))
    assert validate_layout(layout, (board,), parts, shop) == ()
    return sum(values[p.part] for p in layout.placements)


@pytest.mark.parametrize("row", rows("guillotine.jsonl"), ids=lambda row: row["name"])
def test_a_published_plate_reaches_its_three_stage_value_within_five_percent(row) -> None:
    best = row["three_stage"]["value"]
    value = reached(row)
    assert value >= 0.95 * best
    if row["three_stage"]["proven"]:
        assert value <= best + 1e-6, "a proven optimum cannot be beaten"


@pytest.mark.parametrize("row", rows("defects.jsonl"), ids=lambda row: row["name"])
def test_a_plate_with_defects_reaches_its_three_stage_optimum_within_five_percent(row) -> None:
    value = reached(row)
    assert value <= row["three_stage_optimum"] + 1e-6, "a proven optimum cannot be beaten"
    assert value >= 0.95 * row["three_stage_optimum"]
