"""Boards side by side: every bench that takes ``--jobs`` goes through here."""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

Thing = TypeVar("Thing")
Result = TypeVar("Result")


def workers(jobs: int, begin: Callable[[], object] | None = None) -> ProcessPoolExecutor:
    """Return ``jobs`` processes to share work among; each calls ``begin`` first.

    They are forked from a server that has imported the same modules and run nothing. A fork of
    the bench itself lacks the threads that a library started there, and may wait for them for
    ever: from its first whole-number programme on HiGHS does, on more than two cores.
    """
    context = get_context("forkserver")
    context.set_forkserver_preload([name for name in sys.modules if name.startswith("scanner.")])
    return ProcessPoolExecutor(jobs, mp_context=context, initializer=begin)


def in_order(
    work: Callable[[Thing], Result],
    things: Iterable[Thing],
    jobs: int,
    begin: Callable[[], object] | None = None,
) -> Iterator[Result]:
    """Yield ``work(thing)`` of each thing in their order, on up to ``jobs`` processes.

    ``begin``: called first in each of them, for what is not to count as work.
    """
    if jobs <= 1:
        if begin:
            begin()
        yield from map(work, things)
        return
    with workers(jobs, begin) as pool:
        yield from pool.map(work, things)
