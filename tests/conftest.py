"""How tests are handed to several workers, and what they may leave out."""

import gc
from pathlib import Path

import pytest

_SCANNER = Path(__file__).parents[1] / "scanner"
# These share one running page and its port.
_OF_THE_PAGE = ("_browser.py", "test_served.py")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Send each file to one worker, so that what its tests share is made once.

    The tests of the running page are one file in this; pytest 9 does not see their group mark.
    """
    from xdist.scheduler import LoadGroupScheduling

    class ByFile(LoadGroupScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file: str = nodeid.split("::", 1)[0]
            return "page" if file.endswith(_OF_THE_PAGE) else file

    return ByFile(config, log) if config.getoption("dist") == "loadgroup" else None


def pytest_sessionstart(session: pytest.Session) -> None:
    """In a fresh clone compile the search once, before each worker and the page do it."""
    is_first = not any((_SCANNER / "placement" / "kernels").glob("__pycache__/*.nbi"))
    # Only the process that starts the workers has this option, and before it starts them.
    if is_first and session.config.getoption("numprocesses", None):
        from scanner.placement.solve import warm_up

        warm_up()


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave what stays for the whole run out of every later search for rubbish."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture
def no_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write no board maps: a small job's take longer than all else about it."""
    monkeypatch.setattr("scanner.app.plan_cuts.board_maps", lambda *given, **more: {})
