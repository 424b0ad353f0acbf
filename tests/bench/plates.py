"""Published plates of the folder BOTHFACES_REAL names, as boards and parts of this project."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.placement.parts import Faces, Part
from tests.bench.cutting_jobs import cutting_folder, given_board

if TYPE_CHECKING:
    from scanner.board.board import Board


def rows(name: str, every: int = 1) -> list[dict[str, Any]]:
    """Return the plates of a file that have a three-stage value, every so many of them."""
    path = cutting_folder() / name
    lines = path.read_text().splitlines() if path.exists() else []
    found = [json.loads(line) for line in lines]
    return [row for row in found if row.get("three_stage") or "defects" in row][::every]


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
