"""Tasks done here and by separate worker processes, one of which is killed on the way."""

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from gridmap.errors import InputError, ReadError
from gridmap.pipeline.workers import Here, workers

distributed = pytest.importorskip("distributed", reason="dask.distributed comes with the extra `test`")


def square(number):
    return number * number


def slow_square(told):
    """Leave a word of who began, and take a while."""
    folder, number = told
    (Path(folder) / f"{number}-{os.getpid()}").touch()
    time.sleep(0.15)
    return number * number, os.getpid()


def unreadable(name):
    raise ReadError(f"{name}: trace 3 is cut short. Copy the file again.")


@pytest.fixture(scope="module")
def cluster():
    """Two worker processes on the loopback address; tasks of this module travel by value, since no worker has it."""
    cloudpickle = pytest.importorskip("cloudpickle")
    cloudpickle.register_pickle_by_value(sys.modules[__name__])
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
    ) as running:
        yield running


def test_here_keeps_the_order_and_says_how_far_it_is():
    """A stage's progress goes from the first task's share to one."""
    shares = []
    assert Here().each(square, [3, 1, 2], shares.append) == [9, 1, 4]
    assert shares == pytest.approx([1 / 3, 2 / 3, 1])


def test_workers_give_results_in_the_order_of_the_arguments(cluster, tmp_path):
    """Whoever is done first, results stand in the order asked for."""
    shares = []
    with workers(cluster.scheduler_address, tmp_path) as several:
        assert several.each(square, list(range(20)), shares.append) == [n * n for n in range(20)]
    assert shares[-1] == 1 and len(shares) == 20


@pytest.mark.slow
def test_a_worker_killed_midway_costs_no_result(cluster, tmp_path):
    """What a lost worker was doing is done by another."""
    killed = []

    def kill_one(share):
        if not killed and share > 0.2:
            killed.append(int(next(tmp_path.iterdir()).name.split("-")[1]))
            os.kill(killed[0], signal.SIGKILL)

    with workers(cluster.scheduler_address, tmp_path / "..") as several:
        made = several.each(slow_square, [(str(tmp_path), n) for n in range(24)], kill_one)
    assert [m[0] for m in made] == [n * n for n in range(24)]
    assert killed
    assert len({m[1] for m in made} - set(killed)) >= 1


def test_a_users_mistake_on_a_worker_is_told_as_here(cluster, tmp_path):
    """Where a task runs does not change what its error says."""
    with (
        workers(cluster.scheduler_address, tmp_path) as several,
        pytest.raises(ReadError, match=r"line7\.sgy: trace 3"),
    ):
        several.each(unreadable, ["line7.sgy"], lambda share: None)


def test_no_scheduler_at_the_address_is_a_sentence(tmp_path, monkeypatch):
    """A mistyped address stops the job before any work, with what to type."""
    monkeypatch.setattr("gridmap.pipeline.workers.PATIENCE_S", 1.0)
    with (
        pytest.raises(InputError, match=r"nothing answers there.*dask scheduler"),
        workers("tcp://127.0.0.1:9", tmp_path),
    ):
        pass


def test_a_worker_that_does_not_see_the_folder_is_named(cluster, tmp_path, monkeypatch):
    """Workers that would write to a disk of their own are refused."""
    monkeypatch.setattr("gridmap.pipeline.workers._look", blind)
    with (
        pytest.raises(InputError, match=r"does not see .*--work"),
        workers(cluster.scheduler_address, tmp_path),
    ):
        pass


def test_a_worker_of_another_version_is_named(cluster, tmp_path, monkeypatch):
    """Two versions might give two results in one map."""
    monkeypatch.setattr("gridmap.pipeline.workers._look", older)
    with (
        pytest.raises(InputError, match=r"has gridmap 0\.0\.1"),
        workers(cluster.scheduler_address, tmp_path),
    ):
        pass


def blind(token):
    from gridmap._version import VERSION

    return VERSION, False


def older(token):
    return "0.0.1", True
