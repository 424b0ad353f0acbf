"""A lot that grows to 200 boards and 400 photos: time and memory of every stage at each size.

``python -m tests.bench.endurance [--jobs 16] [--sizes 25,50,100,200]``. The photos are copies of
the sample pictures under other names, each with a comment of its own in the file, so that no two
are the same bytes (400 different renderings would show nothing more of time and memory). Each step
scans only the boards that are new, two photos a board; with ``--results FOLDER`` (an ``out/demo``)
nothing is scanned, and its boards with their flat pictures are copied under new names.

The stages: scan, take into the lot file, confirm (every flaw, face and end, an action each, as the
page sends them), place all parts (a fixed number of search steps), draw all maps (on at most
``--jobs`` processes, whose memory is told together), open the lot anew, pack it, what the page
says after one tap (steps, one board, the layout; the best of three). "Growth" is the power of the
number of boards that a stage's time grows with from the first size to the last: 1 is linear.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import resource
import shutil
import sys
import tempfile
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

from joblib.externals.loky import get_reusable_executor

from scanner.app.cutting.save_maps import maps_zip
from scanner.app.demo import sample_request
from scanner.app.find_samples import find_samples
from scanner.app.lot.move_lot import export_lot
from scanner.app.lot.open_lot import new_stamp, open_lot, parts_of, set_parts, take_board
from scanner.app.many import work_through
from scanner.app.nodding.review_flaws import confirm, look_over
from scanner.app.placing.place_again import plan_lot
from scanner.app.scanning.scan_board import scan_board
from scanner.app.showing.page_state import board_view, lot_view
from scanner.app.showing.road_state import road
from scanner.board.board import End
from scanner.board.flaw import FlawState
from scanner.files.board_file import board_json, read_board
from scanner.files.sample_set import read_sample_set
from scanner.placement.stop import Work
from scanner.storage.lots import Action, Lot
from tests.bench.figures import Bench, Figure, keep

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.board.board import Board

_PARTS = """name,quantity,length,width,thickness,faces,species
rail,{two},610,70,19,both,white ash
seat slat,{one},1000,70,19,show,white ash
stretcher,{one},675,58,19,sound,white ash
shelf,{half},800,95,19,both,walnut
"""
STAGES = ("scan", "take in", "confirm", "place", "maps", "open", "pack", "page")
# What has to be done once a board; placing is a search over all of them at once, and a tap changes
# one board.
_LINEAR = ("scan", "take in", "confirm", "maps", "open", "pack")
_BAR_GROWTH, _BAR_MEMORY_MB = 1.2, 2000.0


@dataclass
class Row:
    """What one size took: seconds a stage (scan, take in, confirm: since the first board)."""

    boards: int
    photos: int
    seconds: dict[str, float]
    actions: int
    slowest_action_s: float
    memory_mb: float
    most_memory_mb: float
    lot_mb: float
    placed: str


def _comment(jpeg: bytes, text: str) -> bytes:
    """Return a JPEG with a comment segment after its first marker (ITU-T T.81, B.2.4.5)."""
    said = text.encode()
    return jpeg[:2] + b"\xff\xfe" + (len(said) + 2).to_bytes(2, "big") + said + jpeg[2:]


def _scanned(job: tuple[int, Path, Path]) -> str:
    """Scan one board from fresh copies of a sample board's photos; runs in any process."""
    number, samples, output = job
    every = read_sample_set(samples)
    sample = every[number % len(every)]
    folder = output / f"B{number:03d}"
    with tempfile.TemporaryDirectory() as place:
        request = sample_request(sample)
        paths = []
        for face, path in enumerate((sample.photos_1[0], sample.photos_2[0]), 1):
            copy = Path(place) / f"board-{number:03d}-face{face}.jpg"
            copy.write_bytes(_comment(path.read_bytes(), f"board {number} face {face}"))
            paths.append(copy)
        request = replace(
            request, id=folder.name, photos_1=(paths[0],), photos_2=(paths[1],), is_named=True
        )
        scan_board(request, folder)
    return folder.name


def _copied(number: int, former: list[Path], output: Path) -> None:
    """Copy a scanned board under another name, its pictures too."""
    source = former[number % len(former)]
    board = read_board(source)
    id = f"B{number:03d}"
    folder = output / id
    folder.mkdir()
    faces = {}
    for face, one in board.faces.items():
        picture = f"{id}-face{face}.jpg"
        content = (source.parent / (one.picture or "")).read_bytes()
        (folder / picture).write_bytes(_comment(content, picture))
        faces[face] = replace(one, picture=picture)
    (folder / "board.json").write_text(board_json(replace(board, id=id, faces=faces)))


