"""Run the tests of a module against one mutant, in a child that was forked before any of our code.

The parent has loaded pytest and the large libraries only, so a child costs no more than our own
modules and their tests, and imports the mutant in the module's place.
"""

import contextlib
import importlib.abc
import importlib.machinery
import importlib.util
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
_PASSED, _FAILED = 0, 1
_GRACE_S = 30.0
# What pytest says where a test file cannot even be loaded with the mutant.
_NOT_LOADED = (2, 3)


@dataclass(frozen=True)
class Trial:
    """One run to be made: a module, its source with a fault (None: as it is), its tests."""

    number: int
    module: str
    source: str | None
    tests: tuple[str, ...]
    patience_s: float


class _Finder(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Give the mutant's source where the module is asked for."""

    def __init__(self, module: str, source: str) -> None:
        self._module, self._source = module, source
        path = ROOT.joinpath(*module.split("."))
        self._path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")

    def find_spec(self, name: str, path: object = None, target: object = None) -> object:
        if name != self._module:
            return None
        return importlib.util.spec_from_file_location(name, self._path, loader=self)

    def get_filename(self, name: str) -> str:
        return str(self._path)

    def get_data(self, path: str) -> bytes:
        return self._source.encode()

    def path_stats(self, path: str) -> dict[str, int]:
        # No compiled copy is read or kept.
        raise OSError


def run_all(
    trials: Sequence[Trial], jobs: int, is_over: Callable[[], bool] = lambda: False
) -> Iterator[tuple[int, str, float]]:
    """Yield the number, what became of it, and the seconds of each trial as they end.

    ``killed`` (a test failed), ``timeout`` (killed too: no test went on that long before),
    ``survived``. None is begun once ``is_over`` says so.
    """
    waiting, running = list(reversed(trials)), {}
    last = float("inf")
    while waiting or running:
        if waiting and is_over():
            waiting.clear()
            # What is still running is let go without a verdict after this.
            last = time.monotonic() + _GRACE_S
        if time.monotonic() > last:
            for pid in running:
                _end_group(pid)
                os.waitpid(pid, 0)
            return
        while waiting and len(running) < jobs:
            trial = waiting.pop()
            running[_start(trial)] = trial, time.monotonic()
        pid, status = os.waitpid(-1, os.WNOHANG) if running else (0, 0)
        if pid in running:
            trial, begun = running.pop(pid)
            _end_group(pid)
            yield trial.number, _meaning(status), time.monotonic() - begun
            continue
        for pid, (trial, begun) in list(running.items()):
            if time.monotonic() - begun > trial.patience_s:
                _end_group(pid)
                os.waitpid(pid, 0)
                del running[pid]
                yield trial.number, "timeout", time.monotonic() - begun
        time.sleep(0.02)


def _meaning(status: int) -> str:
    code = os.waitstatus_to_exitcode(status)
    if code == _PASSED:
        return "survived"
    if code == _FAILED or code in _NOT_LOADED or code < 0:
        return "killed"
    # 4 and 5: no such test file, no test: the trial says nothing.
    raise RuntimeError(f"pytest ended with {code}")


def _end_group(pid: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)


def _start(trial: Trial) -> int:
    pid = os.fork()
    if pid:
        return pid
    code = 3
    try:
        os.setsid()
        silence = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(silence, stream)
        code = _test(trial)
    finally:
        os._exit(code)


def _test(trial: Trial) -> int:
    import pytest
    from hypothesis import HealthCheck, Phase, settings

    # The same examples every time, none kept, and no search for the smallest one.
    settings.register_profile(
        "mutation",
        derandomize=True,
        database=None,
        deadline=None,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
    settings.load_profile("mutation")
    if trial.source is not None:
        sys.meta_path.insert(0, _Finder(trial.module, trial.source))
    with tempfile.TemporaryDirectory(prefix="mutant-") as folder:
        quiet = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", f"--basetemp={folder}/t"]
        paths = [str(ROOT / "tests" / test) for test in trial.tests]
        return int(pytest.main([*quiet, "-m", "not slow and not browser", *paths]))
