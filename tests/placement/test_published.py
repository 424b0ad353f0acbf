"""Published plates (guillotine.jsonl, defects.jsonl beside the cutting jobs; kerf 0, three stages).

Sources of the numbers: Christofides & Whitlock 1977, Beasley 1985, Wang 1983, Oliveira & Ferreira
1990, Fayard, Hifi & Zissimopoulos 1998, Cung, Hifi & Le Cun 2000 and others; plates with defects:
Afsharian, Niknejad & Wascher 2014. The three-stage values were worked out beside the jobs.
"""

from __future__ import annotations

import os
from typing import Any

import pytest

from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.bench.cutting_jobs import cutting_folder, exact_shop
from tests.bench.plates import plate, rows

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not cutting_folder().is_dir(), reason=f"no cutting instances at {cutting_folder()}"
    ),
]
# Layouts are searched for so many steps; BOTHFACES_PUBLISHED=all takes every plate.
STEPS = 120
_ALL = os.environ.get("BOTHFACES_PUBLISHED") == "all"
EVERY = 1 if _ALL else 8
# It takes longer than all others of every eighth together.
_LONG = frozenset() if _ALL else frozenset({"gcut8"})
_WHOLE = [row for row in rows("guillotine.jsonl", EVERY) if row["name"] not in _LONG]


def reached(row: dict[str, Any]) -> float:
    board, parts, values = plate(row)
    shop = exact_shop(0.0, "three_stage")
    layout = solve((board,), parts, shop, Work(STEPS))
    assert validate_layout(layout, (board,), parts, shop) == ()
    return sum(values[p.part] for p in layout.placements)


@pytest.mark.parametrize("row", _WHOLE, ids=lambda row: row["name"])
def test_a_published_plate_reaches_its_three_stage_value(row) -> None:
    best = row["three_stage"]["value"]
    value = reached(row)
    assert value >= best - 1e-6
    if row["three_stage"]["proven"]:
        assert value <= best + 1e-6, "a proven optimum cannot be beaten"


@pytest.mark.parametrize("row", rows("defects.jsonl", EVERY), ids=lambda row: row["name"])
def test_a_plate_with_defects_reaches_its_three_stage_optimum(row) -> None:
    value = reached(row)
    assert value <= row["three_stage_optimum"] + 1e-6, "a proven optimum cannot be beaten"
    assert value >= row["three_stage_optimum"] - 1e-6
