"""Run stages on file systems of several sizes and print what they said and left, as JSON lines.

``python -m tests.storage.on_full_disk STAGE...`` in a mount namespace of its own (``unshare -rm``):
each size is a real, tiny file system in memory, so that every write of Python, SQLite and zipfile
meets the system's own "no space left on device".
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image

from scanner.app.placing import plan_cuts
from scanner.app.scanning import scan_board
from scanner.board.flaw import FlawState
from scanner.cli import main as command
from scanner.errors import ScannerError
from scanner.files.board_file import board_json
from scanner.storage.lots import open_lot
from scanner.vision.photos.picture import FacePicture, FaceScan
from tests import common
from tests.board.two_faces import FACE, reading
from tests.storage.said import saying, stamp

if TYPE_CHECKING:
    from scanner.placement.layout import Layout

_ROOT = Path(__file__).parents[2]
PARTS = "name,quantity,length,width,thickness,faces\nrail,2,600,70,19,both\nslat,2,900,70,19,show\n"
# Kilobytes: nothing, some of it, nearly all, more than enough.
SIZES = {
    "place": (16, 48, 160, 400, 20_000),
    "scan": (64, 20_000),
    "strip": (8, 16, 20_000),
    "stick": (8, 20_000),
    "export": (8, 40, 100, 20_000),
    "export by a full temporary folder": (8, 100, 20_000),
    "import": (8, 100, 140, 200, 20_000),
    "lot": (100, 120, 160, 200, 20_000),
}


def picture() -> bytes:
    """Return a JPEG of some 90 kB."""
    noise = np.random.default_rng(1).integers(0, 255, (260, 400, 3), dtype=np.uint8)
    made = io.BytesIO()
    Image.fromarray(noise).save(made, "JPEG", quality=90)
    return made.getvalue()


def _boards(folder: Path) -> list[Path]:
    files = []
    for board in (common.ash_board(looked_over=True), common.walnut_board()):
        files.append(folder / board.id / "board.json")
        files[-1].parent.mkdir()
        files[-1].write_text(board_json(board))
    (folder / "parts.csv").write_text(PARTS)
    return files


def _lot(path: Path) -> None:
    lot = open_lot(path)
    lot.save_board(common.ash_board(), stamp())
    lot.keep_picture(picture(), "face.jpg")
    lot.close()


def _run(*words: object) -> Callable[[], None]:
    def run() -> None:
        sys.argv = ["bothfaces", *map(str, words)]
        command()

    return run


def _done(*words: object) -> None:
    with contextlib.suppress(SystemExit):
        _run(*words)()


def stage(name: str, aside: Path, place: Path) -> Callable[[], None]:
    """Prepare a stage beside the small disk and return what writes to it."""
    out = place / "out"
    match name:
        case "place":
            boards = _boards(aside)
            return _run("place", aside / "parts.csv", *boards, "-o", out, "--work", 5)
        case "scan":
            photo = sorted((_ROOT / "sample_images").glob("*1*.jpg"))[0]
            return _run("scan", photo, "-o", out, "--thickness", "4/4")
        case "strip":
            return _run("strip", "--length", "4ft", "-o", place / "strip.pdf")
        case "stick":
            boards = _boards(aside)
            _done("place", aside / "parts.csv", *boards, "-o", aside / "laid", "--work", 5)
            layout = aside / "laid" / "layout.json"
            return _run("stick", layout, boards[0], aside / "parts.csv", "-o", place / "stick.pdf")
        case "export" | "export by a full temporary folder":
            _lot(aside / "bench.lot")
            if name != "export":
                tempfile.tempdir = str(place)
                return _run("export", aside / "bench.lot", "-o", aside / "bench.zip")
            return _run("export", aside / "bench.lot", "-o", place / "bench.zip")
        case "import":
            _lot(aside / "bench.lot")
            _done("export", aside / "bench.lot", "-o", aside / "bench.zip")
            return _run("import", aside / "bench.zip", "--name", "new", "-o", place)
    raise ValueError(name)


def use_lot(place: Path) -> dict[str, object]:
    """Fill a lot until the disk is full, make room, and go on: what was answered must be there."""
    ballast = place / "ballast"
    ballast.write_bytes(b"x" * 40_000)  # room to be made
    answered, said = 0, ""
    lot = None
    try:
        lot = open_lot(place / "bench.lot")
        answered += lot.save_board(common.ash_board(), stamp()).status == "done"
        for n in range(400):
            state = (FlawState.CONFIRMED, FlawState.STRUCK)[n % 2]
            assert lot.record(saying(state)).status == "done"
            answered += 1
            if n % 20 == 0:
                lot.keep_picture(picture()[: 4000 + n], f"face{n}.jpg")
    except ScannerError as problem:
        said = str(problem)
    if lot is not None:
        lot.close()
    ballast.unlink()
    lot = open_lot(place / "bench.lot")
    revision = lot.revision
    try:
        went_on: str = lot.save_board(common.walnut_board(), stamp()).status
    except ScannerError as problem:
        went_on = str(problem)
    names = [lot.picture(name) is not None for name in lot.picture_names()]
    halves = [path.name for path in lot.folder.glob(".half-*")] if lot.folder.exists() else []
    lot.close()
    return {"answered": answered, "said": said, "revision": revision, "went_on": went_on,
            "pictures": names, "halves": halves}  # fmt: skip


def listing(folder: Path) -> dict[str, str]:
    """Return all files below a folder by their hash, hidden ones too."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def _scan_nothing() -> None:
    """Let a made face stand for the scan: what disks differ in is how its files are written."""
    pixels = np.random.default_rng(2).integers(60, 220, (250, 960, 3), dtype=np.uint8)
    seen = np.ones(pixels.shape[:2], dtype=bool)
    face = FacePicture(pixels, 2.0, (-20.0, -20.0), 0.001, 0.5, seen)
    scan = FaceScan(face, reading(FACE), "strip", ("face.jpg",), 0.001, "good")
    scan_board.scan_photos = lambda *told, **more: scan


