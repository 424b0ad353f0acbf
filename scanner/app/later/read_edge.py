"""The errand "read an edge": thickness at five stations and the grain's slope off a photo."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.later.read_end import TypedSide, typed_side
from scanner.board.edge_facts import EdgeFacts, with_edge
from scanner.errors import BoardError, PhotoError
from scanner.files.board_file import board_json, read_board
from scanner.files.json_text import json_text, rounded
from scanner.files.write import refuse_unwritable, write_files

if TYPE_CHECKING:
    from pathlib import Path

MM_PER_PX = 0.25


@dataclass(frozen=True, slots=True)
class EdgeAnswer:
    """What an edge shows, in words too, and the files written."""

    facts: EdgeFacts
    lines: tuple[str, ...]
    written: tuple[Path, ...]


def read_edge(
    photo: Path,
    typed: TypedSide,
    folder: Path,
    *,
    board: Path | None = None,
    is_confirmed: bool = False,
) -> EdgeAnswer:
    """Read an edge and write ``edge.json``.

    Parameters
    ----------
    board
        board.json; with ``is_confirmed`` it is written into the folder with the edge's thinnest
        place as the board's thickness: what flattening leaves is reckoned from it.

    Raises
    ------
    ScannerError
        Nothing of known size in the photo, or neither arrises nor grain are seen.
    """
    from scanner.vision.second_look.edge import MARGIN_MM, edge_facts

    refuse_unwritable(folder)
    side = typed_side(photo, typed, MM_PER_PX, MARGIN_MM)
    facts = replace(edge_facts(side), is_confirmed=is_confirmed)
    if not facts.stations and facts.slope_deg is None:
        raise PhotoError(
            f"Neither arrises nor grain are seen in {photo.name}",
            "tap the corners of the edge itself, on a photo taken square to it",
        )
    files = {"edge.json": json_text(_record(facts)).encode()}
    if board is not None and is_confirmed:
        if facts.thinnest is None:
            raise BoardError(
                f"no thickness was read off {photo.name}", "measure the board with a caliper"
            )
        known = read_board(board)
        files[f"{known.id}/board.json"] = board_json(with_edge(known, facts)).encode()
    return EdgeAnswer(facts, edge_lines(facts), write_files(folder, files))


def edge_lines(facts: EdgeFacts) -> tuple[str, ...]:
    """Return what an edge shows, a line each."""
    lines = [
        f"thickness at {s.x_mm:.0f} mm from the left: {s.thickness.text()}" for s in facts.stations
    ]
    if facts.slope_deg is not None and facts.steepest_one_in is not None:
        lines.append(
            f"ring lines slope {facts.slope_deg:+.1f} ± {facts.slope_u_deg or 0:.1f} degrees"
            f" through the board: no steeper than 1 in {facts.steepest_one_in:.0f} on this edge"
        )
    lines += [f"note: {doubt}" for doubt in facts.doubts]
    if not facts.is_confirmed:
        lines.append("hold a caliper to one of these places: if it agrees, add --confirm")
    return tuple(lines)


def _record(facts: EdgeFacts) -> dict[str, object]:
    return {
        "format": "edge",
        "version": 1,
        "length": rounded(facts.length_mm),
        "confirmed": facts.is_confirmed,
        "stations": [
            {
                "x": s.x_mm,
                "thickness": rounded(s.thickness.value_mm),
                "u": rounded(s.thickness.u_mm),
            }
            for s in facts.stations
        ],
        "slope_deg": None if facts.slope_deg is None else round(facts.slope_deg, 2),
        "slope_u_deg": None if facts.slope_u_deg is None else round(facts.slope_u_deg, 2),
        "one_in": None if facts.steepest_one_in is None else round(facts.steepest_one_in, 1),
        "doubts": list(facts.doubts),
    }
