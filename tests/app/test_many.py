"""Many jobs through one door: the same results on one core, on two, on a cluster."""

import os

import pytest

from scanner.app.many import end_workers, work_through
from scanner.errors import SettingsError

JOBS = tuple(range(7))


def squared(number: int) -> int:
    return number * number


@pytest.mark.parametrize("cores", [1, 2])
@pytest.mark.slow
def test_results_come_in_the_jobs_order(cores):
    assert list(work_through(squared, JOBS, cores=cores)) == [n * n for n in JOBS]


def worker(_: int) -> int:
    return os.getpid()


@pytest.mark.slow
def test_no_worker_outlives_the_work_where_another_program_takes_over():
    workers = set(work_through(worker, JOBS, cores=2))
    assert os.getpid() not in workers
    end_workers()
    for process in workers:
        with pytest.raises(ProcessLookupError):
            os.kill(process, 0)
    # Whoever has more to do after all gets new ones.
    assert workers.isdisjoint(work_through(worker, JOBS, cores=2))


def test_nothing_to_do_starts_nothing():
    assert list(work_through(squared, (), scheduler="tcp://127.0.0.1:1")) == []


@pytest.mark.slow
def test_a_cluster_of_two_workers_gives_the_same():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        found = list(work_through(squared, JOBS, scheduler=cluster.scheduler_address))
    assert found == [n * n for n in JOBS]


@pytest.mark.slow
def test_a_scheduler_that_does_not_answer_is_named(monkeypatch):
    monkeypatch.setattr("scanner.app.many._WAIT_FOR_SCHEDULER", "1s")
    with pytest.raises(SettingsError, match="no Dask scheduler answers"):
        list(work_through(squared, JOBS, scheduler="tcp://127.0.0.1:1"))
