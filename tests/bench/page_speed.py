"""How quick the page is: first page cold, a tap until it is kept, memory with many boards.

``python -m tests.bench.page_speed [--boards 40] [--edits 60] [--starts 3]``: the page in a process
of its own, a real browser on the same machine, its cache empty. The board that is tapped on is
12 ft long with a picture at 0.5 mm per px and 20 flaws of 12 corners; what is tapped is timed in
the browser, from the tap to the answer that it is kept on disk. Needs chromium
(`tests/ui/need_chromium.sh`), Linux for the memory.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image
from shapely import affinity
from shapely.geometry import Polygon, box

from scanner.app.lot.open_lot import fill_from_results, open_lot
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.files.board_file import board_json
from tests import common
from tests.bench.figures import Bench, Figure, keep
from tests.ui.conftest import DESK, chromium_arguments, find_chromium, start_page

if TYPE_CHECKING:
    from scanner.board.board import Board

_LENGTH_MM, _WIDTH_MM, _MM_PER_PX = 3657.6, 220.0, 0.5
_FLOOR_MM = 15.0
_FLAWS, _CORNERS = 20, 12
_PATIENCE_MS = 120_000
_PORT = "8795"
# The parts follow a second after the last tap: so the placing goes on beside these taps.
_PAUSE_S = 1.3
# The bars: 3 s, 0.3 s, 400 MB.
_COLD_S, _TAP_S, _MEMORY_MB = 3.0, 0.3, 400.0
_PARTS = """name,quantity,length,width,thickness,faces,species
rail,{n},610,70,19,both,white ash
seat slat,{n},1000,70,19,show,white ash
stretcher,{n},675,58,19,sound,white ash
"""
# A tap is done when the outbox kept for a reload holds nothing any more.
_TAP = """async () => {
    const inside = (name) => [...document.querySelectorAll("*")]
        .map((node) => node.shadowRoot?.querySelector(name)).find(Boolean);
    const bench = inside(".bench");
    const button = [...bench.querySelectorAll("button")]
        .find((one) => one.textContent === "Not a flaw");
    const left = () => Object.keys(sessionStorage)
        .filter((name) => name.startsWith("bothfaces:"))
        .some((name) => JSON.parse(sessionStorage[name]).outbox.length);
    const begun = performance.now();
    button.click();
    if (!left()) throw new Error("the tap went into no outbox");
    while (left()) await new Promise((done) => setTimeout(done, 4));
    return performance.now() - begun;
}"""


def long_board(id: str) -> Board:
    """Return a 12 ft board with 20 flaws of 12 corners on both faces."""
    outline = box(0.0, 0.0, _LENGTH_MM, _WIDTH_MM)
    plain = common.plain_board(id, _LENGTH_MM, _WIDTH_MM, looked_over=False)
    faces = {
        number: replace(
            plain.faces[1],
            outline=outline,
            photos=(f"{id}-{number}.jpg",),
            picture=f"{id}-face{number}.jpg",
            mm_per_px=_MM_PER_PX,
            picture_origin=(-_FLOOR_MM, -_FLOOR_MM),
            rule="strip",
            u_scale=0.0006,
        )
        for number in (1, 2)
    }
    flaws = tuple(_flaw(number) for number in range(1, _FLAWS + 1))
    return replace(
        plain, faces=faces, flaws=flaws, length=Measured(_LENGTH_MM, 3.0), turned="sideways"
    )


def _flaw(number: int) -> Flaw:
    angles = np.linspace(0, 2 * np.pi, _CORNERS, endpoint=False)
    ring = np.column_stack([14 * np.cos(angles), 10 * np.sin(angles)])
    x = number * _LENGTH_MM / (_FLAWS + 1)
    y = _WIDTH_MM * (0.25 + 0.5 * (number % 3) / 2)
    knot = affinity.translate(Polygon(ring), x, y)
    return Flaw(
        f"F{number}", FlawKind.KNOT, {1: knot, 2: knot}, None, True, None,
        FlawState.POSSIBLE, 0.5 + number / 100, "dark round spot", 1.0,
    )  # fmt: skip


def write_lot(file: Path, boards: int) -> None:
    """Write a lot of long boards with pictures of their own, and parts for half of them."""
    grain = np.random.default_rng(900)
    size = [round((side + 2 * _FLOOR_MM) / _MM_PER_PX) for side in (_WIDTH_MM, _LENGTH_MM)]
    with tempfile.TemporaryDirectory() as folder:
        results = Path(folder)
        for number in range(1, boards + 1):
            board = long_board(f"B{number:02d}")
            place = results / board.id
            place.mkdir()
            (place / "board.json").write_text(board_json(board), encoding="utf-8")
            for face in board.faces.values():
                lines = grain.normal(0, 9, (size[0], 1)) + grain.normal(0, 5, size)
                wood = np.clip(np.array([190, 160, 120]) + lines[..., None], 0, 255)
                picture = Image.fromarray(wood.astype(np.uint8))
                picture.save(place / str(face.picture), quality=88)
        (results / "parts.csv").write_text(_PARTS.format(n=boards), encoding="utf-8")
        lot = open_lot(file)
        fill_from_results(lot, results)
        lot.close()


def memory_mb(process: int) -> float:
    """Return the most memory that a process has held so far (Linux: VmHWM), MB."""
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    most = next(line for line in lines if line.startswith("VmHWM"))
    return int(most.split()[1]) * 1024 / 1e6


def cpu_s(process: int) -> float:
    """Return the CPU seconds that a process has used so far (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def browsers_cpu_s(but: int) -> float:
    """Return the CPU seconds that this process's descendants used, one of them left out (Linux)."""
    parents = {}
    for place in Path("/proc").iterdir():
        try:
            fields = (place / "stat").read_text().rpartition(")")[2].split()
        except (OSError, ValueError):
            continue
        if place.name.isdecimal():
            parents[int(place.name)] = int(fields[1])
    found = {os.getpid()}
    while more := {one for one, parent in parents.items() if parent in found} - found - {but}:
        found |= more
    total = 0.0
    for one in found - {os.getpid()}:
        with contextlib.suppress(OSError):
            total += cpu_s(one)
    return total


@dataclass(frozen=True)
class _Cold:
    """A first page: seconds from its address and from the command; CPU seconds of both sides."""

    seconds: float
    with_start: float
    page_cpu: float
    browser_cpu: float


@dataclass(frozen=True)
class _Found:
    """Cold first pages; seconds of taps, CPU seconds of the page's process for one; MB."""

    cold: list[_Cold]
    taps: list[float]
    tap_cpu: float
    memory: float


def _open(page: Any, address: str) -> float:
    """Return the seconds until the first board can be tapped on."""
    begun = time.perf_counter()
    page.goto(address)
    page.get_by_role("button", name="Not a flaw").wait_for()
    return time.perf_counter() - begun


def _taps(page: Any, count: int) -> list[float]:
    """Return seconds from tap to answer; every third waits until parts are being placed."""
    found = []
    for number in range(count):
        if number % 3 == 2:
            time.sleep(_PAUSE_S)
        rows = page.locator(".list button")
        rows.nth(number % _FLAWS).click()
        page.wait_for_timeout(60)
        found.append(page.evaluate(_TAP) / 1000)
    return found


def measure(boards: int, edits: int, starts: int) -> _Found:
    """Start the page ``starts`` times; tap and look at the memory in the last of them."""
    from playwright.sync_api import sync_playwright

    chromium = find_chromium()
    if chromium is None:
        raise SystemExit("No chromium here: run tests/ui/need_chromium.sh.")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home = Path(folder)
        for name, count in (("one", 1), ("many", boards)):
            write_lot(home / f"{name}.lot", count)
        browser = playwright.chromium.launch(executable_path=chromium, args=chromium_arguments())
        cold, taps, tap_cpu, memory = [], [], 0.0, 0.0
        for start in range(starts):
            begun = time.perf_counter()
            running = start_page(home, "--port", _PORT)
            before = browsers_cpu_s(running.process.pid)
            context = browser.new_context(**DESK)
            page = context.new_page()
            page.set_default_timeout(_PATIENCE_MS)
            try:
                seconds = _open(page, f"{running.address}/flaws?lot=one")
                cold.append(
                    _Cold(
                        seconds,
                        time.perf_counter() - begun,
                        cpu_s(running.process.pid),
                        browsers_cpu_s(running.process.pid) - before,
                    )
                )
                print(cold[-1], flush=True)
                if start == starts - 1:
                    before = cpu_s(running.process.pid)
                    taps = _taps(page, edits)
                    tap_cpu = (cpu_s(running.process.pid) - before) / edits
                    print(f"taps {np.quantile(taps, [0.5, 0.95])}, CPU {tap_cpu:.3f}", flush=True)
                    _open(page, f"{running.address}/flaws?lot=many")
                    # A lot with parts and no layout is placed, and drawn again, before long.
                    page.wait_for_timeout(5000)
                    _taps(page, 3)
                    for step in ("parts", "boards", "layout", "cut", "flaws"):
                        page.goto(f"{running.address}/{step}?lot=many")
                        page.locator(".road button[aria-current]").wait_for()
                        page.wait_for_timeout(5000)
                        print(f"{step}: {memory_mb(running.process.pid):.0f} MB", flush=True)
                    memory = memory_mb(running.process.pid)
            finally:
                context.close()
                running.stop()
        browser.close()
    return _Found(cold, taps, tap_cpu, memory)


def main() -> None:
    """Measure, print and keep."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--boards", type=int, default=40)
    reader.add_argument("--edits", type=int, default=60)
    reader.add_argument("--starts", type=int, default=3)
    chosen = reader.parse_args()
    found = measure(chosen.boards, chosen.edits, chosen.starts)
    cold, memory = [one.seconds for one in found.cold], found.memory
    whole = np.median([one.with_start for one in found.cold])
    page_cpu = np.median([one.page_cpu for one in found.cold])
    browser_cpu = np.median([one.browser_cpu for one in found.cold])
    p50, p95 = np.quantile(found.taps, [0.5, 0.95])
    load = os.getloadavg()[1]
    figures = (
        Figure(
            "first page, cold: server and browser just started, until a flaw can be tapped",
            f"{np.median(cold):.1f} s (worst of {len(cold)}: {max(cold):.1f} s)",
            f"under {_COLD_S:.0f} s",
            max(cold) < _COLD_S,
        ),
        Figure(
            "a tap until it is kept, 95th percentile",
            f"{p95:.2f} s (median {p50:.2f} s, {len(found.taps)} taps)",
            f"under {_TAP_S} s",
            bool(p95 < _TAP_S),
        ),
        Figure(
            "the same from the command on, the start of the page counted in",
            f"{whole:.1f} s",
        ),
        Figure(
            "CPU time however busy the machine: the page's process from its start to the first "
            "page; the browser for it; the page's process for a tap",
            f"{page_cpu:.1f} s; {browser_cpu:.1f} s; {1000 * found.tap_cpu:.0f} ms",
        ),
        Figure(
            f"memory of the page's process at its highest, {chosen.boards} boards",
            f"{memory:.0f} MB",
            f"under {_MEMORY_MB:.0f} MB",
            memory < _MEMORY_MB,
        ),
    )
    for figure in figures:
        print(f"{figure.claim}: {figure.figure} (aim: {figure.bar})")
    keep(
        Bench(
            name="page",
            title="The page",
            data=(
                f"12 ft boards, pictures at 0.5 mm per px, {_FLAWS} flaws of {_CORNERS} corners "
                f"each; browser on the same machine, load {load:.1f} over five minutes"
            ),
            command="python -m tests.bench.page_speed",
            figures=figures,
        )
    )


if __name__ == "__main__":
    main()
