"""The errand "three boards against the tape": what this phone's lengths are good for, in a lot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.board.tape import TAPED_NOTE
from scanner.errors import ScannerError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scanner.board.measured import Measured
    from scanner.files.camera_profiles import TapeProof
    from scanner.storage.lots import Lot

# What the lot's photos taught of each phone, in the lot's own folder of photos.
PHONES = "phones.json"


@dataclass(frozen=True, slots=True)
class TrustTest:
    """How the test stands: boards taped so far, a line each, and what they say together.

    ``boards`` are those that a phone scanned, in the lot's order; ``taped`` those of them that
    were held against the tape; ``holds`` whether every one of these held.
    """

    lines: tuple[str, ...]
    verdict: str
    is_enough: bool
    boards: tuple[str, ...] = ()
    taped: tuple[str, ...] = ()
    holds: bool = True


def keep_tape_proof(lot: Lot, board_id: str, taped: Measured) -> None:
    """Keep a taped length as a proof of the phone that scanned the board; none did: nothing."""
    from scanner.app.scanning.prove_scale import keep_proofs, proof_of

    path = lot.folder / PHONES
    if path.is_file() and board_id in _scanned(lot):
        keep_proofs([proof_of(lot.board(board_id), taped)], path)


def trust_test(lot: Lot) -> TrustTest | None:
    """Return how the test stands; None where no board of the lot was scanned with a phone.

    A board whose taping was taken back by undo counts no more.
    """
    from scanner.app.scanning.prove_scale import ENOUGH, Proved, proof_lines
    from scanner.files.camera_profiles import read_profiles

    path = lot.folder / PHONES
    try:
        phones = read_profiles(path) if path.is_file() else ()
    except ScannerError:
        return None
    boards = lot.boards()
    taped = {
        board.id: board.length.value_mm
        for board in boards
        if any(note.startswith(TAPED_NOTE) for note in board.notes)
    }
    by_phone = {id for phone in phones for id in phone.boards}
    mine = tuple(board.id for board in boards if board.id in by_phone)
    if not mine:
        return None
    used = [phone for phone in phones if set(mine) & set(phone.boards)]
    proofs = tuple(
        proof for phone in used for proof in phone.proofs if _stands(proof, taped.items())
    )
    if not proofs:
        verdict = f"Tape {ENOUGH} boards to see what its lengths are good for."
        return TrustTest((), verdict, False, mine)
    proved = Proved(proofs, tuple(phone.lens.phone.camera for phone in used))
    *lines, verdict = proof_lines(proved)
    return TrustTest(
        tuple(lines),
        verdict,
        len(proofs) >= ENOUGH,
        mine,
        tuple(proof.board for proof in proofs),
        all(proof.held for proof in proofs),
    )


def _stands(proof: TapeProof, taped: Iterable[tuple[str, float]]) -> bool:
    """Whether a proof is of the board as it is scanned now."""
    return any(
        proof.board == board and abs(proof.scanned_mm - length) < 1e-6 for board, length in taped
    )


def _scanned(lot: Lot) -> set[str]:
    from scanner.files.camera_profiles import read_profiles

    return {id for phone in read_profiles(lot.folder / PHONES) for id in phone.boards}
