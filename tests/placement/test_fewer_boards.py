"""Sets of boards that cannot hold all parts: what refutes one is asked of every other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scanner.placement.choosing.fewer_boards import FewerBoards
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.items import Floats
from tests.instances.tiny import SHOP, board, part


def test_prices_that_refute_a_set_are_asked_of_all_boards_and_allow_the_set_that_is_laid(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cuts: list[tuple[Floats, float, frozenset[int]]] = []
    ask = FewerBoards._cut_of_all

    def noted(self: FewerBoards, price: Floats, worth: Floats, known: frozenset[int]) -> None:
        ask(self, price, worth, known)
        cuts.append((*self._sure_cuts[-1], known))

    monkeypatch.setattr(FewerBoards, "_cut_of_all", noted)
    boards = tuple(board(f"B{n}", 640 + 43 * n, 84 + 7 * (n % 3)) for n in range(6))
    parts = tuple(part(f"p{n}", 2, 170 + 61 * n, 31 + 7 * n) for n in range(4))
    shop = replace(SHOP, cut_class="three_stage")
    layout = solve(boards, parts, shop, Work(60), in_full=False)
    assert validate_layout(layout, boards, parts, shop) == ()
    opened = [
        n for n, one in enumerate(boards) if any(p.board == one.id for p in layout.placements)
    ]
    assert cuts, "no set was refuted"
    for worth, need, known in cuts:
        assert worth[sorted(known)].sum() < need
        assert (worth > 0).all(), "a board was not asked"
        assert worth[opened].sum() >= need * (1 - 1e-9)