def _draw_once() -> None:
    """Let all disks share the sheets of a layout, too: to draw them takes seconds."""
    draw, drawn = plan_cuts.board_maps, {}

    def once(layout: Layout, *told: Any, **more: Any) -> dict[str, bytes]:
        if layout not in drawn:
            drawn[layout] = draw(layout, *told, **more)
        return drawn[layout]

    plan_cuts.board_maps = once


def main() -> None:
    """Run each stage on each of its sizes."""
    _scan_nothing()
    _draw_once()
    for name in sys.argv[1:]:
        _on_each_size(name)


def _on_each_size(name: str) -> None:
    for size in SIZES[name]:
        with tempfile.TemporaryDirectory() as folder:
            tempfile.tempdir = None
            aside, place = Path(folder) / "aside", Path(folder) / "small"
            aside.mkdir()
            place.mkdir()
            mount = ["mount", "-t", "tmpfs", "-o", f"size={size}k", "none", str(place)]
            subprocess.run(mount, check=True)
            try:
                answer = {"stage": name, "size": size, **_try(name, aside, place)}
                print(json.dumps(answer), flush=True)
            finally:
                tempfile.tempdir = None
                subprocess.run(["umount", "-l", str(place)], check=True)


def _try(name: str, aside: Path, place: Path) -> dict[str, object]:
    if name == "lot":
        return use_lot(place)
    with contextlib.redirect_stdout(io.StringIO()):
        run = stage(name, aside, place)
    before = listing(place), listing(aside)
    said = io.StringIO()
    code = 0
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said):
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        except BaseException:
            code, _ = 1, traceback.print_exc()
    after = listing(place), listing(aside)
    return {"code": code, "said": said.getvalue(), "new": sorted(set(after[0]) - set(before[0])),
            "aside": sorted(set(after[1]) - set(before[1]))}  # fmt: skip


if __name__ == "__main__":
    main()
