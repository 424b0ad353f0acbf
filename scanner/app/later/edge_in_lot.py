"""The errand "read an edge" in a lot: noted, and on the board after a nod."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.lot.later_photo import in_plain_words, keep_made, keep_photo, kept_note, note
from scanner.app.lot.open_lot import new_stamp
from scanner.board.edge_facts import EdgeFacts, with_edge
from scanner.errors import LotError, PhotoError
from scanner.storage.lots import Action
from scanner.storage.values import to_document
from scanner.units import length_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.app.lot.later_photo import Photo
    from scanner.storage.lots import Lot

    Progress = Callable[[str, float], None]

_EDGE = "edge-"


@dataclass(frozen=True, slots=True)
class KeptEdge:
    """What an edge shows, and its picture at the five places."""

    board: str
    photo: str
    picture: str
    facts: EdgeFacts


def look_at_edge(
    lot: Lot, board: str, photo: Photo, corners: str, rule: tuple[str, str], progress: Progress
) -> None:
    """Read thickness and slope of grain off a photographed edge and note them.

    ``corners`` and ``rule`` as for an end.

    Raises
    ------
    ScannerError
        Nothing of known size in the photo, or neither arrises nor grain are seen.
    """
    from scanner.app.later.read_edge import MM_PER_PX
    from scanner.app.later.read_end import side_as_typed, typed_side
    from scanner.sheets.second_look_pictures import places_on_edge
    from scanner.vision.second_look.edge import MARGIN_MM, edge_facts

    lot.board(board)
    stored = keep_photo(lot, photo)
    progress("laying the edge square on", 0.1)
    with in_plain_words(stored):
        side = typed_side(
            lot.folder / stored.file, side_as_typed(corners, rule), MM_PER_PX, MARGIN_MM
        )
    progress("looking for arrises and grain", 0.5)
    facts = edge_facts(side)
    if not facts.stations and facts.slope_deg is None:
        raise PhotoError(
            f"Neither arrises nor grain are seen in {photo.name}",
            "tap the corners of the edge itself, on a photo taken square to it",
        )
    at = tuple((s.x_mm, s.thickness.text()) for s in facts.stations)
    shown = places_on_edge(side.pixels, side.mm_per_px, MARGIN_MM, at)
    kept = KeptEdge(board, stored.file, keep_made(lot, shown, "edge"), facts)
    note(lot, _EDGE + board, to_document(kept), f"{board}: looked at an edge")
    progress("done", 1.0)


def kept_edge(lot: Lot, board: str) -> KeptEdge | None:
    """Return what was last read of an edge of a board, None where nobody looked."""
    return kept_note(lot, _EDGE + board, KeptEdge)


def nod_at_edge(lot: Lot, kept: KeptEdge) -> None:
    """Take an edge's thinnest place as its board's thickness, as a person agreed with it.

    Raises
    ------
    LotError
        No thickness was read.
    """
    if kept.facts.thinnest is None:
        raise LotError("no thickness was read off this edge", "measure with a caliper")
    facts = replace(kept.facts, is_confirmed=True)
    agreed = to_document(replace(kept, facts=facts))
    note(lot, _EDGE + kept.board, agreed, f"{kept.board}: agreed with an edge")
    said = f"{kept.board}: thickness read off an edge"
    change = Action(new_stamp(lot, "edge"), kept.board, said, lambda b: with_edge(b, facts))
    lot.record(change)


def edge_words(kept: KeptEdge, units: str) -> tuple[str, ...]:
    """Return what an edge shows, a sentence each."""
    facts, lines = kept.facts, []
    if facts.thinnest is not None:
        lines.append(f"Thinnest place seen: {facts.thinnest.text()}.")
    for station in facts.stations:
        where = length_text(station.x_mm, units)
        lines.append(f"{where} from the left: {station.thickness.text()} thick.")
    if facts.slope_deg is not None and facts.steepest_one_in is not None:
        lines.append(
            f"The ring lines slope {abs(facts.slope_deg):.1f} ± {facts.slope_u_deg or 0:.1f}°"
            f" through the board: no steeper than 1 in {facts.steepest_one_in:.0f} on this edge."
        )
    lines += [f"Doubt: {doubt}." for doubt in facts.doubts]
    return tuple(lines)
