"""The errand "read an end" in a lot: noted, and on the board after a nod."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.app.lot.later_photo import in_plain_words, keep_made, keep_photo, kept_note, note
from scanner.app.lot.open_lot import new_stamp
from scanner.board.ring_facts import (  # noqa: TC001 (stored classes are read by their hints)
    EndName,
    RingFacts,
)
from scanner.board.rings_by_hand import rings_by_hand
from scanner.errors import LotError, PhotoError
from scanner.files.picture_file import open_picture
from scanner.storage.lots import Action
from scanner.storage.values import to_document
from scanner.units import length_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.app.lot.later_photo import Photo
    from scanner.board.board import Board
    from scanner.storage.lots import Lot

    Progress = Callable[[str, float], None]

_END = "end-"


@dataclass(frozen=True, slots=True)
class KeptEnd:
    """What an end shows, as read or as tapped.

    Attributes
    ----------
    picture, plain
        Stored names: the end square on, with strokes along the rings, and without.
    size_mm
        Width and thickness of what the picture shows.
    facts
        None where no rings that go together were seen.
    leg_mm
        Width of a leg that was asked about.
    by_hand
        Whether a person's three points on a ring count instead of the reading.
    """

    board: str
    end: EndName
    photo: str
    picture: str
    plain: str
    size_mm: tuple[float, float]
    facts: RingFacts | None
    leg_mm: float | None = None
    by_hand: bool = False


def look_at_end(
    lot: Lot,
    board: str,
    end: EndName,
    photo: Photo,
    corners: str,
    rule: tuple[str, str],
    leg: str,
    progress: Progress,
) -> None:
    """Read the rings on a photographed end and note them.

    Parameters
    ----------
    corners
        Of the end, photo px, face 1 up, from the upper left one clockwise.
    rule
        Size of a plain rule and its corners as text; "" for strip or board card.
    leg
        Width of a leg to ask about, as typed; "" for none.

    Raises
    ------
    ScannerError
        Nothing of known size in the photo, or corners that make no end.
    """
    from scanner.app.later.read_end import MM_PER_PX, side_as_typed, strokes_on, typed_side
    from scanner.files.typed import read_size
    from scanner.sheets.second_look_pictures import rings_on_end
    from scanner.vision.second_look.ends import ring_facts

    lot.board(board)
    with in_plain_words():
        leg_mm = read_size(leg, "--leg", lot.shop().units) if leg.strip() else None
    stored = keep_photo(lot, photo)
    progress("laying the end square on", 0.1)
    with in_plain_words(stored):
        side = typed_side(lot.folder / stored.file, side_as_typed(corners, rule), MM_PER_PX, 0.0)
    progress("following the rings", 0.4)
    read = ring_facts(side, end)
    facts = None if read is None else read[0]
    plain = keep_made(lot, rings_on_end(side.pixels, side.mm_per_px, ()), "end")
    picture = plain
    if facts is not None:
        drawn = rings_on_end(side.pixels, side.mm_per_px, strokes_on(facts))
        picture = keep_made(lot, drawn, "end")
    kept = KeptEnd(board, end, stored.file, picture, plain, side.size_mm, facts, leg_mm)
    _note_end(lot, kept, "looked at")
    progress("done", 1.0)


def kept_end(lot: Lot, board: str, end: EndName) -> KeptEnd | None:
    """Return what was last read of an end, None where nobody looked."""
    return kept_note(lot, f"{_END}{board}-{end}", KeptEnd)


def tap_ring(lot: Lot, kept: KeptEnd, taps: tuple[tuple[float, float], ...]) -> None:
    """Take three points on one ring instead of what was read; ``taps`` in px of the plain picture.

    Raises
    ------
    ScannerError
        They are not three, or too near to each other, or the picture is gone.
    """
    from scanner.app.later.read_end import strokes_on
    from scanner.sheets.second_look_pictures import rings_on_end

    path = lot.picture(kept.plain)
    if path is None:
        raise LotError("the picture of this end is not here any more", "add its photo again")
    pixels = np.asarray(open_picture(path))
    rows, columns = pixels.shape[:2]
    width, thickness = kept.size_mm
    points = tuple((x * width / columns, y * thickness / rows) for x, y in taps)
    if len(points) != 3:
        raise PhotoError("a ring is told by three points", "tap three points on one ring")
    try:
        facts = rings_by_hand(kept.size_mm, kept.end, (points[0], points[1], points[2]))
    except ValueError as problem:
        raise PhotoError(f"the {problem}", "tap points further apart on one ring") from None
    drawn = rings_on_end(pixels, width / columns, strokes_on(facts))
    tapped = replace(kept, facts=facts, by_hand=True, picture=keep_made(lot, drawn, "end"))
    _note_end(lot, tapped, "a ring was tapped on")


def nod_at_end(lot: Lot, kept: KeptEnd, trimmed: str = "") -> None:
    """Take what an end shows onto its board, as a person agreed with it.

    ``trimmed``: what came off the end in all, as typed, where its fresh face is clean; then the
    end counts as looked at as well. "" where nothing was said of that.

    Raises
    ------
    LotError
        Nothing was read, or what came off is no length or too much.
    """
    from scanner.app.cutting.lasting_ends import trimmed_end
    from scanner.app.later.read_end import end_notes

    if kept.facts is None:
        raise LotError("no rings were read on this end", "tap three points on one ring")
    units = lot.shop().units
    if trimmed.strip():
        # Refused before anything is noted.
        trimmed_end(lot.board(kept.board), kept.end, trimmed, units)
    facts = replace(kept.facts, is_confirmed=True)
    _note_end(lot, replace(kept, facts=facts), "agreed with")

    def noted(board: Board) -> Board:
        # What an earlier reading of this end said no longer holds.
        others = [one for one in board.notes if not _is_of_end(one, kept.end)]
        board = replace(board, notes=tuple(dict.fromkeys([*others, *end_notes(facts)])))
        return trimmed_end(board, kept.end, trimmed, units)[0] if trimmed.strip() else board

    said = f"{kept.board}: rings on end {kept.end}"
    if trimmed.strip():
        said += f", trimmed by {trimmed.strip()} and looked at"
    lot.record(Action(new_stamp(lot, "end"), kept.board, said, noted))


def end_words(kept: KeptEnd, units: str) -> tuple[str, ...]:
    """Return what an end shows, a sentence each; places counted from the left of its picture."""
    from scanner.app.later.read_end import cut_said

    facts = kept.facts
    if facts is None:
        return ()
    width, thickness = kept.size_mm
    lines = [f"{length_text(width, units)} wide and {thickness:.1f} mm thick as photographed."]
    in_order = facts.stations if kept.end == "A" else facts.stations[::-1]
    if any(s.is_told for s in in_order):
        across = ", ".join(
            f"{cut_said(s)} ({s.angle_deg:.0f} ± {s.u_deg:.0f}°)" if s.is_told else cut_said(s)
            for s in in_order
        )
        lines.append(f"From the left in the picture: {across}.")
    else:
        lines.append("It is not sure how the rings run anywhere on this end.")
    if facts.has_pith_inside:
        lines.append("The pith lies in this end: wood round it splits. Keep parts clear of it.")
    elif facts.heart_face is not None:
        lines.append(
            f"The heart side is face {facts.heart_face}: as the board dries, face"
            f" {facts.hollow_face} cups hollow."
        )
    else:
        lines.append("This end does not tell the heart side, so neither the cup’s direction.")
    if facts.hidden_face is not None:
        lines.append(
            f"Where either face may show, hide face {facts.hidden_face}: its grain may lift in"
            " time (common practice)."
        )
    if kept.leg_mm is not None:
        lines.append(_leg_words(facts, kept.leg_mm, units))
    lines += [f"Doubt: {doubt}." for doubt in facts.doubts]
    return tuple(lines)


def _leg_words(facts: RingFacts, leg_mm: float, units: str) -> str:
    leg = length_text(leg_mm, units)
    zones = facts.rift_zones(leg_mm)
    if not zones:
        return f"Nowhere do the rings run corner to corner over a leg {leg} wide."
    if facts.end == "B":
        zones = tuple((facts.width_mm - high, facts.width_mm - low) for low, high in zones[::-1])
    where = ", ".join(f"{length_text(a, units)} to {length_text(b, units)}" for a, b in zones)
    return f"Rings run corner to corner, for a leg {leg} wide: {where} from the left."


def _note_end(lot: Lot, kept: KeptEnd, verb: str) -> None:
    said = f"{kept.board}: {verb} end {kept.end}"
    note(lot, f"{_END}{kept.board}-{kept.end}", to_document(kept), said)


def _is_of_end(noted: str, end: str) -> bool:
    return noted.startswith((f"rings on end {end},", f"end {end}: heart side"))
