"""How tests are handed to several workers, and what they may leave out."""

import gc
from collections import Counter
from pathlib import Path

import pytest

_SCANNER = Path(__file__).parents[1] / "scanner"
# A slow test takes about so many times longer than another.
_SLOW_TAKES = 60


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


def pytest_sessionstart(session: pytest.Session) -> None:
    """In a fresh clone compile the search once, before each worker and the page do it."""
    is_first = not any((_SCANNER / "placement" / "kernels").glob("__pycache__/*.nbi"))
    # Only the process that starts the workers has this option, and before it starts them.
    if is_first and session.config.getoption("numprocesses", None):
        from scanner.placement.solve import warm_up

        warm_up()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that no worker is left alone with it at the end."""
    # One process keeps the order it was given: `tests.mutation` names the nearest tests first.
    if not hasattr(config, "workerinput"):
        return
    takes: Counter[str] = Counter()
    for item in items:
        is_slow = item.get_closest_marker("slow") is not None
        takes[_together(item.nodeid)] += _SLOW_TAKES if is_slow else 1
    items.sort(key=lambda item: (-takes[_together(item.nodeid)], _together(item.nodeid)))


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave what stays for the whole run out of every later search for rubbish."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture
def no_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write no board maps: a small job's take longer than all else about it."""
    monkeypatch.setattr("scanner.app.plan_cuts.board_maps", lambda *given, **more: {})
