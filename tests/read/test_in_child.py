"""The worker process is reused, limited, and replaced when a file kills it."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from gaittrack.errors import HeaderError, ReaderFailedError
from gaittrack.plain_files import hash_of
from gaittrack.read import read_trial
from gaittrack.read.in_child import WORKER, Worker
from tests.read.c3d_variants import write_variant

ROOT = Path(__file__).parents[2]


@pytest.fixture
def worker():
    made = Worker(time_limit_s=30.0)
    yield made
    made.close()


def test_one_process_reads_all_files(worker):
    """Two calls are answered by the same process, which is not this one."""
    first = worker.call(os.getpid, where="a.c3d")
    assert first != os.getpid()
    assert worker.call(os.getpid, where="b.c3d") == first


def test_a_file_that_kills_the_process_costs_only_itself(worker):
    """After a crash the error names the file, and the next file is read by a new process."""
    first = worker.call(os.getpid, where="a.c3d")
    with pytest.raises(ReaderFailedError, match=r"killer\.c3d.*died.*export it again"):
        worker.call(os.kill, first, signal.SIGSEGV, where="killer.c3d")
    assert worker.call(os.getpid, where="b.c3d") != first


def test_a_process_ended_between_two_files_is_replaced(tmp_path):
    """The shared worker reads on after somebody ended it."""
    path = tmp_path / "walk.c3d"
    write_variant(path)
    os.kill(WORKER.call(os.getpid, where=""), signal.SIGKILL)
    time.sleep(0.2)
    assert read_trial(path).markers


def test_a_file_that_takes_too_long_is_stopped(tmp_path, monkeypatch):
    """An overrun is an error that says so, hash or reading, and the next file is read."""
    worker = Worker(time_limit_s=5.0)
    with pytest.raises(ReaderFailedError, match=r"slow\.c3d.*longer than 5 s"):
        worker.call(time.sleep, 60, where="slow.c3d")
    worker.time_limit_s = 600.0  # a new process may take long to start where others work
    assert worker.call(os.getpid, where="b.c3d") > 0
    with pytest.raises(ReaderFailedError, match="longer than 600 s"):
        worker.call(time.sleep, 60, where="hashed before.c3d", spent_s=599.0)
    worker.close()
    write_variant(tmp_path / "walk.c3d")
    monkeypatch.setattr("gaittrack.plain_files._PART", 16)
    with pytest.raises(OSError, match="takes longer than 60 s"):
        hash_of(tmp_path / "walk.c3d", within_s=0.0)


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_a_file_that_needs_too_much_memory_is_stopped(worker):
    """Asking for more memory than the limit is an error of ours."""
    with pytest.raises(ReaderFailedError, match=r"big\.c3d.*memory"):
        worker.call(bytearray, 10 * 1024**3, where="big.c3d")


def test_our_own_errors_cross_intact(tmp_path):
    """What the reader raised in the worker is raised here, same class and words."""
    path = tmp_path / "walk.c3d"
    write_variant(path, unit="ells", units_per_m=7.3)
    with pytest.raises(HeaderError) as here:
        read_trial(path, in_child=False)
    with pytest.raises(HeaderError) as there:
        read_trial(path)
    assert str(there.value) == str(here.value)


def test_a_readers_own_fault_is_one_files_error(worker):
    """Any other exception in the worker names the file; the process lives on."""
    first = worker.call(os.getpid, where="a.c3d")
    with pytest.raises(ReaderFailedError, match=r"odd\.c3d.*ValueError"):
        worker.call(int, "seven", where="odd.c3d")
    assert worker.call(os.getpid, where="b.c3d") == first


def test_what_native_code_prints_does_not_disturb(worker):
    """Bytes written to the worker's standard output are not taken for an answer."""
    worker.call(os.write, 1, b"noise\n" * 100, where="a.c3d")
    assert worker.call(abs, -3, where="b.c3d") == 3


def test_threads_share_one_worker(worker):
    """Many threads at once each get their own answer."""
    answers = {}

    def ask(number):
        answers[number] = worker.call(abs, -number, where=str(number))

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == {number: number for number in range(20)}


def test_a_plain_script_can_read(tmp_path):
    """A script without a main guard reads a file, from any folder, and leaves no process."""
    path = tmp_path / "walk.c3d"
    write_variant(path)
    script = tmp_path / "script.py"
    lines = (
        "import os",
        "from gaittrack.read import read_trial",
        "from gaittrack.read.in_child import WORKER",
        f"print(len(read_trial({path.name!r}).markers), WORKER.call(os.getpid, where=''))",
    )
    script.write_text("\n".join(lines), encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    run = subprocess.run(
        [sys.executable, str(script)],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    n_markers, worker_id = map(int, run.stdout.split())
    assert n_markers == 6
    with pytest.raises(ProcessLookupError):
        os.kill(worker_id, 0)
