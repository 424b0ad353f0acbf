"""kill -9 at every step of every writer: a file is as it was, or new and whole; never half."""

import builtins
import io
import multiprocessing
import os
import random
import shutil
import signal
import sys
import zipfile

import pytest

from scanner.app.lot.move_lot import export_file, import_lot
from scanner.app.placing.plan_cuts import plan_cuts, write_plan
from scanner.app.scanning.make_strip import make_strip
from scanner.errors import ScannerError
from scanner.files.board_file import board_json, read_board
from scanner.files.layout_file import read_layout
from scanner.files.write import write_files
from scanner.placement.shop import Shop
from scanner.placement.stop import Work
from scanner.sheets.board_map import board_maps
from scanner.storage.lots import open_lot
from tests import common
from tests.storage.said import stamp

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is a habit of others")
# Only what hangs is waited for so long.
_PATIENCE_S = 240
_STEPS = ("replace", "rename", "link", "unlink", "mkdir", "fsync")


class _Torn:
    """A file that writes half of what it is given and is killed, at its step."""

    def __init__(self, file, tick) -> None:
        self._file, self._tick = file, tick

    def write(self, content):
        if self._tick():
            self._file.write(content[: len(content) // 2])
            self._file.flush()
            os.kill(os.getpid(), signal.SIGKILL)
        return self._file.write(content)

    def __getattr__(self, name):
        return getattr(self._file, name)

    def __enter__(self):
        self._file.__enter__()
        return self

    def __exit__(self, *problem):
        return self._file.__exit__(*problem)


def _die_at(step, stage, arguments):
    """Run a stage in this (forked) process and kill it at the step that is counted to."""
    left = step

    def tick():
        nonlocal left
        left -= 1
        return left == 0

    for name in _STEPS:
        real = getattr(os, name)

        def stepping(*given, real=real, **more):
            if tick():
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*given, **more)

        setattr(os, name, stepping)
    real_open = io.open

    def opening(file, mode="r", *given, **more):
        opened = real_open(file, mode, *given, **more)
        return _Torn(opened, tick) if set(mode) & set("wxa+") else opened

    io.open = builtins.open = opening
    stage(*arguments)
    os._exit(0)


def killed_everywhere(stage, arguments, judge, most=400):
    """Kill the stage at its first step, its second, and so on until it runs to its end."""
    context = multiprocessing.get_context("fork")
    for step in range(1, most):
        child = context.Process(target=_die_at, args=(step, stage, arguments))
        child.start()
        child.join(_PATIENCE_S)
        if child.exitcode == 0:
            assert step > 2, "the stage was never met by a kill"
            judge(None)
            return
        assert child.exitcode == -signal.SIGKILL, child.exitcode
        judge(step)
    raise AssertionError("the stage has no end")


def _visible(folder):
    """Return the files a user sees: no hidden ones, none that is named as half or part."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
        and not any(piece.startswith(".") for piece in path.relative_to(folder).parts)
        and path.suffix not in (".half", ".part")
    }


@pytest.mark.parametrize("with_former", [False, True])
@pytest.mark.slow
def test_files_written_together_are_each_old_or_new(tmp_path, with_former):
    new = {
        "board.json": b"new" * 1000,
        "B01-face1.jpg": b"pixels" * 9000,
        "sub/map.pdf": b"%PDF" * 99,
    }
    old = dict.fromkeys(new, b"old") if with_former else {}
    out = tmp_path / "out"
    for name, content in old.items():
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        (out / name).write_bytes(content)

    def judge(step):
        for name, content in _visible(tmp_path).items():
            inner = name.removeprefix("out/")
            assert content in (new[inner], old.get(inner)), (step, name)
        if step is None:
            assert _visible(out) == new

    killed_everywhere(write_files, (out, new), judge)


def test_a_strip_is_whole_or_not_there(tmp_path):
    path = tmp_path / "strip.pdf"

    def judge(step):
        seen = _visible(tmp_path)
        assert set(seen) <= {"strip.pdf"}
        assert all(content.rstrip().endswith(b"%%EOF") for content in seen.values()), step

    killed_everywhere(make_strip, ("500 mm", "a4", path), judge)


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), stamp())
    lot.keep_picture(bytes(random.Random(1).randbytes(20_000)), "face.jpg")
    lot.close()
    return tmp_path / "bench.lot"


@pytest.mark.slow
def test_a_packed_lot_is_whole_or_the_former_one(tmp_path, lot):
    target = tmp_path / "packed" / "bench.zip"
    target.parent.mkdir()
    target.write_bytes(b"former")

    def judge(step):
        ((name, content),) = _visible(target.parent).items()
        assert name == "bench.zip"
        if content != b"former":
            with zipfile.ZipFile(io.BytesIO(content)) as archive:
                assert archive.testzip() is None, step

    killed_everywhere(export_file, (lot, target), judge)


@pytest.mark.slow
def test_a_lot_that_is_brought_in_is_whole_or_not_there(tmp_path, lot):
    packed = tmp_path / "bench.zip"
    export_file(lot, packed)
    place = tmp_path / "in"
    place.mkdir()
    count = iter(range(10**6))

    def bring_in():
        import_lot(packed, place, f"new{next(count)}")

    def judge(step):
        for path in place.glob("*.lot"):
            brought = open_lot(path, create=False)
            assert [board.id for board in brought.boards()] == ["B01"], step
            (name,) = brought.picture_names()
            assert brought.picture(name) is not None
            brought.close()
        # The photos come first; without their lot they are in nobody's way under another name.
        for path in place.iterdir():
            if path.name.endswith(("-photos", "-shm", "-wal", ".lot")):
                path.rename(tmp_path / f"seen-{step}-{path.name}")

    killed_everywhere(bring_in, (), judge)


@pytest.mark.slow
def test_a_picture_is_kept_whole_or_not_at_all(tmp_path, lot):
    content = bytes(random.Random(2).randbytes(30_000))

    def keep():
        opened = open_lot(lot)
        opened.keep_picture(content, "face.jpg")
        opened.close()

    def judge(step):
        opened = open_lot(lot)
        for name in opened.picture_names():
            kept = opened.picture(name)
            assert kept is not None and kept.stat().st_size in (20_000, 30_000), step
        opened.close()
        for path in opened.folder.glob("[0-9a-f]*"):
            assert path.stat().st_size in (20_000, 30_000), step

    killed_everywhere(keep, (), judge)


@pytest.mark.slow
def test_scan_and_place_leave_whole_files_at_any_step_they_are_killed(tmp_path, monkeypatch):
    """The sheets of a real layout, and a board's file."""
    boards = (common.ash_board(looked_over=True), common.walnut_board())
    parts, shop = (*common.bench_parts(), *common.shelf_parts()), Shop()
    plan = plan_cuts(boards, parts, shop, Work(5))
    out = tmp_path / "out"

    def stage():
        write_files(out / "B01", {"board.json": board_json(boards[0]).encode()})
        write_plan(plan, boards, parts, shop, out, {})

    drawn = []

    def draw(*given, **more):
        before = _visible(out)
        drawn.append(board_maps(*given, **more))
        assert _visible(out) == before, "while sheets are drawn nothing is written"
        return drawn[0]

    monkeypatch.setattr("scanner.app.placing.plan_cuts.board_maps", draw)
    stage()
    whole = _visible(out)
    shutil.rmtree(out)
    # Drawn once: to draw them takes seconds, and only what is written after it can be torn.
    monkeypatch.setattr("scanner.app.placing.plan_cuts.board_maps", lambda *given, **more: drawn[0])

    def judge(step):
        seen = _visible(out) if out.exists() else {}
        assert seen.items() <= whole.items(), step
        if step is None:
            assert seen == whole
            assert read_board(out / "B01" / "board.json").id == "B01"
            assert read_layout(out / "layout.json").placements == plan.layout.placements

    killed_everywhere(stage, (), judge)
    with pytest.raises(ScannerError):
        read_layout(out / "none.json")
