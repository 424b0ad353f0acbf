"""What the search may take for a choice of patterns: the same work, whoever shares the machine."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from scanner.placement import stop
from scanner.placement.stop import Clock, Seconds, Work


def clock_after(
    monkeypatch: pytest.MonkeyPatch, by_wall: float, worked: float, seconds: float
) -> Clock:
    """Return the clock of a search of so many seconds, after some of them and some of work."""
    now = SimpleNamespace(monotonic=lambda: 100.0, process_time=lambda: 7.0)
    monkeypatch.setattr(stop, "time", now)
    clock = Clock(Seconds(seconds))
    clock.stop.start()
    now.monotonic, now.process_time = lambda: 100.0 + by_wall, lambda: 7.0 + worked
    return clock


def test_a_busy_machine_gives_a_choice_the_same_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where others take three quarters of the time two seconds of work last eight."""
    assert clock_after(monkeypatch, 20.0, 20.0, 60.0).seconds_for(2.0) == pytest.approx(2.0)
    assert clock_after(monkeypatch, 20.0, 5.0, 60.0).seconds_for(2.0) == pytest.approx(8.0)
    # Two cores at once make no choice end earlier.
    assert clock_after(monkeypatch, 20.0, 40.0, 60.0).seconds_for(2.0) == pytest.approx(2.0)


def test_no_choice_outlasts_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    assert clock_after(monkeypatch, 59.0, 10.0, 60.0).seconds_for(2.0) == pytest.approx(1.0)


def test_by_work_no_choice_goes_by_time() -> None:
    assert Clock(Work(9)).seconds_for(2.0) == float("inf")
