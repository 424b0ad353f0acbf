"""The errand "read an end": rings off a photo of a fresh end, for a person to nod at."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.cutting.lasting_ends import trimmed_end
from scanner.errors import PhotoError, SettingsError
from scanner.files.board_file import board_json, read_board
from scanner.files.json_text import json_text, rounded
from scanner.files.picture_file import png_bytes
from scanner.files.typed import read_corners, read_rule, read_size
from scanner.files.write import refuse_unwritable, write_files
from scanner.sheets.second_look_pictures import rings_on_end

if TYPE_CHECKING:
    from pathlib import Path

    from scanner.board.ring_facts import EndName, RingFacts, RingStation
    from scanner.vision.second_look.plane import FlatSide

MM_PER_PX = 0.15


@dataclass(frozen=True, slots=True)
class TypedSide:
    """What a person typed of an end's or edge's photo, still as text.

    ``corners``: of the end or edge, ``"x,y x,y x,y x,y"``, face 1 up, from the upper left one
    clockwise; ``rule`` with ``rule_corners`` where neither card nor strip lies in its plane.
    """

    corners: str
    rule: str | None = None
    rule_corners: str | None = None
    units: str = "mm"


@dataclass(frozen=True, slots=True)
class EndAnswer:
    """What an end shows, in words too, and the files written."""

    facts: RingFacts
    lines: tuple[str, ...]
    written: tuple[Path, ...]


def side_as_typed(corners: str, rule: tuple[str, str]) -> TypedSide:
    """Return what the page's fields say of a side; ``rule``: its size and corners, "" for none."""
    size, rule_corners = rule
    return TypedSide(corners, size.strip() or None, rule_corners or None)


def typed_side(photo: Path, typed: TypedSide, mm_per_px: float, margin_mm: float) -> FlatSide:
    """Return the surface that was tapped, square on.

    Raises
    ------
    ScannerError
        A text cannot be read, the file is no photo, or nothing in it gives the scale.
    """
    from scanner.vision.photos.photo import read_photo
    from scanner.vision.second_look.plane import flat_side

    corners = read_corners(typed.corners, "--corners")
    rule = read_rule(typed.rule, "--rule", typed.units) if typed.rule else None
    if typed.rule_corners and rule is None:
        raise SettingsError(
            "--rule-corners say nothing without the rule's size", "add --rule 36in x 28mm"
        )
    tapped = read_corners(typed.rule_corners, "--rule-corners") if typed.rule_corners else None
    return flat_side(
        read_photo(photo),
        corners,
        rule=rule,
        rule_corners=tapped,
        mm_per_px=mm_per_px,
        margin_mm=margin_mm,
    )


def read_end(
    photo: Path,
    typed: TypedSide,
    end: str,
    folder: Path,
    *,
    board: Path | None = None,
    leg: str | None = None,
    trimmed: str | None = None,
    is_confirmed: bool = False,
) -> EndAnswer:
    """Read an end, write ``end-A.json`` and a picture with the rings drawn in.

    Parameters
    ----------
    end
        ``A`` or ``B``, photographed from outside with face 1 up.
    board
        board.json; with ``is_confirmed`` it is written into the folder with the end's facts noted.
    leg
        Width of a leg blank as typed: where rings run corner to corner over it is said.
    trimmed
        What came off the end in all, as typed: its fresh face is clean, and the confirmed board
        has the end trimmed and looked at.

    Raises
    ------
    ScannerError
        Nothing of known size in the photo, no rings that go together, or no such trim.
    """
    from scanner.vision.second_look.ends import ring_facts

    name = _end_named(end)
    leg_mm = read_size(leg, "--leg", typed.units) if leg else None
    if trimmed and (board is None or not is_confirmed):
        raise SettingsError(
            "--trimmed says nothing without --board and --confirm",
            "look at the end and at the picture first, then add both",
        )
    refuse_unwritable(folder)
    side = typed_side(photo, typed, MM_PER_PX, 0.0)
    read = ring_facts(side, name)
    if read is None:
        raise PhotoError(
            f"No rings that go together are seen in {photo.name}",
            "cut the end fresh, plane or wet it, and take the photo from nearer",
        )
    facts = replace(read[0], is_confirmed=is_confirmed)
    files = {
        f"end-{name}.json": json_text(_record(facts, leg_mm)).encode(),
        f"end-{name}.png": png_bytes(rings_on_end(side.pixels, side.mm_per_px, strokes_on(facts))),
    }
    lines = end_lines(facts, leg_mm)
    if board is not None and is_confirmed:
        known = read_board(board)
        notes = tuple(dict.fromkeys([*known.notes, *end_notes(facts)]))
        known = replace(known, notes=notes)
        if trimmed:
            known, ticked = trimmed_end(known, name, trimmed, typed.units)
            lines = (*lines, ticked)
        files[f"{known.id}/board.json"] = board_json(known).encode()
    return EndAnswer(facts, lines, write_files(folder, files))


