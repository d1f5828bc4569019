"""Silent connections against memory, printed: it is bounded, and used again."""

import contextlib
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from gaittrack.study.store import create_study
from gaittrack.study.upkeep.users import add_user
from tests.dashboards.test_serving import certificate_in

N_ROUNDS = 4
N_AT_ONCE = 400

pytestmark = pytest.mark.benchmark


def memory_mb(process):
    """Return what a process holds in memory."""
    pages = int(Path(f"/proc/{process.pid}/statm").read_text().split()[1])
    return pages * 4096 / 1e6


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_silent_connections_do_not_make_the_server_grow(tmp_path):
    """Rounds of half-open TLS connections: the last needs at most a tenth more than the first."""
    study = create_study(tmp_path / "study")
    add_user(study, "vera", "four words in row", ["view"], who="tests")
    study.close()
    certificate, key, _ = certificate_in(tmp_path)
    command = [sys.executable, "-m", "gaittrack", "dashboard", "--study", str(tmp_path / "study")]
    command += ["--sign-in", "--port", "0", "--no-browser"]
    command += ["--certificate", str(certificate), "--key", str(key)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        address = next(line for line in process.stdout if "https://" in line).strip()
        port = int(address.rpartition(":")[2])
        found = [memory_mb(process)]
        for _ in range(N_ROUNDS):
            with contextlib.ExitStack() as held:
                for number in range(N_AT_ONCE):
                    source = (f"127.0.0.{2 + number % 20}", 0)
                    one = socket.create_connection(("127.0.0.1", port), 20, source)
                    held.enter_context(one).sendall(b"\x16\x03\x01")
                time.sleep(1)
                found.append(memory_mb(process))
    finally:
        process.terminate()
        process.wait(20)
    print(f"\nmemory in MB, before and in {N_ROUNDS} rounds of {N_AT_ONCE}:", *map(round, found))
    assert found[-1] <= 1.1 * found[1] and found[1] - found[0] <= 200
