"""Take the pictures of the page for docs/: ``python -m tests.ui.take_pictures [--from out/demo]``.

Works on a copy of the demo's results, so that nothing said in the demo's own lot shows or changes.
"""

import argparse
import io
import shutil
import tempfile
from pathlib import Path

from PIL import Image

from tests.ui.conftest import DESK, PHONE, chromium_arguments, find_chromium, start_page

_ROOT = Path(__file__).resolve().parents[2]
# Pictures in a repository stay small: 224 colours are enough for wood and letters.
_COLOURS = 224
_PATIENCE_MS = 60_000
_STEPS = ("Parts", "Boards", "Check the flaws", "Layout", "Cut")


def take_pictures(results: Path, docs: Path, every: Path | None = None) -> None:
    """Write page.png and page-phone.png; with ``every``, each step at both sizes in that folder."""
    from playwright.sync_api import sync_playwright

    chromium = find_chromium()
    if chromium is None:
        raise SystemExit("No chromium here: run tests/ui/need_chromium.sh.")
    with tempfile.TemporaryDirectory() as home, sync_playwright() as playwright:
        copy = Path(home) / "out" / "demo"
        shutil.copytree(results, copy, ignore=shutil.ignore_patterns("*.lot*"))
        running = start_page(Path(home), "--port", "8790", "--lot", str(copy / "hall bench.lot"))
        browser = playwright.chromium.launch(executable_path=chromium, args=chromium_arguments())
        try:
            for name, size in (("page", DESK), ("page-phone", PHONE)):
                page = browser.new_context(**size).new_page()
                page.set_default_timeout(_PATIENCE_MS)
                page.goto(running.address)
                page.get_by_role("button", name="Yes, a flaw").wait_for()
                page.locator(".part.current").first.wait_for(state="attached")
                _keep_picture(page, docs / f"{name}.png")
                for step in _STEPS if every else ():
                    page.locator(".road button").filter(has_text=step).click()
                    page.locator(".road button[aria-current]").filter(has_text=step).wait_for()
                    _keep_picture(page, every / f"{name}-{step.split()[0].lower()}.png")
        finally:
            browser.close()
            running.stop()


def _keep_picture(page: object, file: Path) -> None:
    # The picture of a face is decoded after it has come.
    page.wait_for_timeout(2000)
    file.parent.mkdir(parents=True, exist_ok=True)
    with Image.open(io.BytesIO(page.screenshot())) as shot:
        small = shot.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    small.save(file, optimize=True)
    print(f"{file}: {file.stat().st_size / 1000:.0f} kB")


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--from", dest="results", type=Path, default=_ROOT / "out" / "demo")
    reader.add_argument("--docs", type=Path, default=_ROOT / "docs")
    reader.add_argument("--every", type=Path, help="a folder for pictures of every step")
    chosen = reader.parse_args()
    take_pictures(chosen.results, chosen.docs, chosen.every)


if __name__ == "__main__":
    main()