def _say_all(lot: Lot, id: str) -> list[float]:
    """Confirm every flaw and look over faces and ends, one action each; seconds of each."""
    took = []

    def act(said: str, change: Callable[[Board], Board]) -> None:
        begun = time.monotonic()
        answer = lot.record(Action(new_stamp(lot), id, said, change))
        took.append(time.monotonic() - begun)
        assert answer.status in ("done", "nothing"), answer

    for flaw in lot.board(id).flaws:
        act(f"confirmed {flaw.id}", lambda board, name=flaw.id: confirm(board, name))
    for face in (1, 2):
        act(f"looked face {face} over", lambda board, face=face: look_over(board, face))
    act("looked the ends over", lambda board: replace(board, ends={"A": End(True), "B": End(True)}))
    return took


def _page_after_a_tap(lot: Lot, id: str) -> float:
    """Return the seconds that the page's words and drawings take after a tap; it is undone."""

    def struck(board: Board) -> Board:
        first, *others = board.flaws
        return board.with_flaws((replace(first, state=FlawState.STRUCK), *others))

    took = []
    for _ in range(3):
        assert lot.record(Action(new_stamp(lot), id, "tapped", struck)).status == "done"
        begun = time.monotonic()
        view = lot_view(lot)
        road(lot, view)
        board_view(lot, id)
        took.append(time.monotonic() - begun)
        lot.undo(new_stamp(lot))
    return min(took)


def _memory_mb() -> float:
    if sys.platform != "linux":
        return 0.0
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def _most_memory_mb() -> float:
    # In kB on Linux, in bytes on macOS (getrusage's manual pages).
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)


def _maps(lot_file: Path, jobs: int) -> tuple[float, float, int]:
    """Draw all maps in processes of their own; seconds, their largest memory in MB, bytes.

    The memory is that of all these processes together, what they share counted once.
    """
    os.environ["LOKY_MAX_CPU_COUNT"] = str(jobs)
    lot = open_lot(lot_file)
    most, is_over = [_family_mb()], threading.Event()

    def watch() -> None:
        while not is_over.wait(0.5):
            most.append(_family_mb())

    watcher = threading.Thread(target=watch)
    watcher.start()
    begun = time.monotonic()
    size = len(maps_zip(lot))
    took = time.monotonic() - begun
    is_over.set()
    watcher.join()
    lot.close()
    # This process ends without saying goodbye to those it began.
    get_reusable_executor().shutdown(wait=True)
    return took, max(most), size


def _family_mb() -> float:
    """Return the memory of this process and all that it began, MB; shared pages counted once."""
    if sys.platform != "linux":
        return _most_memory_mb()
    parents, total = {}, 0.0
    for place in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, ValueError):
            # The name in brackets may hold anything (proc(5)).
            parents[int(place.name)] = int(
                (place / "stat").read_text().rsplit(")", 1)[1].split()[1]
            )
    family = {os.getpid()}
    while more := {id for id, parent in parents.items() if parent in family} - family:
        family |= more
    for id in family:
        with contextlib.suppress(OSError):
            rolled = Path(f"/proc/{id}/smaps_rollup").read_text()
            total += int(rolled.split("Pss:")[1].split()[0]) / 1e3
    return total


