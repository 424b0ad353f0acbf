"""Boards side by side: every bench that takes ``--jobs`` goes through here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

Thing = TypeVar("Thing")
Result = TypeVar("Result")


def in_order(
    work: Callable[[Thing], Result], things: Iterable[Thing], jobs: int
) -> Iterator[Result]:
    """Yield ``work(thing)`` of each thing in their order, on up to ``jobs`` processes."""
    if jobs <= 1:
        yield from map(work, things)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(work, things)
