"""Measuring on a cluster gives what measuring here gives, or nothing at all."""

import dataclasses
import os
import shutil
import socket

import pytest
from sqlalchemy import select, update

from gaittrack import __version__
from gaittrack.errors import StudyError
from gaittrack.pipeline import InputFile
from gaittrack.study.results.keeping import known_trials, recompute, stale_trials
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import open_study
from gaittrack.study.tables import RESULT, TRIAL_MEAN
from tests.study.planted_results import plant

# workers are forked from a process that has imported what each needs
os.environ.setdefault("DASK_DISTRIBUTED__WORKER__MULTIPROCESSING_METHOD", "forkserver")
if os.environ.get("CI"):
    import distributed
else:
    distributed = pytest.importorskip("distributed")
from gaittrack.study.results.cluster import measure_elsewhere, on_cluster  # noqa: E402


@pytest.fixture(scope="module")
def address():
    """Give the scheduler of a cluster of two worker processes on this machine."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        yield cluster.scheduler_address


def made_stale(folder):
    study = open_study(folder)
    with study.write() as connection:
        connection.execute(update(TRIAL_MEAN).values(value=None))
        plant(connection, software_version="0", numbers=b"")
    return study


def numbers_in(study):
    """Return every stored number: means, and cycles and curves as bytes."""
    with study.read() as connection:
        means = connection.execute(select(TRIAL_MEAN).order_by(*TRIAL_MEAN.primary_key)).all()
        names = (RESULT.c.trial_id, RESULT.c.refusal, RESULT.c.layout, RESULT.c.numbers)
        return means, connection.execute(select(*names).order_by(RESULT.c.trial_id)).all()


def test_two_workers_give_the_same_numbers(imported, tmp_path, address):
    """Every stored byte of every result is the one that was measured here."""
    shutil.copytree(imported, tmp_path / "study")
    whole = open_study(tmp_path / "study")
    wanted = numbers_in(whole)
    whole.close()
    study = made_stale(tmp_path / "study")
    assert numbers_in(study) != wanted
    trials = [trial for trial, _ in stale_trials(study)]
    with on_cluster(address) as measure_all:
        again = list(recompute(study, trials, who="tester", measure_all=measure_all))
    assert [trial for trial, _ in again] == trials and len(trials) == 8
    assert numbers_in(study) == wanted
    assert stale_trials(study) == []
    study.close()


def test_a_refusal_comes_back_whole(study, trial_at, tmp_path, address):
    """What is wrong with a file is said in the same words as here."""
    bad = tmp_path / "walk-1.c3d"
    bad.write_bytes(b"this is not a recording")
    with study.read() as connection:
        recording = recording_of(connection, study, trial_at(study).id)
    recording = dataclasses.replace(recording, file=InputFile(bad))
    with on_cluster(address) as measure_all:
        (there,) = measure_all([recording])
    (here,) = measure_elsewhere([recording], version=__version__)
    assert str(there.error) == str(here.error) != ""


def test_a_worker_that_does_not_see_the_study_stores_nothing(study, address):
    """A folder that is only here is an error, never a refused result."""
    before = numbers_in(study)
    with study.read() as connection:
        trials = known_trials(connection)[:1]
        recording = recording_of(connection, study, trials[0].id)
    recording.file.path.rename(recording.file.path.with_suffix(".gone"))
    with pytest.raises(StudyError, match="does not see"), on_cluster(address) as measure_all:
        list(recompute(study, trials, who="tester", measure_all=measure_all))
    assert numbers_in(study) == before


def test_a_worker_of_another_version_is_refused(study, trial_at):
    """Numbers of another version never get this version's stamp."""
    with study.read() as connection:
        recording = recording_of(connection, study, trial_at(study).id)
    with pytest.raises(StudyError, match="same version"):
        measure_elsewhere([recording], version="0.0")


def test_no_scheduler_is_said(monkeypatch):
    """An address where nothing listens gets a message that names it."""
    monkeypatch.setattr("gaittrack.study.results.cluster.LONGEST_WAIT_S", 1)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    with pytest.raises(StudyError, match="No scheduler") as caught, on_cluster(address):
        pass
    assert address in str(caught.value)
