"""Rows that zones block: where wane ends exactly between two rows."""

import pytest
from shapely.geometry import box

from scanner.placement.ground.relaxed_ground import relaxed_tables
from scanner.placement.ground.row_tables import row_tables
from scanner.placement.rules.ground import Where, Zone

_KINDS = (Where.ALL, Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE, Where.RIM)


@pytest.mark.parametrize(
    ("where", "is_blocked"),
    [(Where.ALL, False), (Where.NOT_LOW_EDGE, True), (Where.NOT_HIGH_EDGE, True)],
)
def test_wane_that_touches_a_row_blocks_it_and_a_flaw_does_not(
    where: Where, is_blocked: bool
) -> None:
    # Rows of 0.2 mm: row 141 begins at 28.2 mm, where the ground ends.
    zone = Zone(box(100, 0, 200, 28.2), "wane F1", where)
    _, number = row_tables((zone,), 0, 2, 200, ())
    of_one_row = number[_KINDS.index(where), 0]
    assert of_one_row[140] == 1
    assert (of_one_row[141] > 0) == is_blocked


@pytest.mark.parametrize("where", [Where.ALL, Where.NOT_LOW_EDGE, Where.NOT_HIGH_EDGE])
def test_for_a_bound_no_ground_is_larger_than_it_is(where: Where) -> None:
    zone = Zone(box(100, 0, 200, 28.2), "wane F1", where)
    _, number = relaxed_tables((zone,), 0, 2, 200)
    of_one_row = number[_KINDS.index(where), 0]
    assert of_one_row[140] == 1
    assert of_one_row[141] == 0
