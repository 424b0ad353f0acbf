"""How tests are handed to several workers, and what they may leave out."""

import gc
import subprocess
import sys
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path

import pytest

from tests.long_files import FIRST, SECONDS

_SCANNER = Path(__file__).parents[1] / "scanner"
# What the tests of a file that was not timed take, about.
_BROWSER_S, _SLOW_S, _FAST_S = 6.0, 2.0, 0.03
_COMPILE = """
from scanner.placement import proof_time, solve
solve.warm_up()
proof_time._warm_up()
"""
_COMPILING: pytest.StashKey["subprocess.Popen[bytes]"] = pytest.StashKey()


def _together(nodeid: str) -> str:
    """Return what a test shares with others: its file."""
    return nodeid.split("::", 1)[0]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Send each file to one worker, so that what its tests share is made once.

    Each worker has a running page of its own, from a port of its own on.
    """
    from xdist.scheduler import LoadGroupScheduling

    class ByFile(LoadGroupScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return _together(nodeid)

    # Else those with most tests come first, and a slow file of few tests at the very end.
    config.option.loadscopereorder = False
    return ByFile(config, log) if config.getoption("dist") == "loadgroup" else None


def pytest_configure(config: pytest.Config) -> None:
    """Give drawn examples all the time they need: on a busy machine 0.2 s are nothing."""
    # Only the process that starts the workers has this option, and it runs no test.
    if config.getoption("numprocesses", None):
        return
    from hypothesis import settings

    # What was chosen otherwise (`tests.mutation`, a build server) has no deadline either.
    if settings.get_current_profile_name() == "default":
        settings.register_profile("no hurry", deadline=None)
        settings.load_profile("no hurry")


def pytest_sessionstart(session: pytest.Session) -> None:
    """In a fresh clone compile the search once, before each worker and the page do it."""
    config = session.config
    is_first = not any((_SCANNER / "placement" / "kernels").glob("__pycache__/*.nbi"))
    # Only the process that starts the workers has this option, and before it starts them.
    if not is_first or not config.getoption("numprocesses", None):
        return
    config.stash[_COMPILING] = subprocess.Popen([sys.executable, "-c", _COMPILE])
    # A whole run begins with long tests that search nothing; any other may search at once.
    is_whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    if not is_whole or config.getoption("markexpr"):
        config.stash[_COMPILING].wait()


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Leave nothing compiling when the tests have ended."""
    if (compiling := session.config.stash.get(_COMPILING, None)) is not None:
        compiling.terminate()
        compiling.wait()


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Search for no rubbish while tests are collected: what is loaded then stays."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that no worker is left alone with it at the end."""
    # One process keeps the order it was given: `tests.mutation` names the nearest tests first.
    if not hasattr(config, "workerinput"):
        return
    takes: dict[str, float] = defaultdict(float)
    is_timed: set[str] = set()
    for item in items:
        file = _together(item.nodeid)
        is_slow = item.get_closest_marker("slow") is not None
        if item.get_closest_marker("browser") is not None:
            takes[file] += _BROWSER_S
        else:
            takes[file] += _SLOW_S if is_slow else _FAST_S
        # Files were timed with their slow tests.
        if is_slow and file in SECONDS:
            is_timed.add(file)
    takes |= {file: SECONDS[file] for file in is_timed}

    def place(item: pytest.Item) -> tuple[bool, float, str]:
        file = _together(item.nodeid)
        return file not in FIRST, -takes[file], file

    items.sort(key=place)


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave what stays for the whole run out of every later search for rubbish."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture
def no_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write no board maps: a small job's take longer than all else about it."""
    monkeypatch.setattr("scanner.app.plan_cuts.board_maps", lambda *given, **more: {})
