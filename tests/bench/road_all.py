"""The whole road over both renderers together: their boards, one figure.

``python -m tests.bench.road --seeds 7303-7350 --kept ONE`` and ``python -m tests.bench.road_two
--seeds 230-249 --kept TWO`` write the boards that they scanned, with their truths; ``python -m
tests.bench.road_all --first ONE --second TWO`` takes each renderer's boards in lots of their own,
with the parts list, the careful person and the judge of `tests.bench.road`, and pools them.
"""

from __future__ import annotations

import argparse
import pickle
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tests.bench.figures import Bench, Figure, keep
from tests.bench.road import pooled, run_lots, sound_figures

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from scanner.board.board import Board
    from tests.bench.road import Outcome

# So many boards of two renderers are asked for at least.
_BOARDS = 60
_LOT = 12


def all_figures(boards: Mapping[str, int], outcomes: Sequence[Outcome]) -> tuple[Figure, ...]:
    """Return the rows of the pooled road.

    Parameters
    ----------
    boards
        How many boards each renderer gave.
    outcomes
        As `tests.bench.road.run` orders them: unseen, nodded, all-knowing, marked by the map.
    """
    count = sum(boards.values())
    of_each = ", ".join(f"{name} {number}" for name, number in boards.items())
    return (
        Figure("boards", f"{count}: {of_each}", f"{_BOARDS}", count >= _BOARDS),
        *sound_figures(outcomes),
    )


def main() -> None:
    """Run the road on both renderers' boards and print and keep the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=Path, nargs="+", required=True, help="of `road --kept`")
    parser.add_argument(
        "--second", type=Path, nargs="+", required=True, help="of `road_two --kept`"
    )
    parser.add_argument("--lot", type=int, default=_LOT, help="boards a lot, about")
    parser.add_argument("--jobs", type=int, default=1, help="lots side by side")
    chosen = parser.parse_args()
    boards, ways = {}, []
    for name, files in (("first renderer", chosen.first), ("second renderer", chosen.second)):
        # Only what the benches of the road wrote is read here.
        cases: list[tuple[Board, Board]] = [
            case for file in files for case in pickle.loads(file.read_bytes())
        ]
        boards[name] = len(cases)
        truths = {board.id: true for board, true in cases}
        # Boards of both renderers may have one id: each renderer's areas are kept apart.
        lots = run_lots([board for board, _ in cases], truths, chosen.lot, chosen.jobs)
        ways.append([_named(one, name) for one in lots])
    outcomes = [pooled(both) for both in zip(*ways, strict=True)]
    figures = all_figures(boards, outcomes)
    for row in figures:
        print(f"{row.claim}: {row.figure} (bar {row.bar}, met {row.met})")
    for line in outcomes[1].objections:
        print(f"     {line}")
    keep(
        Bench(
            "road-all",
            "From photos to parts, over both renderers",
            f"the boards that both benches of the road scanned, in lots of about {chosen.lot}, one"
            " parts list a lot, parts cut out of the true boards",
            "python -m tests.bench.road_all --first ONE --second TWO"
            + ("" if chosen.lot == _LOT else f" --lot {chosen.lot}"),
            figures,
        )
    )


def _named(outcome: Outcome, name: str) -> Outcome:
    areas = {f"{name} {board}": both for board, both in outcome.of_boards.items()}
    return replace(outcome, of_boards=areas)


if __name__ == "__main__":
    main()
