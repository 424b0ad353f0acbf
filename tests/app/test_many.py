"""Many jobs through one door: the same results on one core, on two, on a cluster."""

import pytest

from scanner.app.many import work_through
from scanner.errors import SettingsError

JOBS = tuple(range(7))


def squared(number: int) -> int:
    return number * number


@pytest.mark.parametrize("cores", [1, 2])
@pytest.mark.slow
def test_results_come_in_the_jobs_order(cores):
    assert list(work_through(squared, JOBS, cores=cores)) == [n * n for n in JOBS]


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
