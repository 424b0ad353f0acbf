"""How tests are handed to several workers, and what they may leave out."""

import functools
import gc
import os
import subprocess
import sys
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path
from typing import Any

import pytest

from tests.long_files import FIRST, SECONDS

_SCANNER = Path(__file__).parents[1] / "scanner"
# What the tests of a file that was not timed take, about.
_BROWSER_S, _SLOW_S, _FAST_S = 6.0, 2.0, 0.03
# The search, and what proves a layout: two processes, as one would leave a core idle.
_COMPILE = (
    "from scanner.placement import solve; solve.warm_up()",
    "from scanner.placement.proof import proof_time; proof_time._warm_up()",
)
_STEP_ASIDE = "import os; hasattr(os, 'nice') and os.nice(10)\n"
_COMPILING: pytest.StashKey["list[subprocess.Popen[bytes]]"] = pytest.StashKey()
# Workers share the cores: threads of linear algebra that wait for each other at full speed took
# 2.3 times the CPU of a fit of marks. Set before numpy is loaded, for all that tests start as well.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
# This worker begins with the tests that look at a page, the others with all else.
_PAGE_WORKER = "gw0"
# A page's own search steps back by 10: the other workers let it go first.
_STEP_BACK = 15
_HAS_LOOKED: pytest.StashKey[bool] = pytest.StashKey()


def _together(nodeid: str) -> str:
    """Return what a test shares with others: its file."""
    return nodeid.split("::", 1)[0]


@functools.cache
def _looks_at_page(file: Path) -> bool:
    """Return whether tests of a file need a browser; the process that hands them out knows none."""
    return "mark.browser" in file.read_text(encoding="utf-8")


def _is_compiling(config: pytest.Config) -> bool:
    """Return whether a page's search would be compiled anew."""
    return any(one.poll() is None for one in config.stash.get(_COMPILING, []))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Send each file to one worker, so that what its tests share is made once.

    Each worker has a running page of its own, from a port of its own on. A test that looks at a
    page waits for half of its time, so one worker has these tests and the others, of which there
    may be as many as there are cores, have work for whoever waits. Whoever is done helps.
    """
    from xdist.scheduler import LoadGroupScheduling

    class ByFile(LoadGroupScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return _together(nodeid)

        def _assign_work_unit(self, node: Any) -> None:
            with_page = node.gateway.id == _PAGE_WORKER and not _is_compiling(config)
            for file in self.workqueue:
                if _looks_at_page(config.rootpath / file) == with_page:
                    self.workqueue.move_to_end(file, last=False)
                    break
            super()._assign_work_unit(node)

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
    config.stash[_COMPILING] = [
        subprocess.Popen([sys.executable, "-c", _STEP_ASIDE + one]) for one in _COMPILE
    ]
    # A whole run begins with long tests that search nothing; any other may search at once.
    is_whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    if not is_whole or config.getoption("markexpr"):
        for one in config.stash[_COMPILING]:
            if one.wait() != 0:
                raise pytest.UsageError("what compiles the search has failed: see above")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Leave nothing compiling when the tests have ended."""
    for one in session.config.stash.get(_COMPILING, []):
        one.terminate()
        one.wait()


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
    """Leave what stays for the whole run out of every later search for rubbish.

    Where pages are looked at, let the worker that does so go first.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    config = session.config
    if not hasattr(config, "workerinput"):
        return
    if any(item.get_closest_marker("browser") for item in session.items):
        if config.workerinput["workerid"] == _PAGE_WORKER:
            config.stash[_HAS_LOOKED] = False
        else:
            _step_back()


def pytest_runtest_setup(item: pytest.Item) -> None:
    """When the pages have been looked at, let the worker that did so step back as well."""
    stash = item.config.stash
    if _HAS_LOOKED not in stash:
        return
    if _looks_at_page(item.path):
        stash[_HAS_LOOKED] = True
    elif stash[_HAS_LOOKED]:
        del stash[_HAS_LOOKED]
        _step_back()


def _step_back() -> None:
    if hasattr(os, "nice"):
        os.nice(_STEP_BACK)


@pytest.fixture
def no_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write no board maps: a small job's take longer than all else about it."""
    monkeypatch.setattr("scanner.app.placing.plan_cuts.board_maps", lambda *given, **more: {})
