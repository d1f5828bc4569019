"""What a second worker of a cluster gains a recompute; run with ``pytest -m benchmark -s``.

The clock tells it on a machine with a processor for each worker and one for the process that
writes, and nothing else to do.
"""

import os
import shutil
from contextlib import closing
from time import perf_counter

import pytest

from gaittrack.study.results.keeping import known_trials, recompute
from gaittrack.study.store import open_study
from tests.benchmarks.large_study import copy_person, write_template

os.environ.setdefault("DASK_DISTRIBUTED__WORKER__MULTIPROCESSING_METHOD", "forkserver")
distributed = pytest.importorskip("distributed")
from gaittrack.study.results.cluster import on_cluster  # noqa: E402

N_PEOPLE, LEAST_GAIN = 10, 1.8
WARM = 4
"""Walks measured before, so that each worker has loaded what it needs."""


def seconds_with(folder, n_workers):
    """Return how long a recompute of all walks takes."""
    with (
        distributed.LocalCluster(
            n_workers=n_workers, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        closing(open_study(folder)) as study,
        on_cluster(cluster.scheduler_address) as measure_all,
    ):
        with study.read() as connection:
            trials = known_trials(connection)
        list(recompute(study, trials[: WARM * n_workers], who="b", measure_all=measure_all))
        with study.read() as connection:
            trials = known_trials(connection)
        started = perf_counter()
        list(recompute(study, trials, who="b", measure_all=measure_all))
        return perf_counter() - started


@pytest.mark.benchmark
@pytest.mark.skipif((os.cpu_count() or 1) < 3, reason="two workers and who writes need three")
def test_two_workers_of_a_cluster_are_worth_almost_two(tmp_path):
    """At least 1.8 times as quick as one, on three processors."""
    write_template(tmp_path / "one")
    found = {}
    for n_workers in (1, 2):
        folder = tmp_path / str(n_workers)
        shutil.copytree(tmp_path / "one" / "study", folder)
        copy_person(folder, N_PEOPLE)
        found[n_workers] = seconds_with(folder, n_workers)
    gain = found[1] / found[2]
    print(f"\none worker {found[1]:.1f} s, two {found[2]:.1f} s: {gain:.2f} times as quick")
    assert gain >= LEAST_GAIN
