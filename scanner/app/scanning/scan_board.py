"""The errand "scan a board": photos of its faces in, a board and its flat pictures out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.scanning.read_cards import faces_are_exchanged, name_on_card
from scanner.app.scanning.same_photo import refuse_copies
from scanner.app.scanning.save_board import save_board
from scanner.board.form import turned_over
from scanner.errors import SettingsError
from scanner.files.camera_profiles import PhoneProfile, read_profiles, with_scan, write_profiles
from scanner.files.write import refuse_unwritable

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor
    from pathlib import Path

    from scanner.app.scanning.scan_request import ScanRequest
    from scanner.board.board import Board
    from scanner.vision.evidence.lens_evidence import LensEvidence
    from scanner.vision.photos.picture import FaceScan
    from scanner.vision.setup import Setup

    Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class ScanResult:
    """A scanned board, where its files lie, and what the user should know."""

    board: Board
    folder: Path
    advice: tuple[str, ...]


def scan_board(
    request: ScanRequest,
    folder: Path,
    progress: Progress = lambda step, share: None,
    pool: Executor | None = None,
) -> ScanResult:
    """Scan both faces, join them and write ``board.json`` and the pictures into the folder.

    Parameters
    ----------
    request
        Photos and what the person said.
    folder
        Made if it is missing; holds board.json, ID-face1.jpg, ID-face1-found.png and so on.
    progress
        Called with the step's name and the share done, 0 to 1.
    pool
        Where given, the two faces are scanned side by side in it.

    Raises
    ------
    ScannerError
        The user can mend it; nothing half-written is left.
    """
    if not request.photos_1:
        raise SettingsError("there is no photo of face 1", "give at least one photo")
    refuse_copies(request.photos_1, request.photos_2)
    refuse_unwritable(folder)
    profiles = read_profiles(request.profile) if request.profile is not None else ()
    scans = _scan_faces(request, profiles, progress, pool)
    cards = {face: scan.card for face, scan in scans.items()}
    names = [photos[0].name for photos in (request.photos_1, request.photos_2) if photos]
    if faces_are_exchanged(cards, names):
        request = replace(
            request,
            photos_1=request.photos_2,
            photos_2=request.photos_1,
            raking={3 - number: path for number, path in request.raking.items()},
        )
        scans = _scan_faces(request, profiles, progress, pool)
    if not request.is_named:
        request = replace(request, id=name_on_card(cards) or request.id)
    progress("writing", 0.95)
    board = save_board(request, scans, folder)
    if request.profile is not None:
        learned = tuple(scan.lens for scan in scans.values() if scan.lens is not None)
        write_profiles(request.profile, with_scan(profiles, learned, board.id))
    progress("done", 1.0)
    return ScanResult(board, folder, board.notes)


def setup_of(request: ScanRequest, face: int, lenses: tuple[LensEvidence, ...]) -> Setup:
    """Return the setup of one face; what is hollow on face 1 is crowned on face 2."""
    from scanner.vision.setup import Setup

    warp = request.warp
    if warp is not None and face == 2:
        warp = turned_over(warp)
    return Setup(
        thickness=request.thickness,
        rule=request.rule,
        rule2=request.rule2,
        rule_on="face" if request.rule_on == "face" else "floor",
        batten_mm=request.batten_mm,
        strip_taped=request.strip_taped,
        taped=request.taped,
        warp=warp,
        corners=request.corners_1 if face == 1 else request.corners_2,
        bow_known=request.bow_known,
        most_bow_mm=request.most_bow_mm,
        lenses=lenses,
    )


def scan_photos(
    paths: tuple[Path, ...],
    setup: Setup,
    progress: Progress | None = None,
    raking: Path | None = None,
    *,
    is_marked: bool = False,
) -> FaceScan:
    """Read and scan the photos of one face; runs in another process too.

    ``is_marked``: parts are drawn on it.
    """
    from scanner.vision.photos.photo import read_photo
    from scanner.vision.scan import scan_face

    photos = tuple(read_photo(path) for path in paths)
    low = read_photo(raking) if raking is not None else None
    report = progress or (lambda step, share: None)
    return scan_face(photos, setup, report, low, is_marked=is_marked)


def _scan_faces(
    request: ScanRequest,
    profiles: tuple[PhoneProfile, ...],
    progress: Progress,
    pool: Executor | None,
) -> dict[int, FaceScan]:
    lenses = tuple(profile.lens for profile in profiles)
    jobs = {1: (request.photos_1, setup_of(request, 1, lenses))}
    if request.photos_2:
        jobs[2] = (request.photos_2, setup_of(request, 2, lenses))
    if pool is not None:
        waiting = {
            number: pool.submit(scan_photos, *job, None, request.raking.get(number))
            for number, job in jobs.items()
        }
        scans = {}
        for number, future in waiting.items():
            scans[number] = future.result()
            progress(f"face {number} scanned", 0.9 * number / len(jobs))
        return scans

    def part(number: int) -> Progress:
        def report(step: str, share: float) -> None:
            progress(f"face {number}: {step}", 0.9 * (number - 1 + share) / len(jobs))

        return report

    return {
        number: scan_photos(*job, part(number), request.raking.get(number))
        for number, job in jobs.items()
    }
