"""Take the pictures of the page for docs/: ``python -m tests.ui.take_pictures [--from out/demo]``.

Works on a copy of the demo's results, so that nothing said in the demo's own lot shows or changes.
``--pages`` takes every page at both sizes into docs/pages/ instead, with the guide to them.
"""

import argparse
import io
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from PIL import Image

from scanner.app.cutting.tick_parts import tick
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.placing.place_again import plan_lot
from scanner.placement.stop import Work
from tests.ui.conftest import (
    DESK,
    PHONE,
    RunningPage,
    chromium_arguments,
    find_chromium,
    settle,
    start_page,
)
from ui.side_pages import SIDE_PAGES

_ROOT = Path(__file__).resolve().parents[2]
PICTURES = _ROOT / "docs" / "pages"
# Pictures in a repository stay small: 128 well-chosen colours are enough for wood and letters.
_COLOURS = 128
_PATIENCE_MS = 240_000
MOST_BYTES = 45_000
_QUALITIES = (45, 35, 25, 20, 15)
_SIZES = {"desk": DESK, "phone": PHONE}
_ABOVE_PX = 120
_LOT = "hall bench"
_SAMPLES = _ROOT / "sample_images"


def take_pictures(results: Path, docs: Path) -> None:
    """Write page.png and page-phone.png: a face with its possible flaws, at both sizes."""
    with _shown(results) as (running, browser):
        for name, size in (("page", DESK), ("page-phone", PHONE)):
            page = _open(browser, size)
            page.goto(running.address)
            page.get_by_role("button", name="Yes, a flaw").wait_for()
            page.locator(".part.current").first.wait_for(state="attached")
            _keep_png(page, docs / f"{name}.png")


@dataclass(frozen=True)
class ShownPage:
    """A page of the guide: its pictures' name, title, what it is for, what to do on it first.

    ``at`` is the end of its address where that is not its name.
    """

    name: str
    title: str
    says: str
    do: Callable[[Any], None] | None = None
    at: str = ""


def _leave_lot(page: Any) -> None:
    page.get_by_role("button", name="Other lots").click()
    page.get_by_role("button", name="Begin the lot").wait_for()


def _choose_photos(page: Any) -> None:
    page.get_by_text("Add boards from photos").click()
    files = [_SAMPLES / f"ash-02-face{face}.jpg" for face in (1, 2)]
    page.locator("input[type=file]").first.set_input_files(files)
    page.locator(".st-key-board-1 img").nth(1).wait_for()
    for file in files:
        page.get_by_text(f"{file.name}: This photo").wait_for()
    _up(page, page.locator(".st-key-board-1"))


def _look_alike(page: Any) -> None:
    page.get_by_text("Which boards look alike").click()
    # Nobody's board is chosen at first; a list of choices closes again if the page still scrolls.
    _up(page, page.get_by_text("Which boards look alike"))
    settle(page)
    page.get_by_role("combobox").click()
    page.get_by_role("option", name="B01").click()
    page.get_by_text("Colours are of the rough faces").wait_for()
    _up(page, page.get_by_text("Which boards look alike"))


def _show_laid_boards(page: Any) -> None:
    page.locator(".laid").first.wait_for()
    if page.viewport_size["width"] < DESK["viewport"]["width"]:
        page.wait_for_timeout(2000)
        _up(page, page.get_by_role("button", name="Face 1", exact=True))


def _show_marks(page: Any) -> None:
    page.get_by_text("Before the planer: marks that survive it").click()
    page.get_by_text("Chalk on a face goes").wait_for()
    _up(page, page.get_by_text("Before the planer: marks that survive it"))


def _up(page: Any, what: Any) -> None:
    """Scroll something to the top of the screen, with what stands just above it."""
    settle(page)
    what.evaluate("node => node.scrollIntoView({block: 'start'})")
    page.get_by_test_id("stMain").evaluate("(main, by) => main.scrollBy(0, -by)", _ABOVE_PX)


_ON = {"milling": _show_marks}
PAGES = (
    ShownPage(
        "start",
        "Start",
        "Open the sample, a lot of this folder, or begin one.",
        _leave_lot,
        "parts",
    ),
    ShownPage("parts", "Parts", "What is wanted, in finished sizes; the rough size beside it."),
    ShownPage("boards", "Boards", "What each board is, how good its sizes are, what is next."),
    ShownPage(
        "adding",
        "Boards: add some from photos",
        "Pairs are proposed, the rule found is drawn on each photo.",
        _choose_photos,
        "boards",
    ),
    ShownPage(
        "alike",
        "Boards: which look alike",
        "Colour and figure of the clear wood held against each other.",
        _look_alike,
        "boards",
    ),
    ShownPage("flaws", "Flaws", "Walk through what was found, one by one."),
    ShownPage(
        "layout",
        "Layout",
        "Parts on the photographed faces, to be moved and locked.",
        _show_laid_boards,
    ),
    ShownPage("cut", "Cut", "Board maps and story sticks; tick what became of each part."),
    *(ShownPage(p.name, p.title, p.says, _ON.get(p.name)) for p in SIDE_PAGES),
    ShownPage("help", "Help", "The guides, without a network."),
)


