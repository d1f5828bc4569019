"""One folder that is whole or not there, and what is said in it: dictionary, descriptor, README.

In come what was written of each table and what to say of them, out comes the rest of the folder.
"""

from __future__ import annotations

import glob
import json
import os
import shutil
import socket
import tempfile
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from gaittrack.cohort.release.package_words import PackageFacts, descriptor, dictionary_rows, readme
from gaittrack.cohort.release.table_files import FilesOfTable
from gaittrack.errors import StudyError
from gaittrack.table_cells import safe_text

_HOST: Final = socket.gethostname()
_PART: Final = ".part"


def write_words(
    folder: Path,
    written: Mapping[str, FilesOfTable],
    in_sheets: Collection[str],
    facts: PackageFacts,
) -> None:
    """Write what is said of the tables in a folder."""
    dictionary = safe_text(dictionary_rows(written))
    _write_text(folder / "dictionary.csv", dictionary.to_csv(index=False, lineterminator="\r\n"))
    paths = {name: each.parquet for name, each in written.items()}
    text = json.dumps(descriptor(paths, in_sheets, facts), indent=1, allow_nan=False)
    _write_text(folder / "datapackage.json", text + "\n")
    n_rows = {name: each.n_rows for name, each in written.items()}
    _write_text(folder / "README.md", readme(n_rows, in_sheets, facts))


def refuse_filled(out: Path) -> None:
    """Refuse a target that is a file or holds something.

    Raises
    ------
    StudyError
        Nothing is overwritten.
    """
    if out.is_symlink() or out.is_file() or (out.is_dir() and any(out.iterdir())):
        raise StudyError.of("export_place_taken", where=out)


@contextmanager
def whole_folder(out: Path) -> Iterator[Path]:
    """Give a folder beside the target that takes its place when all went well.

    Raises
    ------
    StudyError
        The target is filled or cannot be written; then nothing is there.
    """
    refuse_filled(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        _clear_broken_off(out)
        own = f".{out.name}.{_HOST}.{os.getpid()}."
        part = Path(tempfile.mkdtemp(prefix=own, suffix=_PART, dir=out.parent))
        try:
            yield part
            if out.is_dir():
                out.rmdir()
            part.rename(out)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    except OSError as error:
        raise StudyError.of(
            "export_cannot_written", where=out, why=error.strerror or error
        ) from error


def _clear_broken_off(out: Path) -> None:
    """Take away what an export to the same place left here whose process was ended at once."""
    start = f".{out.name}.{_HOST}."
    for path in out.parent.glob(f"{glob.escape(start)}*{_PART}"):
        number = path.name.removeprefix(start).partition(".")[0]
        if number.isdigit() and not _is_running(int(number)):
            shutil.rmtree(path, ignore_errors=True)


def _is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        pass  # it runs for somebody else
    return True


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")
