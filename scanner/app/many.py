"""One door to all cores, or to a cluster: many independent jobs, their results in order.

joblib runs them, on this machine's cores or on a Dask cluster (M. Rocklin, "Dask: Parallel
Computation with Blocked algorithms and Task Scheduling", SciPy 2015). What comes out does not
depend on where it ran.
"""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING, TypeVar

from scanner.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

Job = TypeVar("Job")
Result = TypeVar("Result")
_WAIT_FOR_SCHEDULER = "10s"


def work_through(
    task: Callable[[Job], Result],
    jobs: Sequence[Job],
    *,
    scheduler: str | None = None,
    cores: int | None = None,
) -> Iterator[Result]:
    """Yield ``task(job)`` for each job, in the jobs' order, as soon as each is there.

    Parameters
    ----------
    task
        A function at a module's top level: it travels to other processes.
    scheduler
        Address of a running Dask scheduler, ``tcp://host:8786``; its workers must have bothfaces
        installed and see the same files. None for this machine.
    cores
        How many processes on this machine; all cores where nothing is said.

    Raises
    ------
    SettingsError
        The scheduler cannot be reached, or the package ``distributed`` is missing.
    """
    if not jobs:
        return
    if scheduler is None and (cores or os.cpu_count() or 1) == 1:
        yield from map(task, jobs)
        return
    from joblib import Parallel, delayed

    with _cluster(scheduler) if scheduler else contextlib.nullcontext():
        # A job takes seconds, so each is handed out alone.
        crew = Parallel(n_jobs=cores or -1, return_as="generator", batch_size=1)
        yield from crew(delayed(task)(job) for job in jobs)


def cores_worth(wanted: int) -> int:
    """Return how many of the wanted processes this machine has cores for, at least one."""
    if wanted <= 1:
        return 1
    from joblib import cpu_count

    # Those that this process may use: fewer than there are where it was given a share.
    return min(wanted, int(cpu_count()))


@contextlib.contextmanager
def _cluster(address: str) -> Iterator[None]:
    from joblib import parallel_config

    try:
        from distributed import Client
    except ImportError:
        raise SettingsError(
            "--scheduler needs the package distributed", "install bothfaces[cluster]"
        ) from None
    try:
        client = Client(address, timeout=_WAIT_FOR_SCHEDULER, set_as_default=True)
    except (OSError, ValueError) as problem:
        raise SettingsError(
            f'--scheduler: no Dask scheduler answers at "{address}"',
            "start one with  dask scheduler  and give the address that it prints",
        ) from problem
    with client, parallel_config(backend="dask"):
        yield
