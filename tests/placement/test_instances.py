"""Tiny instances: the solver finds the answer that a person finds by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import TINY, Instance


@pytest.mark.parametrize("cut_class", ["three_stage", "three_stage_trimmed"])
@pytest.mark.parametrize("instance", TINY, ids=lambda instance: instance.name.replace(" ", "_"))
def test_the_solver_finds_the_answer_found_by_hand(instance: Instance, cut_class: str) -> None:
    shop = replace(instance.shop, cut_class=cut_class)
    layout = solve(instance.boards, instance.parts, shop, Work(24))
    assert validate_layout(layout, instance.boards, instance.parts, shop) == ()
    area = {part.name: part.length_mm * part.width_mm for part in instance.parts}
    value = sum(area[p.part] for p in layout.placements)
    assert value == pytest.approx(instance.value)
    assert layout.summary.placed == instance.placed
    assert layout.summary.boards_opened == instance.boards_opened
