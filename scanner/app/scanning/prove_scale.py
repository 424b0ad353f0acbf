"""The errand "prove it on this phone": tape a few scanned boards and see whether U held."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.board.measured import Measured
from scanner.errors import SettingsError
from scanner.files.board_file import read_board
from scanner.files.camera_profiles import TapeProof, read_profiles, write_profiles
from scanner.files.typed import read_taped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.board import Board
    from scanner.files.camera_profiles import PhoneProfile

# Fewer prove nothing; a true U holds on three boards of four in any run of luck.
ENOUGH = 3


@dataclass(frozen=True, slots=True)
class Proved:
    """Every tape proof of the phones that scanned these boards, the new ones included."""

    proofs: tuple[TapeProof, ...]
    phones: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """What the proofs say so far, in a sentence."""
        held = sum(proof.held for proof in self.proofs)
        count = len(self.proofs)
        who = " and ".join(self.phones)
        if held < count:
            broke = ", ".join(proof.board for proof in self.proofs if not proof.held)
            return (
                f"U did not hold on {broke} ({held} of {count} held with {who}): tape the strip "
                "(or give the rule's true length), see that it lies flat, and scan again before "
                "you cut to these lengths."
            )
        if count < ENOUGH:
            return f"U held on {held} of {count} boards with {who}; tape {ENOUGH - count} more."
        return f"U held on all {count} boards taped so far with {who}."


def prove_scale(taped: Sequence[str], profile: Path, units: str = "mm") -> Proved:
    """Hold scanned lengths against the tape and keep the answer in the camera profile.

    Parameters
    ----------
    taped
        ``B01/board.json=2440mm`` each: a scanned board and its length along the middle, not
        typed in when it was scanned.
    profile
        The file that these boards were scanned with (``scan --profile``).

    Raises
    ------
    ScannerError
        A board or length cannot be read, or no phone of the profile scanned it.
    """
    return keep_proofs([_proof(text, units) for text in taped], profile)


def keep_proofs(new: Sequence[TapeProof], profile: Path) -> Proved:
    """Keep tape proofs with the phones that scanned their boards, a later one for an earlier.

    Raises
    ------
    ScannerError
        The profile cannot be read, or no phone of it scanned one of the boards.
    """
    profiles = list(read_profiles(profile))
    touched: set[int] = set()
    for proof in new:
        place = _phone_that_scanned(profiles, proof.board, profile)
        others = tuple(one for one in profiles[place].proofs if one.board != proof.board)
        profiles[place] = replace(profiles[place], proofs=(*others, proof))
        touched.add(place)
    write_profiles(profile, profiles)
    used = [profiles[place] for place in sorted(touched)]
    return Proved(
        tuple(proof for one in used for proof in one.proofs),
        tuple(one.lens.phone.camera for one in used),
    )


def proof_lines(proved: Proved) -> tuple[str, ...]:
    """Return one line a board and the verdict."""
    lines = []
    for proof in proved.proofs:
        scanned = Measured(proof.scanned_mm, proof.u_mm).text()
        taped = Measured(proof.taped_mm, proof.taped_u_mm).text()
        answer = "held" if proof.held else "DID NOT HOLD"
        lines.append(
            f"{proof.board}: scanned {scanned} by the {proof.rule}, taped {taped}: {answer}"
        )
    return (*lines, proved.verdict)


def _proof(text: str, units: str) -> TapeProof:
    name, sign, length = text.rpartition("=")
    if not sign:
        raise SettingsError(
            f'"{text}" names no taped length', "write B01/board.json=2440mm, one for each board"
        )
    return proof_of(read_board(Path(name)), read_taped(length, name, units))


def proof_of(board: Board, measured: Measured) -> TapeProof:
    """Return a board's scanned length beside its taped one."""
    return TapeProof(
        board.id,
        board.faces[1].rule,
        board.length.value_mm,
        board.length.u_mm,
        measured.value_mm,
        measured.u_mm,
    )


def _phone_that_scanned(profiles: list[PhoneProfile], board: str, path: Path) -> int:
    for place, profile in enumerate(profiles):
        if board in profile.boards:
            return place
    raise SettingsError(
        f"no phone in {path} scanned {board}", f"scan it with --profile {path} first"
    )
