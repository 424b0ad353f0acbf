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


def take_pictures(results: Path, docs: Path) -> None:
    """Write page.png and page-phone.png."""
    from playwright.sync_api import sync_playwright

    chromium = find_chromium()
    if chromium is None:
        raise SystemExit("No chromium here: run tests/ui/need_chromium.sh.")
    docs.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as home, sync_playwright() as playwright:
        copy = Path(home) / "out" / "demo"
        shutil.copytree(results, copy, ignore=shutil.ignore_patterns("*.lot*"))
        running = start_page(Path(home), "--port", "8790", "--lot", str(copy / "hall bench.lot"))
        browser = playwright.chromium.launch(executable_path=chromium, args=chromium_arguments())
        try:
            for name, size in (("page.png", DESK), ("page-phone.png", PHONE)):
                page = browser.new_context(**size).new_page()
                page.goto(running.address, timeout=_PATIENCE_MS)
                page.get_by_role("button", name="Yes, a flaw").wait_for(timeout=_PATIENCE_MS)
                page.locator(".part.current").first.wait_for(state="attached", timeout=_PATIENCE_MS)
                # The picture of a face is decoded after it has come.
                page.wait_for_timeout(2000)
                with Image.open(io.BytesIO(page.screenshot())) as shot:
                    small = shot.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
                small.save(docs / name, optimize=True)
                print(f"{docs / name}: {(docs / name).stat().st_size / 1000:.0f} kB")
        finally:
            browser.close()
            running.stop()


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--from", dest="results", type=Path, default=_ROOT / "out" / "demo")
    reader.add_argument("--docs", type=Path, default=_ROOT / "docs")
    chosen = reader.parse_args()
    take_pictures(chosen.results, chosen.docs)


if __name__ == "__main__":
    main()