def grow(folder: Path, sizes: list[int], jobs: int, work: int, results: Path | None) -> list[Row]:
    """Let a lot grow through the sizes and measure every stage at each."""
    samples = find_samples()
    assert samples is not None
    former = sorted(results.glob("*/board.json")) if results else []
    output, lot_file = folder / "boards", folder / "long.lot"
    output.mkdir(parents=True)
    lot = open_lot(lot_file)
    since: dict[str, float] = dict.fromkeys(STAGES, 0.0)
    done, actions, rows = 0, 0, []
    for size in sizes:
        new = range(done, size)
        done = size
        begun = time.monotonic()
        if former:
            for number in new:
                _copied(number, former, output)
        else:
            list(work_through(_scanned, [(n, samples, output) for n in new], cores=jobs))
        since["scan"] += time.monotonic() - begun
        begun = time.monotonic()
        for number in new:
            place = output / f"B{number:03d}"
            take_board(lot, read_board(place / "board.json"), place, {})
        since["take in"] += time.monotonic() - begun
        took = [second for n in new for second in _say_all(lot, f"B{n:03d}")]
        since["confirm"] += sum(took)
        actions += len(took)
        set_parts(lot, _PARTS.format(two=2 * size, one=size, half=max(1, size // 2)), "parts.csv")
        begun = time.monotonic()
        plan_lot(lot, Work(work))
        since["place"] = time.monotonic() - begun
        saved = lot.layout()
        assert saved is not None
        summary = saved.layout.summary
        # Started anew: a fork of a process that has threads may wait for ever for their locks.
        with ProcessPoolExecutor(1, get_context("spawn")) as alone:
            since["maps"], maps_mb, _ = alone.submit(_maps, lot_file, jobs).result()
        begun = time.monotonic()
        again = open_lot(lot_file)
        assert len(again.boards()) == size and parts_of(again)
        again.close()
        since["open"] = time.monotonic() - begun
        begun = time.monotonic()
        export_lot(lot, folder / "long.zip")
        since["pack"] = time.monotonic() - begun
        since["page"] = _page_after_a_tap(lot, f"B{size - 1:03d}")
        rows.append(
            Row(size, 2 * size, dict(since), actions, max(took), _memory_mb(),
                max(maps_mb, _most_memory_mb()), lot_file.stat().st_size / 1e6,
                f"{summary.placed} of {summary.asked}")
        )  # fmt: skip
        _print(rows[-1])
    lot.close()
    return rows


def _print(row: Row) -> None:
    stages = " ".join(
        f"{row.seconds[name]:8.3f}" if name == "page" else f"{row.seconds[name]:8.1f}"
        for name in STAGES
    )
    print(
        f"{row.boards:6} {row.photos:6} {stages} {row.actions:7} {1000 * row.slowest_action_s:8.0f}"
        f" {row.memory_mb:7.0f} {row.most_memory_mb:7.0f} {row.lot_mb:6.1f}  {row.placed}",
        flush=True,
    )


def growth(rows: list[Row], stage: str) -> float:
    """Return the power of the number of boards that a stage's time grew with."""
    first, last = rows[0], rows[-1]
    low, high = first.seconds[stage], last.seconds[stage]
    if min(low, high) <= 0 or first.boards == last.boards:
        return math.nan
    return math.log(high / low) / math.log(last.boards / first.boards)


def main() -> None:
    """Print the table and keep the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    asked.add_argument("--sizes", default="25,50,100,200")
    asked.add_argument("--work", type=int, default=30, help="search steps of each placing")
    asked.add_argument("--results", type=Path, help="boards scanned before: nothing is scanned")
    options = asked.parse_args()
    sizes = [int(size) for size in options.sizes.split(",")]
    print(
        f"{'boards':>6} {'photos':>6} {' '.join(f'{name:>8}' for name in STAGES)} {'actions':>7}"
        f" {'slowest':>8} {'MB now':>7} {'MB most':>7} {'lot MB':>6}  placed"
        "      (seconds; slowest action in ms)"
    )
    folder = Path(tempfile.mkdtemp(prefix="endurance-"))
    try:
        rows = grow(folder, sizes, options.jobs, options.work, options.results)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    powers = {name: growth(rows, name) for name in STAGES}
    print("growth " + ", ".join(f"{name} {power:.2f}" for name, power in powers.items()))
    last = rows[-1]
    known = {name: powers[name] for name in _LINEAR if not math.isnan(powers[name])}
    worst = max(known.values())
    each = ", ".join(f"{name} {power:.2f}" for name, power in known.items())
    command = f"python -m tests.bench.endurance --jobs {options.jobs} --sizes {options.sizes}"
    scanned = "boards scanned before, copied" if options.results else "scanned from sample pictures"
    keep(
        Bench(
            "endurance", "A lot that grows",
            f"{last.boards} boards, {last.photos} photos: {scanned}, under other names",
            command,
            (
                Figure("Stages that are done once a board: time grows with the boards' power",
                       f"{worst:.2f} ({each})", f"{_BAR_GROWTH}", worst <= _BAR_GROWTH),
                Figure(f"Scanning on {options.jobs} cores, s", f"{last.seconds['scan']:.0f}"),
                Figure(f"Largest memory of any stage but the scans, {options.jobs} processes, MB",
                       f"{last.most_memory_mb:.0f}", f"{_BAR_MEMORY_MB:.0f}",
                       last.most_memory_mb <= _BAR_MEMORY_MB),
                Figure("Slowest action of the last step, s", f"{last.slowest_action_s:.2f}"),
                Figure("What the page says after a tap, s", f"{last.seconds['page']:.3f}"),
                Figure("Placing all parts, s", f"{last.seconds['place']:.0f}"),
                Figure("Drawing all maps, s", f"{last.seconds['maps']:.0f}"),
            ),
        )
    )  # fmt: skip


if __name__ == "__main__":
    main()
