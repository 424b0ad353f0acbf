"""What shows leaves the ends that nobody looked at, where that costs nothing."""

from __future__ import annotations

from dataclasses import replace

from scanner.board.board import End
from scanner.placement.ground.doubtful import doubtful_span
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, part

UNSEEN = replace(SHOP, end_trim_unseen_mm=50.0)
FRONTS = (part("front", 2, 500, 60), part("cleat", 2, 400, 60, "hidden"))


def exposed(ends: dict[str, End], species: str = "walnut") -> tuple[int, int]:
    """Return how many fronts reach into doubtful ends, and how many parts are placed."""
    one = replace(board("B1", 2000, 60), species=species, ends=ends)
    layout = solve((one,), FRONTS, UNSEEN, Work(30))
    assert validate_layout(layout, (one,), FRONTS, UNSEEN) == ()
    spans = [span for end in "AB" if (span := doubtful_span(one, end, UNSEEN))]
    reach = sum(
        p.part == "front" and any(p.x_mm < b and p.x_mm + p.length_mm > a for a, b in spans)
        for p in layout.placements
    )
    return reach, layout.summary.placed


def test_hidden_parts_lie_at_the_ends_nobody_looked_at() -> None:
    assert exposed({"A": End(), "B": End()}) == (0, 4)
    assert exposed({"A": End(), "B": End(True)}) == (0, 4)


def test_the_order_stays_where_both_ends_were_looked_at() -> None:
    one = board("B1", 2000, 60)
    assert exposed({"A": End(True), "B": End(True)}) == (0, 4)
    seen = solve((one,), FRONTS, SHOP, Work(30))
    assert {p.part for p in seen.placements} == {"front", "cleat"}
