"""The errand "scan a board": photos of its faces in, a board and its flat pictures out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.read_cards import faces_are_exchanged, name_on_card
from scanner.board.board import Board, Face
from scanner.board.form import Warp
from scanner.board.join import join_faces
from scanner.errors import SettingsError
from scanner.files.board_file import board_from_text, board_json
from scanner.files.camera_profiles import PhoneProfile, read_profiles, with_scan, write_profiles
from scanner.files.picture_file import jpeg_bytes, png_bytes
from scanner.files.write import refuse_unwritable, write_files
from scanner.sheets.found_picture import draw_found

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from concurrent.futures import Executor
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from scanner.board.board import Turned
    from scanner.board.measured import Measured
    from scanner.vision.evidence.lens_evidence import LensEvidence
    from scanner.vision.picture import FaceScan
    from scanner.vision.setup import Corners, RuleSize, Setup

    Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class ScanRequest:
    """Photographs of one board and what the person at the board said of it.

    ``photos_2`` is empty where only face 1 was photographed. ``is_named``: the person gave the id,
    so that a board card does not. ``taped`` is the board's length,
    ``strip_taped`` the strip's. Lengths in mm; see ``vision.setup.Setup``.
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
    refuse_unwritable(folder)
    profiles = read_profiles(request.profile) if request.profile is not None else ()
    scans = _scan_faces(request, profiles, progress, pool)
    cards = {face: scan.card for face, scan in scans.items()}
    names = [photos[0].name for photos in (request.photos_1, request.photos_2) if photos]
    if faces_are_exchanged(cards, names):
        request = replace(request, photos_1=request.photos_2, photos_2=request.photos_1)
        scans = _scan_faces(request, profiles, progress, pool)
    if not request.is_named:
        request = replace(request, id=name_on_card(cards) or request.id)
    board, pictures, advice = _board(request, scans)
    progress("writing", 0.95)
    text = board_json(board)
    # What goes on is what the file holds: its hundredths, so that layouts judge the same board.
    board = board_from_text(text, f"{board.id}/board.json")
    files = {"board.json": text.encode()}
    for number, pixels in pictures.items():
        files[f"{board.id}-face{number}.jpg"] = jpeg_bytes(pixels)
        found = draw_found(board, number, pixels)
        files[f"{board.id}-face{number}-found.png"] = png_bytes(found)
    write_files(folder, files)
    if request.profile is not None:
        learned = tuple(scan.lens for scan in scans.values() if scan.lens is not None)
        write_profiles(request.profile, with_scan(profiles, learned, board.id))
    progress("done", 1.0)
    return ScanResult(board, folder, advice)


def _setup(request: ScanRequest, face: int, lenses: tuple[LensEvidence, ...]) -> Setup:
    """Return the setup of one face; what is hollow on face 1 is crowned on face 2."""
    from scanner.vision.setup import Setup

    warp = request.warp
    if warp is not None and face == 2:
        warp = replace(warp, bow_mm=-warp.bow_mm, cup_mm=-warp.cup_mm)
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


def _scan_one(paths: tuple[Path, ...], setup: Setup, progress: Progress | None = None) -> FaceScan:
    """Read and scan the photos of one face; runs in another process too."""
    from scanner.vision.photo import read_photo
    from scanner.vision.scan import scan_face

    photos = tuple(read_photo(path) for path in paths)
    return scan_face(photos, setup, progress or (lambda step, share: None))


def _scan_faces(
    request: ScanRequest,
    profiles: tuple[PhoneProfile, ...],
    progress: Progress,
    pool: Executor | None,
) -> dict[int, FaceScan]:
    lenses = tuple(profile.lens for profile in profiles)
    jobs = {1: (request.photos_1, _setup(request, 1, lenses))}
    if request.photos_2:
        jobs[2] = (request.photos_2, _setup(request, 2, lenses))
    if pool is not None:
        waiting = {number: pool.submit(_scan_one, *job) for number, job in jobs.items()}
        scans = {}
        for number, future in waiting.items():
            scans[number] = future.result()
            progress(f"face {number} scanned", 0.9 * number / len(jobs))
        return scans

    def part(number: int) -> Progress:
        def report(step: str, share: float) -> None:
            progress(f"face {number}: {step}", 0.9 * (number - 1 + share) / len(jobs))

        return report

    return {number: _scan_one(*job, part(number)) for number, job in jobs.items()}


def _board(
    request: ScanRequest, scans: Mapping[int, FaceScan]
) -> tuple[Board, dict[int, NDArray[np.uint8]], tuple[str, ...]]:
    """Return the board, its flat pictures as the files hold them, and the advice."""
    from scanner.vision.turn_over import seen_through

    first = scans[1]
    reading = first.reading
    notes = [f"face 1: {doubt}" for doubt in first.doubts]
    faces = {1: _face(request.id, 1, first)}
    pictures = {1: first.picture.pixels}
    turned: Turned = "sideways"
    sapwood = {1: reading.sapwood, 2: ()}
    if 2 in scans:
        second = scans[2]
        names = (first.photos[0], second.photos[0])
        joined = join_faces(reading, second.reading, request.thickness.value_mm, names)
        turned, flaws = joined.turned, joined.flaws
        sapwood[2] = joined.sapwood_2
        _, _, *extent = second.reading.outline.bounds
        pixels, origin = seen_through(
            second.picture, (extent[0], extent[1]), turned, joined.turn_rad, joined.shift_mm
        )
        faces[2] = replace(
            _face(request.id, 2, second), outline=joined.outline_2, picture_origin=origin
        )
        pictures[2] = pixels
        notes += [f"face 2: {doubt}" for doubt in second.doubts]
        notes += list(joined.doubts)
    else:
        flaws = reading.flaws
        faces[2] = Face(outline=reading.outline, u_scale=first.u_scale)
        notes.append("face 2 was not photographed: nothing is known of it")
    warp = request.warp or Warp()
    board = Board(
        id=request.id,
        species=request.species,
        thickness=request.thickness,
        length=reading.length,
        widths=reading.widths,
        faces=faces,
        flaws=flaws,
        sapwood=sapwood if any(sapwood.values()) else None,
        outline_u_mm=max(scan.reading.outline_u_mm for scan in scans.values()),
        quality="rough" if any(scan.quality == "rough" for scan in scans.values()) else "good",
        turned=turned,
        warp=replace(warp, crook_mm=round(reading.crook_mm, 2)),
        notes=tuple(dict.fromkeys(notes)),
    )
    return board, pictures, board.notes


def _face(board_id: str, number: int, scan: FaceScan) -> Face:
    return Face(
        outline=scan.reading.outline,
        photos=scan.photos,
        picture=f"{board_id}-face{number}.jpg",
        mm_per_px=scan.picture.mm_per_px,
        picture_origin=scan.picture.origin_mm,
        rule=scan.rule,
        u_scale=scan.u_scale,
    )