def _end_named(text: str) -> EndName:
    match text.upper():
        case "A":
            return "A"
        case "B":
            return "B"
    raise SettingsError(f'--at "{text}" is no end', "write A or B")


def strokes_on(facts: RingFacts) -> tuple[tuple[float, float, float, float], ...]:
    """Return strokes along the rings, in the picture: y of the board runs left at end B."""
    strokes = []
    for station in facts.stations:
        x = station.y_mm if facts.end == "A" else facts.width_mm - station.y_mm
        angle = math.radians(station.angle_deg)
        up = (1 if station.leans == "+" else -1) * (1 if facts.end == "A" else -1)
        strokes.append((x, facts.thickness_mm / 2, math.cos(angle) * up, -math.sin(angle)))
    return tuple(strokes)


def end_lines(facts: RingFacts, leg_mm: float | None = None) -> tuple[str, ...]:
    """Return what an end shows, a line each."""
    lines = [
        f"end {facts.end}: {facts.width_mm:.0f} by {facts.thickness_mm:.1f} mm as photographed",
        "rings to the faces: "
        + ", ".join(
            f"{s.angle_deg:.0f} ± {s.u_deg:.0f} degrees at {s.y_mm:.0f} mm ({cut_said(s)})"
            if s.is_told
            else f"{cut_said(s)} at {s.y_mm:.0f} mm"
            for s in facts.stations
        ),
    ]
    if facts.has_pith_inside:
        lines.append("the pith lies in this end: wood round it splits, keep parts clear of it")
    elif facts.heart_face is not None:
        lines.append(
            f"heart side is face {facts.heart_face}: in drying face {facts.hollow_face} goes hollow"
        )
    else:
        lines.append("heart side is not told by this end")
    if facts.hidden_face is not None:
        lines.append(f"where either face may show, hide face {facts.hidden_face}")
    if leg_mm is not None:
        zones = facts.rift_zones(leg_mm)
        where = ", ".join(f"{low:.0f} to {high:.0f} mm" for low, high in zones)
        lines.append(
            f"rings run corner to corner from the edge of smaller y: {where}"
            if zones
            else f"no stretch of {leg_mm:.0f} mm has its rings corner to corner within 15 degrees"
        )
    lines += [f"note: {doubt}" for doubt in facts.doubts]
    if not facts.is_confirmed:
        lines.append("look at the picture: if the strokes lie along the rings, add --confirm")
    return tuple(lines)


def cut_said(station: RingStation) -> str:
    """Return what is said of the wood at a place: how it is cut, or that this is not sure."""
    return station.cut if station.is_sure else "not sure"


def end_notes(facts: RingFacts) -> tuple[str, ...]:
    """Return what the board's notes keep of an end."""
    kinds = [cut_said(station) for station in facts.stations]
    notes = [f"rings on end {facts.end}, from the edge of smaller y: {', '.join(kinds)}"]
    if facts.heart_face is not None:
        notes.append(
            f"end {facts.end}: heart side is face {facts.heart_face}, face {facts.hollow_face} goes"
            " hollow in drying"
        )
    return tuple(notes)


def _record(facts: RingFacts, leg_mm: float | None) -> dict[str, object]:
    return {
        "format": "end",
        "version": 1,
        "end": facts.end,
        "width": rounded(facts.width_mm),
        "thickness": rounded(facts.thickness_mm),
        "confirmed": facts.is_confirmed,
        "stations": [
            {
                "y": s.y_mm,
                "angle_deg": round(s.angle_deg, 1),
                "u_deg": round(s.u_deg, 1),
                "leans": s.leans or None,
                "cut": s.cut,
            }
            for s in facts.stations
        ],
        "pith": None if facts.pith_mm is None else list(facts.pith_mm),
        "heart_face": facts.heart_face,
        "hollow_face": facts.hollow_face,
        "hide_face": facts.hidden_face,
        "rift_zones": None if leg_mm is None else [list(z) for z in facts.rift_zones(leg_mm)],
        "doubts": list(facts.doubts),
    }
