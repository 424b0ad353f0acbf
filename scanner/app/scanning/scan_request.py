"""A request to scan a board, and how what a person typed (command or page) becomes one."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.errors import SettingsError
from scanner.files.typed import (
    read_batten,
    read_corners,
    read_rule,
    read_size,
    read_taped,
    read_taped_strip,
    read_thickness,
    read_warp,
    refuse_other_units,
)
from scanner.vision.setup import USUAL_MOST_BOW_MM

if TYPE_CHECKING:
    from scanner.board.form import Warp
    from scanner.board.measured import Measured
    from scanner.vision.setup import Corners, RuleSize

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}")


@dataclass(frozen=True, slots=True)
class ScanRequest:
    """Photographs of one board and what the person at the board said of it.

    ``photos_2`` is empty where only face 1 was photographed. ``is_named``: the person gave the id,
    so that a board card does not. ``raking`` holds by face a photo under a low lamp. ``taped`` is
    the board's length, ``strip_taped`` the strip's. Lengths in mm; see ``vision.setup.Setup``.
    """

    id: str
    photos_1: tuple[Path, ...]
    photos_2: tuple[Path, ...]
    thickness: Measured
    species: str = "unknown"
    rule: RuleSize | None = None
    rule2: RuleSize | None = None
    rule_on: str = "floor"
    batten_mm: float | None = None
    strip_taped: Measured | None = None
    taped: Measured | None = None
    corners_1: Corners | None = None
    corners_2: Corners | None = None
    warp: Warp | None = None
    bow_known: bool = True
    most_bow_mm: float = 5.0
    profile: Path | None = None
    is_named: bool = True
    raking: dict[int, Path] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TypedOptions:
    """What a person typed, still as text; ``None`` where nothing was said."""

    thickness: str = "4/4"
    species: str = "unknown"
    rule: str | None = None
    rule2: str | None = None
    rule_on: str = "floor"
    batten: str | None = None
    strip_taped: str | None = None
    taped: str | None = None
    corners_1: str | None = None
    corners_2: str | None = None
    bow: str | None = None
    cup: str | None = None
    twist: str | None = None
    units: str = "mm"
    profile: str | None = None
    more_1: tuple[Path, ...] = field(default=())
    more_2: tuple[Path, ...] = field(default=())
    raking_1: str | None = None
    raking_2: str | None = None


def scan_request(
    board_id: str, face_1: Path, face_2: Path | None, typed: TypedOptions
) -> ScanRequest:
    """Return the request, every text read.

    Raises
    ------
    SettingsError
        A text cannot be read, or options exclude each other.
    """
    if not _ID.fullmatch(board_id):
        raise SettingsError(
            f'--id: "{board_id}" cannot be a board\'s name',
            "use letters, digits, - and _, such as B01",
        )
    if typed.rule_on not in ("floor", "face"):
        raise SettingsError(f'--rule-on: "{typed.rule_on}" is neither', "write floor or face")
    if typed.more_2 and face_2 is None:
        raise SettingsError("--more2 has no effect without a photo of face 2", "give FACE2 too")
    if typed.raking_2 and face_2 is None:
        raise SettingsError("--raking2 has no effect without a photo of face 2", "give FACE2 too")
    if typed.corners_2 and face_2 is None:
        raise SettingsError("--corners2 has no effect without a photo of face 2", "give FACE2 too")
    if (typed.corners_1 or typed.corners_2) and not typed.rule:
        raise SettingsError(
            "tapped corners say nothing without the rule's length", "add --rule 36in"
        )
    if typed.strip_taped and typed.rule:
        raise SettingsError(
            "--strip-taped has no effect with a plain --rule", "leave one of the two out"
        )
    refuse_other_units(typed.units)
    bow, most_bow = _bow(typed)
    batten = read_batten(typed.batten, typed.units) if typed.batten else None
    return ScanRequest(
        id=board_id,
        photos_1=(face_1, *typed.more_1),
        photos_2=(face_2, *typed.more_2) if face_2 is not None else (),
        thickness=read_thickness(typed.thickness, typed.units),
        species=typed.species.strip() or "unknown",
        rule=read_rule(typed.rule, "--rule", typed.units) if typed.rule else None,
        rule2=read_rule(typed.rule2, "--rule2", typed.units) if typed.rule2 else None,
        rule_on=typed.rule_on,
        batten_mm=batten,
        strip_taped=(
            read_taped_strip(typed.strip_taped, "--strip-taped", typed.units)
            if typed.strip_taped
            else None
        ),
        taped=read_taped(typed.taped, "--taped", typed.units) if typed.taped else None,
        corners_1=read_corners(typed.corners_1, "--corners1") if typed.corners_1 else None,
        corners_2=read_corners(typed.corners_2, "--corners2") if typed.corners_2 else None,
        warp=read_warp(bow, typed.cup, typed.twist, typed.units),
        bow_known=bow is not None,
        most_bow_mm=most_bow,
        profile=Path(typed.profile) if typed.profile else None,
        raking={
            number: Path(path)
            for number, path in ((1, typed.raking_1), (2, typed.raking_2))
            if path is not None
        },
    )


def _bow(typed: TypedOptions) -> tuple[str | None, float]:
    """Return the bow as typed, or None, and what one that nobody measured is at most, mm.

    ``--bow "<12mm"`` says only how much the board may bow.
    """
    if typed.bow is None or not typed.bow.strip().startswith("<"):
        return typed.bow, USUAL_MOST_BOW_MM
    return None, read_size(typed.bow.strip()[1:], "--bow", typed.units)
