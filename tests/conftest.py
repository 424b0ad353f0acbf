"""How tests are handed to several workers, and what they may leave out."""

import pytest

# Tests that share one long run of the demo.
_ONE_WORKER = "tests/app/test_main_job.py"


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Send the tests of the main job to one worker; with pytest 9 their group mark is not seen."""
    from xdist.scheduler import LoadGroupScheduling

    class ByFile(LoadGroupScheduling):
        def _split_scope(self, nodeid: str) -> str:
            if nodeid.startswith(_ONE_WORKER):
                return _ONE_WORKER
            scope: str = super()._split_scope(nodeid)
            return scope

    return ByFile(config, log) if config.getoption("dist") == "loadgroup" else None


@pytest.fixture
def no_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write no board maps: a small job's take longer than all else about it."""
    monkeypatch.setattr("scanner.app.plan_cuts.board_maps", lambda *given, **more: {})
