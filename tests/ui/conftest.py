"""A running page and a browser to look at it with."""

import itertools
import os
import queue
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from scanner.app.lot.open_lot import fill_from_results, open_lot
from tests.ui.made_results import write_results
from tests.ui.page_runs import home, sample  # noqa: F401 (fixtures of all tests here)

_ROOT = Path(__file__).parents[2]
# Names of the same browser on Debian, other Linux and macOS.
_NAMES = ("chromium", "chromium-browser", "google-chrome")
# Under a second and a half here: a page that has not started by then never will.
_START_S = 240
# The last three keep the browser from asking its maker's servers.
_ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# Only a page that hangs waits so long: on busy cores all takes many times longer.
PATIENCE_MS = 120_000
DESK = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@dataclass
class RunningPage:
    """The page in a process of its own, over a folder with the demo's results."""

    home: Path
    address: str
    process: subprocess.Popen[str]
    lines: "queue.Queue[str]"

    def hear(self, pattern: str) -> str:
        """Return the first match of a pattern in what the page says from here on."""
        while (found := re.search(pattern, self.lines.get(timeout=_START_S))) is None:
            pass
        return found.group()

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(_START_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise


def start_page(folder: Path, *arguments: str, python_path: str = "") -> RunningPage:
    """Start the page and wait until it has said its address."""
    process = subprocess.Popen(
        [sys.executable, "-m", "ui.launch", *arguments],
        cwd=folder,
        env=os.environ
        | {"PYTHONPATH": os.pathsep.join([str(_ROOT), python_path]), "OMP_NUM_THREADS": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    lines: queue.Queue[str] = queue.Queue()

    def pass_on() -> None:
        assert process.stdout is not None
        for line in process.stdout:
            lines.put(line)

    threading.Thread(target=pass_on, daemon=True).start()
    heard = ""
    while (found := re.search(r"http://[\d.]+:\d+", heard)) is None:
        try:
            heard += lines.get(timeout=_START_S)
        except queue.Empty:
            process.kill()
            raise AssertionError(f"the page did not start: {heard}") from None
    return RunningPage(folder, found.group(), process, lines)


def find_chromium() -> str | None:
    """Return the program that shows pages, None where there is none."""
    return next((found for name in _NAMES if (found := shutil.which(name))), None)


def chromium_arguments() -> list[str]:
    """Return how the browser is started: no screen, and no word with its maker."""
    return list(_ARGUMENTS)


def first_port() -> str:
    """Return where this worker's pages look for a free port, apart from other workers' pages."""
    worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0")
    return str(8700 + 20 * int(worker.removeprefix("gw")))


@pytest.fixture
def own_page(tmp_path: Path) -> Iterator[RunningPage]:
    """A page that the test may stop and start; it has the demo's results."""
    write_results(tmp_path / "out" / "demo")
    page = start_page(tmp_path, "--port", first_port())
    yield page
    page.stop()


@pytest.fixture(scope="session")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningPage]:
    """One page for all tests; each opens a lot of its own in it."""
    folder = tmp_path_factory.mktemp("home")
    write_results(folder / "results")
    page = start_page(folder, "--port", first_port())
    yield page
    page.stop()


@dataclass(frozen=True)
class LotOnPage:
    """A lot file, and the address that opens it."""

    file: Path
    address: str


_numbers = itertools.count(1)


@pytest.fixture
def lot(running: RunningPage) -> LotOnPage:
    """A fresh lot: an ash board nobody looked over, a walnut board that is done, a layout."""
    file = running.home / f"lot-{next(_numbers)}.lot"
    fresh = open_lot(file)
    fill_from_results(fresh, running.home / "results")
    fresh.close()
    return LotOnPage(file, f"{running.address}/?lot={file.stem}")


@pytest.fixture
def empty_lot(running: RunningPage) -> LotOnPage:
    """A fresh lot with nothing in it."""
    file = running.home / f"empty-{next(_numbers)}.lot"
    open_lot(file).close()
    return LotOnPage(file, f"{running.address}/?lot={file.stem}")


class _Browser:
    """The browser, from the first test that looks at a page to the last of them in a row.

    To start it and to load the page anew in each file of tests took a tenth of their CPU. It may
    not stay open for other tests: while it does, none can run an event loop of its own.
    """

    def __init__(self) -> None:
        self._playwright = self._browser = None
        self._contexts: dict[str, object] = {}

    def context(self, size: dict[str, object]):
        """Return the context for a kind of window; what the page is made of is loaded once."""
        if self._browser is None:
            self._start()
        kind = repr(size)
        if kind not in self._contexts:
            self._contexts[kind] = self._browser.new_context(**size)
            self._contexts[kind].set_default_timeout(PATIENCE_MS)
            _keep_warm(self._contexts[kind])
        return self._contexts[kind]

    def _start(self) -> None:
        name = find_chromium()
        if name is None:
            pytest.skip("no chromium here: tests/ui/need_chromium.sh says how to get it")
        sync = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
        self._playwright = sync.sync_playwright().start()
        # One process draws all windows of a context: see `_keep_warm`.
        self._browser = self._playwright.chromium.launch(
            executable_path=name, args=[*chromium_arguments(), "--process-per-site"]
        )

    def close(self) -> None:
        """Close the browser with all its windows; the next test that needs it starts another."""
        if self._browser is not None:
            self._browser.close()
        if self._playwright is not None:
            self._playwright.stop()
        self._playwright = self._browser = None
        self._contexts = {}


_BROWSER = _Browser()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    """Close the browser before a test that does not look at a page."""
    try:
        return (yield)
    finally:
        if nextitem is None or nextitem.get_closest_marker("browser") is None:
            _BROWSER.close()


@dataclass
class Visit:
    """A window on the page; remembers what it asked for and what went wrong in it."""

    page: object
    asked: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("websocket", lambda socket: self.asked.append(socket.url))
        self.page.on("pageerror", lambda error: self.problems.append(str(error)))
        self.page.on("console", self._hear)

    def _hear(self, said: object) -> None:
        # Opened at a step, Streamlit asks for its health beside that step first and gets a 404.
        if said.type == "error" and "/_stcore/" not in said.location["url"]:
            self.problems.append(said.text)


_QUIET = """() => new Promise((done) => {
    const moves = (one) => one.playState === "running" &&
        one.effect?.getTiming().iterations !== Infinity;
    let since = performance.now();
    const look = () => {
        const rests = document.querySelector("[data-test-script-state=notRunning]") &&
            !document.querySelector("[data-stale=true]") && !document.getAnimations().some(moves);
        if (!rests) since = performance.now();
        if (performance.now() - since > 500) done(true);
        else setTimeout(look, 50);
    };
    look();
})"""


def settle(page) -> None:
    """Wait until the page's program has run to its end and half a second nothing moved."""
    page.wait_for_function(_QUIET)


# Two looks that agree say little while a busy browser draws nothing: frames are counted as well.
_AT_REST = """(node) => new Promise((done) => {
    let was = "", since = 0, frames = 0;
    const look = () => {
        const box = node.getBoundingClientRect();
        const is = [box.x, box.y, box.width, box.height].join();
        if (is !== was) [was, since, frames] = [is, performance.now(), 0];
        frames += 1;
        if (frames > 6 && performance.now() - since > 150) done(true);
        else requestAnimationFrame(look);
    };
    look();
})"""


def at_rest(locator):
    """Return where something lies on the screen once it moves no more."""
    locator.evaluate(_AT_REST)
    return locator.bounding_box()


def wider_than_screen(page) -> int:
    """Return by how many pixels a page would have to be scrolled sideways.

    Held against the screen: a phone makes its window as wide as what does not fit. What scrolls is
    not the document but Streamlit's main part of it.
    """
    wide = page.evaluate("""() => Math.max(document.documentElement.scrollWidth,
        ...[...document.querySelectorAll("[data-testid=stMain]")].map((main) => main.scrollWidth))
    """)
    return wide - page.viewport_size["width"]


def until(page, is_so: Callable[[], object]) -> None:
    """Look again and again until something is so."""
    end = time.monotonic() + PATIENCE_MS / 1000
    while not is_so():
        assert time.monotonic() < end, "it has not come"
        page.wait_for_timeout(100)


# A run of the page's program fades what it has not drawn again yet.
_WATCH = """() => {
    window.itRan = false;
    window.watcher?.disconnect();
    window.watcher = new MutationObserver(() => { window.itRan = true; });
    window.watcher.observe(document.body, {subtree: true,
        attributeFilter: ["data-stale", "data-test-script-state", "data-test-connection-state"]});
}"""
_RAN = """() => window.itRan || document.querySelector("[data-stale=true]") !== null ||
    document.querySelector("[data-test-script-state=notRunning]") === null"""
_MOST_LOOKS = 4


def serious_in(page, *rules: str) -> list[tuple[str, list[str]]]:
    """Return what axe finds serious on a page at rest: the rule, and the first elements.

    Axe looks for seconds on a busy machine. What it finds while the page's program ran again is
    looked for once more when that is done.
    """
    for _ in range(_MOST_LOOKS):
        page.evaluate(_WATCH)
        found = _seen_by_axe(page, *rules)
        if not found or not page.evaluate(_RAN):
            break
        settle(page)
    return found


def _seen_by_axe(page, *rules: str) -> list[tuple[str, list[str]]]:
    from axe_core_python.sync_playwright import Axe

    # To list whatever is right as well takes half the time.
    options: dict[str, object] = {"resultTypes": ["violations"]}
    if rules:
        options["runOnly"] = {"type": "rule", "values": list(rules)}
    return [
        (found["id"], [node["html"][:160] for node in found["nodes"][:4]])
        for found in Axe().run(page, options=options)["violations"]
        if found["impact"] in ("serious", "critical")
    ]


def all_sent(page) -> None:
    """Wait until the server has answered whatever was said in this window."""
    page.wait_for_function("""() => Object.keys(sessionStorage)
        .filter((name) => name.startsWith("bothfaces:"))
        .every((name) => !JSON.parse(sessionStorage[name]).outbox.length)""")


def _keep_warm(context) -> None:
    """Keep a blank window open, whose process draws all later ones of this kind.

    It has compiled what the page is made of: a window opened in a new process takes twice the CPU.
    A site is a host, whatever the port.
    """
    blank = context.new_page()
    blank.route("**/*", lambda asked: asked.fulfill(body="", content_type="text/html"))
    blank.goto("http://127.0.0.1/")


@pytest.fixture
def visit():
    """Open windows, each with a session and a memory of its own; they close after the test."""
    opened = []

    def open_window(size: dict[str, object], **more: object) -> Visit:
        opened.append(_BROWSER.context({**size, **more}).new_page())
        return Visit(opened[-1])

    yield open_window
    for page in opened:
        page.close()
