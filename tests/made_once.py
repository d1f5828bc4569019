"""What is expensive to make is made once for the whole run, by whichever process needs it first."""

import os
import shutil

from filelock import FileLock


def made_once(tmp_path_factory, name, make):
    """Return a folder that all processes of a run share; a test that changes it takes a copy.

    Parameters
    ----------
    name : str
        Of the folder: the same name is the same folder.
    make : callable
        Gets the path of the folder, which is not there yet, and makes it.
    """
    run = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        run = run.parent
    folder, begun = run / f"once-{name}", run / f"begun-{name}"
    with FileLock(run / f"once-{name}.lock"):
        if not folder.exists():
            shutil.rmtree(begun, ignore_errors=True)
            make(begun)
            begun.rename(folder)
    return folder