def take_pages(results: Path, folder: Path, only: Sequence[str] = ()) -> None:
    """Write every page, or only some, at both sizes as WebP, and README.md beside them."""
    folder.mkdir(parents=True, exist_ok=True)
    with _shown(results) as (running, browser):
        for page_of in (p for p in PAGES if not only or p.name in only):
            for size, how in _SIZES.items():
                page = _open(browser, how)
                at = page_of.at or page_of.name
                page.goto(f"{running.address}/{at}?lot={_LOT}")
                page.locator("h1, h2").first.wait_for()
                settle(page)
                if page_of.do is not None:
                    page_of.do(page)
                    settle(page)
                _keep_webp(page, folder / f"{page_of.name}-{size}.webp")
                page.context.close()
    (folder / "README.md").write_text(guide(), encoding="utf-8")


def guide() -> str:
    """Return the text that stands beside the pictures."""
    rows = [
        f"| **{p.title}**<br>{p.says} | ![{p.title}, at a desk]({p.name}-desk.webp) "
        f"| ![{p.title}, on a phone]({p.name}-phone.webp) |"
        for p in PAGES
    ]
    return "\n".join(
        [
            "# Every page, at a desk and on a phone",
            "",
            "The sample lot (rendered boards, no photographs) at 1440 x 900 and at 390 x 844.",
            "Taken by `python -m tests.ui.take_pictures --pages` from the results of `make demo`.",
            "",
            "| what it is for | at a desk | on a phone |",
            "|---|---|---|",
            *rows,
            "",
        ]
    )


@contextmanager
def _shown(results: Path) -> Iterator[tuple[RunningPage, Any]]:
    """Serve a copy of the results to a browser."""
    from playwright.sync_api import sync_playwright

    chromium = find_chromium()
    if chromium is None:
        raise SystemExit("No chromium here: run tests/ui/need_chromium.sh.")
    with tempfile.TemporaryDirectory() as home, sync_playwright() as playwright:
        copy = Path(home) / "out" / "demo"
        shutil.copytree(results, copy, ignore=shutil.ignore_patterns("*.lot*"))
        file = Path(home) / f"{_LOT}.lot"
        _look_over(copy, file)
        running = start_page(Path(home), "--port", "8790", "--lot", str(file))
        browser = playwright.chromium.launch(executable_path=chromium, args=chromium_arguments())
        try:
            yield running, browser
        finally:
            browser.close()
            running.stop()


def _look_over(results: Path, file: Path) -> None:
    """Fill a lot: its last boards are looked over, their parts laid out and one of them cut."""
    lot = open_lot(file)
    fill_from_results(lot, results)
    done = [board.id for board in lot.boards()][-3:]
    for board in lot.boards():
        if board.id in done:
            seen = replace(
                board,
                faces={n: replace(face, looked_over=True) for n, face in board.faces.items()},
                ends={n: replace(end, looked_over=True) for n, end in board.ends.items()},
            )
            lot.save_board(seen, new_stamp(lot))
    # What is looked over counts no more at its worst.
    plan_lot(lot, Work(200))
    saved = lot.layout()
    assert saved is not None
    for number, p in enumerate(p for p in saved.layout.placements if p.board in done):
        for state in ("laid_out", "cut") if number == 0 else ("laid_out",):
            tick(lot, new_stamp(lot), (p.part, p.copy), p.board, (p.x_mm, p.y_mm), state)
    lot.close()


def _open(browser: Any, size: dict[str, Any]) -> Any:
    page = browser.new_context(**size).new_page()
    page.set_default_timeout(_PATIENCE_MS)
    return page


def _shot(page: Any) -> Image.Image:
    # The picture of a face is decoded after it has come.
    page.wait_for_timeout(2000)
    with Image.open(io.BytesIO(page.screenshot())) as shot:
        return shot.convert("RGB")


def _keep_png(page: Any, file: Path) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    small = _shot(page).quantize(_COLOURS, kmeans=1, dither=Image.Dither.NONE)
    small.save(file, optimize=True)
    print(f"{file}: {file.stat().st_size / 1000:.0f} kB")


def _keep_webp(page: Any, file: Path) -> None:
    """Keep what is shown, in the best of a few qualities that is small enough."""
    shot = _shot(page)
    for quality in _QUALITIES:
        shot.save(file, quality=quality, method=6)
        if file.stat().st_size <= MOST_BYTES:
            break
    print(f"{file}: {file.stat().st_size / 1000:.0f} kB, quality {quality}", flush=True)


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--from", dest="results", type=Path, default=_ROOT / "out" / "demo")
    reader.add_argument("--docs", type=Path, default=_ROOT / "docs")
    reader.add_argument(
        "--pages", nargs="*", help="every page at both sizes, or those of these names"
    )
    chosen = reader.parse_args()
    if chosen.pages is not None:
        take_pages(chosen.results, chosen.docs / "pages", chosen.pages)
    else:
        take_pictures(chosen.results, chosen.docs)


if __name__ == "__main__":
    main()
