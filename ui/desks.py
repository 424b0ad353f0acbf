"""What must outlive a page visit: open lots, answers given, and the work going on.

Streamlit forgets a visit's state at every reload and restart, so nothing of value lives there.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from scanner.app.lot.open_lot import open_lot
from scanner.app.placing.watch_plan import ask_to_stop, best_so_far, is_asked_to_stop
from scanner.errors import ScannerError
from ui.looks import Looks

if TYPE_CHECKING:
    from scanner.app.lot.open_lot import Answer, Lot
    from scanner.app.placing.watch_plan import Layout

Progress = Callable[[str, float], None]
Outcome = TypeVar("Outcome")

_ANSWERS_KEPT = 1000
# Long enough for a run of quick taps, short enough to feel like an answer.
QUIET_S = 1.0
PLANNING_S = 2.0
# A search that a person watches ends by itself after this.
IMPROVING_S = 300.0


@dataclass(frozen=True)
class Trouble:
    """What went wrong with some of a work: sentences, and pictures (JPEG) that show why."""

    said: str
    pictures: tuple[bytes, ...] = ()


class _StopError(Exception):
    """Somebody asked a work to end."""


class Job:
    """Work in a thread that owns its outcome; the page looks at it whenever it likes."""

    def __init__(
        self, what: str, work: Callable[[Progress], object], *, may_stop: bool = False
    ) -> None:
        """Start; ``work`` may return what went wrong with some of it: sentences or `Trouble`.

        ``may_stop``: it can be left off wherever it tells how far it is, as it keeps nothing
        before its end.
        """
        self.what, self.may_stop, self.is_stopping = what, may_stop, False
        self.step, self.share = "", 0.0
        self.problem: str | None = None
        self.pictures: tuple[bytes, ...] = ()
        self._thread = threading.Thread(target=self._run, args=(work,), daemon=True)
        self._thread.start()

    @property
    def is_running(self) -> bool:
        """Whether the work goes on."""
        return self._thread.is_alive()

    def wait(self, seconds: float | None = None) -> None:
        """Wait for the end."""
        self._thread.join(seconds)

    def stop(self) -> None:
        """Let the work end where it next tells how far it is."""
        self.is_stopping = self.may_stop

    def _report(self, step: str, share: float) -> None:
        if self.is_stopping:
            raise _StopError
        self.step, self.share = step, share

    def _run(self, work: Callable[[Progress], object]) -> None:
        try:
            outcome = work(self._report)
            if isinstance(outcome, Trouble):
                # The words last: the page shows both as soon as there are words.
                self.pictures, self.problem = outcome.pictures, outcome.said
            elif isinstance(outcome, str):
                self.problem = outcome
        except _StopError:
            pass
        except ScannerError as problem:
            self.problem = str(problem)
        except Exception as problem:
            # The page must say that the work ended; the terminal gets the trace.
            self.problem = f"{self.what} broke off by a fault of the program ({problem!r})."
            raise


@dataclass
class Desk:
    """An open lot and what goes on with it."""

    lot: Lot
    answers: OrderedDict[str, Answer] = field(default_factory=OrderedDict)
    job: Job | None = None
    # Uploads that became boards, and how often all of them did.
    scanned: set[str] = field(default_factory=set)
    rounds: int = 0
    # Uploads of boards that are in the lot already, once what they show was read.
    looked_at: set[str] = field(default_factory=set)
    # What was last said to lie beside the boards, by field.
    beside: dict[str, str] = field(default_factory=dict)
    looks: Looks = field(default_factory=lambda: Looks(_submit))
    _planning: Future[str | None] | None = None
    # What the search and the page share; there while one goes on.
    _watched: Path | None = None
    _is_long: bool = False
    _rival: tuple[int, Future[Layout | str]] | None = None
    _seen: tuple[int, float] = (-1, 0.0)
    _turn: threading.RLock = field(default_factory=threading.RLock)
    _failed_at: int = -1
    plan_problem: str | None = None

    def remember(self) -> None:
        """Let old answers go."""
        while len(self.answers) > _ANSWERS_KEPT:
            self.answers.popitem(last=False)

    @property
    def is_planning(self) -> bool:
        """Whether parts are being placed."""
        return self._planning is not None

    def wants_plan(self) -> bool:
        """Whether the layout lags behind the lot, and placing again has not failed on it."""
        if self.lot.parts_text() is None or not self.lot.standings():
            return False
        now = self.lot.revision
        return self.lot.layout_revision() != now and self._failed_at != now

    def follow(self) -> bool:
        """Start placing once the lot lies quiet, take what has ended; whether anything goes on."""
        with self._turn:
            self._take_ended()
            if not self.wants_plan():
                return self.is_planning
            now = self.lot.revision
            if self._seen[0] != now:
                self._seen = (now, time.monotonic())
            if not self.is_planning and time.monotonic() - self._seen[1] >= QUIET_S:
                self.place_again()
            return True

    def improve(self) -> None:
        """Search on from the layout there is, to be watched and stopped."""
        self.place_again(IMPROVING_S)

    @property
    def is_improving(self) -> bool:
        """Whether a search goes on that was asked for, to be watched."""
        return self.is_planning and self._is_long

    def place_again(self, seconds: float = PLANNING_S) -> None:
        """Start placing the parts, in a process of its own: it must not slow down a tap."""
        with self._turn:
            if not self.is_planning:
                self._is_long = seconds >= IMPROVING_S
                self._failed_at, self.plan_problem = -1, None
                self._watched = Path(tempfile.mkdtemp(prefix="bothfaces-plan-"))
                self._planning = _submit(_plan, self.lot.path, seconds, self._watched)

    def stop_planning(self) -> None:
        """Let the search end soon; the best layout it found is kept."""
        with self._turn:
            if self._watched is not None:
                ask_to_stop(self._watched)

    @property
    def is_stopping(self) -> bool:
        """Whether the search was asked to end and has not done so yet."""
        with self._turn:
            return self._watched is not None and is_asked_to_stop(self._watched)

    def best_so_far(self) -> Layout | None:
        """Return the best layout of the search that goes on, None without one."""
        with self._turn:
            return None if self._watched is None else best_so_far(self._watched)

    def compare(self) -> None:
        """Start laying the parts out as if none had to match, to hold the layout against it."""
        with self._turn:
            if self._rival is None or self._rival[0] != self.lot.revision:
                work = _submit(_unmatched, self.lot.path, PLANNING_S)
                self._rival = (self.lot.revision, work)

    @property
    def rival(self) -> Layout | str | None:
        """The layout without matches, why there is none, or None while it is made."""
        if self._rival is None or not self._rival[1].done():
            return None
        try:
            return self._rival[1].result()
        except Exception as problem:
            return f"Comparing broke off by a fault of the program: {problem}"

    def _take_ended(self) -> None:
        if self._planning is None or not self._planning.done():
            return
        ended, self._planning = self._planning, None
        if self._watched is not None:
            shutil.rmtree(self._watched, ignore_errors=True)
            self._watched = None
        try:
            self.plan_problem = ended.result()
        except Exception as problem:
            _forget_workers()
            self.plan_problem = f"Placing the parts broke off by a fault of the program: {problem}"
        if self.plan_problem:
            self._failed_at = self.lot.revision


def _plan(path: Path, seconds: float, watched: Path) -> str | None:
    """Place the parts of a lot; runs in the worker process. Return the problem, if any."""
    from scanner.app.placing.watch_plan import plan_watched

    try:
        lot = open_lot(path, create=False)
        try:
            plan_watched(lot, seconds, watched)
        finally:
            lot.close()
    except ScannerError as problem:
        return str(problem)
    return None


def _unmatched(path: Path, seconds: float) -> Layout | str:
    """Lay the parts of a lot out without matches; runs in the worker process."""
    from scanner.app.placing.compare_layouts import plan_unmatched

    try:
        lot = open_lot(path, create=False)
        try:
            return plan_unmatched(lot, seconds)
        finally:
            lot.close()
    except ScannerError as problem:
        return str(problem)


_turn = threading.RLock()
_desks: dict[Path, Desk] = {}
_pool: list[ProcessPoolExecutor] = []


def desk_of(path: Path) -> Desk:
    """Return the desk of a lot file, opening it if need be.

    Raises
    ------
    LotError
        The file cannot be opened.
    """
    with _turn:
        key = path.resolve()
        if key not in _desks:
            _desks[key] = Desk(open_lot(key))
        return _desks[key]


def find_picture(file: str) -> Path | None:
    """Return where a stored picture lies, in whichever open lot."""
    with _turn:
        desks = list(_desks.values())
    return next((path for desk in desks if (path := desk.lot.picture(file))), None)


def _workers() -> ProcessPoolExecutor:
    with _turn:
        if not _pool:
            # One worker, started anew rather than forked: threads do not survive a fork.
            context = get_context("spawn")
            _pool.append(ProcessPoolExecutor(1, mp_context=context, initializer=begin_worker))
        return _pool[0]


def _submit(work: Callable[..., Outcome], *given: object) -> Future[Outcome]:
    """Give work to the worker; one that broke down over earlier work is started anew."""
    try:
        return _workers().submit(work, *given)
    except BrokenProcessPool:
        _forget_workers()
        return _workers().submit(work, *given)


def _forget_workers() -> None:
    with _turn:
        for pool in _pool:
            pool.shutdown(wait=False, cancel_futures=True)
        _pool.clear()


def begin_worker() -> None:
    """Step back behind whoever taps, and end with the page, however it ends."""
    if hasattr(os, "nice"):
        os.nice(10)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    # A pool's worker waits for work for ever if its parent is killed: it holds both ends of the
    # pipe itself.
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(0)
