"""``--profile FILE``: what scans taught of each phone's lens, and how lengths stood the tape."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Literal

import numpy as np
from pydantic import Field, ValidationError

from scanner.errors import FileError
from scanner.files.json_text import json_text, significant
from scanner.files.rows import Row
from scanner.files.write import write_files
from scanner.vision.evidence.lens_evidence import TERMS, LensEvidence, Phone

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

# Which rules evidence of lenses was gathered by. In files of version 1 a misfit took from what was
# known before a scan, too, which taught phones focal lengths they have not.
_VERSION = 2


@dataclass(frozen=True, slots=True)
class TapeProof:
    """One board taped against its scan: what was read, both U, and what gave the scale."""

    board: str
    rule: str
    scanned_mm: float
    u_mm: float
    taped_mm: float
    taped_u_mm: float

    @property
    def held(self) -> bool:
        """Whether the scan's U (and the tape's own) covers the difference."""
        allowed = float(np.hypot(self.u_mm, self.taped_u_mm))
        return abs(self.scanned_mm - self.taped_mm) <= allowed


@dataclass(frozen=True, slots=True, eq=False)
class PhoneProfile:
    """One phone: its lens, the boards scanned with it, and their proofs by tape."""

    lens: LensEvidence
    boards: tuple[str, ...] = ()
    proofs: tuple[TapeProof, ...] = ()


class _ProofRow(Row):
    board: str
    rule: str
    scanned: float
    u: Annotated[float, Field(gt=0)]
    taped: float
    taped_u: Annotated[float, Field(ge=0)]


_Four = Annotated[list[float], Field(min_length=TERMS, max_length=TERMS)]


class _PhoneRow(Row):
    camera: Annotated[str, Field(min_length=1)]
    focal_35_mm: Annotated[int, Field(gt=0)]
    size_px: tuple[int, int]
    scans: Annotated[int, Field(ge=0)]
    precision: Annotated[list[_Four], Field(min_length=TERMS, max_length=TERMS)]
    weighted: _Four
    photos: list[str]
    boards: Annotated[list[str], Field(default_factory=list)]
    proofs: Annotated[list[_ProofRow], Field(default_factory=list)]


class _ProfilesRow(Row):
    format: Literal["camera_profiles"]
    version: Literal[1, 2]
    phones: list[_PhoneRow]


def read_profiles(path: Path) -> tuple[PhoneProfile, ...]:
    """Return the phones of a profile file; none where there is no such file yet.

    Of a file with evidence of lenses that was gathered by older rules boards and proofs are kept,
    and the lenses are learned anew.

    Raises
    ------
    FileError
        It cannot be read, or is no file of camera profiles.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return ()
    except OSError:
        raise FileError(f"{path} cannot be read", "choose another file for --profile") from None
    try:
        found = _ProfilesRow.model_validate_json(content)
    except ValidationError as problem:
        where = ".".join(str(step) for step in problem.errors()[0]["loc"]) or "its start"
        raise FileError(
            f"{path} is no file of camera profiles (at {where})",
            "choose another file for --profile, or leave it out",
        ) from None
    return tuple(_profile(row, is_trusted=found.version == _VERSION) for row in found.phones)


def _profile(row: _PhoneRow, *, is_trusted: bool) -> PhoneProfile:
    phone = Phone(row.camera, row.focal_35_mm, row.size_px)
    lens = LensEvidence(phone, np.zeros((TERMS, TERMS)), np.zeros(TERMS), scans=0)
    if is_trusted:
        lens = LensEvidence(
            phone, np.array(row.precision), np.array(row.weighted), row.scans, tuple(row.photos)
        )
    return PhoneProfile(
        lens,
        tuple(row.boards),
        tuple(
            TapeProof(one.board, one.rule, one.scanned, one.u, one.taped, one.taped_u)
            for one in row.proofs
        ),
    )


def with_scan(
    profiles: Sequence[PhoneProfile], learned: Sequence[LensEvidence], board: str
) -> tuple[PhoneProfile, ...]:
    """Return the profiles with what the faces of one more board taught.

    Photos that taught before teach nothing new.
    """
    out = list(profiles)
    for evidence in learned:
        place = next((i for i, one in enumerate(out) if one.lens.phone == evidence.phone), None)
        if place is None:
            out.append(PhoneProfile(evidence, (board,)))
            continue
        known = out[place]
        lens = known.lens
        if not set(evidence.photos) & set(lens.photos):
            lens = lens.and_(evidence)
        out[place] = replace(known, lens=lens, boards=tuple(dict.fromkeys((*known.boards, board))))
    return tuple(out)


def write_profiles(path: Path, profiles: Sequence[PhoneProfile]) -> None:
    """Write the profiles, replacing the file; nothing half-written is left."""
    phones = []
    for profile in profiles:
        lens = profile.lens
        phones.append(
            {
                "camera": lens.phone.camera,
                "focal_35_mm": lens.phone.focal_35_mm,
                "size_px": list(lens.phone.size_px),
                "scans": lens.scans,
                "precision": [[significant(v, 9) for v in row] for row in lens.precision],
                "weighted": [significant(v, 9) for v in lens.weighted],
                "photos": list(lens.photos),
                "boards": list(profile.boards),
                "proofs": [
                    {
                        "board": one.board,
                        "rule": one.rule,
                        "scanned": one.scanned_mm,
                        "u": one.u_mm,
                        "taped": one.taped_mm,
                        "taped_u": one.taped_u_mm,
                    }
                    for one in profile.proofs
                ],
            }
        )
    record = {"format": "camera_profiles", "version": _VERSION, "phones": phones}
    write_files(path.parent, {path.name: json_text(record).encode()})
