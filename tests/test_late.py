"""What is taken of a package without loading it."""

import subprocess
import sys

import pytest

from gaittrack.late import special, without_package

TAKEN = """
import sys, threading
from gaittrack.late import lapack, special

taken = special.stdtrit, lapack.dgtsv
assert not {"scipy.special", "scipy.linalg"} & set(sys.modules), "the packages were loaded"
from scipy import special as whole
from scipy.linalg import lapack as routines
assert taken == (whole.stdtrit, routines.dgtsv), "another function than the package's"
"""
IN_THREADS = """
import threading
from gaittrack.late import special

found = []
def whole():
    from scipy import special
    found.append(special.logsumexp)  # not in the compiled module

threads = [threading.Thread(target=each) for each in (whole, lambda: special.ndtri) * 4]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
assert len(found) == 4 and special.ndtri(0.5) == 0.0
"""


@pytest.mark.parametrize("program", [TAKEN, IN_THREADS])
def test_a_package_is_not_loaded_for_one_function_and_can_be_later(program):
    """The function is the package's own; threads that load the package meanwhile get all of it."""
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr


def test_what_a_compiled_module_lacks_is_taken_from_the_package():
    """Nothing is found where no such module lies."""
    assert without_package("scipy.signal", "_no_such_module") is None
    assert special.logsumexp([0.0]) == 0.0
