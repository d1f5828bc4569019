"""Damage a backup or an exported package, and see whether whoever checks it says so.

Every byte of both is vouched for: whatever is changed, lost or added has to be refused, or named.
"""

from __future__ import annotations

import functools
import json
import random
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.people.from_study import record_export
from gaittrack.cohort.release.finishing import package_hash
from gaittrack.cohort.release.releases import release_in
from gaittrack.errors import GaitTrackError
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import Study, create_study, open_study
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.verifying import verify
from tests.cohort.made_up_cohort import cohort
from tests.cohort.whole_source import export_cohort
from tests.faults.damage import DAMAGE
from tests.faults.damage_within import json_changed
from tests.study.conftest import write_visit

FOLDERS = ("backup", "package")


@functools.cache
def _made() -> tuple[tempfile.TemporaryDirectory[str], Study]:
    """Make a study, its backup and an export that its history knows; once."""
    place = tempfile.TemporaryDirectory(prefix="damaged-folders-")
    folder = Path(place.name)
    write_visit(folder / "walks" / "P01" / "visit-1", n_walks=1)
    study = create_study(folder / "study")
    rows = list(import_files(study, plan_folders([folder / "walks"]), who="Ada"))
    assert {row.state for row in rows} == {"added"}, rows
    back_up(study, folder / "backup")
    source = cohort(5, n_walks=2, effects=[4.0, 5.0, 6.5, 7.0, 8.0])
    done = export_cohort(
        *(source, folder / "package"), id_map=folder / "ids.csv", options=ExportOptions()
    )
    own = {"export_hash": done.export_hash, "package_hash": package_hash(done.folder)}
    record_export(study, own, who="Ada", why="")
    return place, study


def damage_folder(kind: str, seed: int) -> tuple[str, str, str]:
    """Damage one file of a folder, and return how, what became of it and what was said."""
    place, study = _made()
    chance = random.Random(f"{kind} {seed}")
    with tempfile.TemporaryDirectory(prefix="damaged-folder-") as scratch:
        folder = Path(shutil.copytree(Path(place.name) / kind, Path(scratch) / kind))
        files = sorted(path for path in folder.rglob("*") if path.is_file())
        listing = [path for path in files if path.suffix == ".json"]
        path = chance.choice(listing if chance.random() < 0.4 else files)
        how = chance.choice((_bytes, _bytes, _bytes, _structure, _structure, _gone, _added))
        before = path.read_bytes()
        how(path, chance)
        name = f"{how.__name__[1:]} of {path.relative_to(folder).as_posix()}"
        if path.is_file() and how is not _added and _says_the_same(path, before):
            return name, "unchanged", ""
        try:
            said = _CHECKS[kind](folder, Path(scratch), study)
        except Exception as error:
            return name, "program fault", f"program fault: {error!r}"
    silent = [check for check, words in said.items() if not words]
    if not (folder / "backup.json").exists():
        silent = [each for each in silent if each != "verify"]  # then it is a study like another
    return name, "SILENT" if silent else "named", ", ".join(silent or map(str, said.values()))


def _bytes(path: Path, chance: random.Random) -> None:
    path.write_bytes(chance.choice(DAMAGE)(path.read_bytes() or b"\0", chance))


def _structure(path: Path, chance: random.Random) -> None:
    path.write_bytes(json_changed(path.read_bytes(), chance))


def _gone(path: Path, _: random.Random) -> None:
    path.unlink()


def _added(path: Path, _: random.Random) -> None:
    shutil.copyfile(path, path.with_name(f"more {path.name}"))


def _says_the_same(path: Path, before: bytes) -> bool:
    """Whether nothing, or only the space between the words of a document, is otherwise."""
    after = path.read_bytes()
    if after == before or path.name != "backup.json":
        return after == before
    try:
        return bool(json.loads(after) == json.loads(before))
    except (ValueError, RecursionError):
        return False


def _check_backup(folder: Path, scratch: Path, _: Study) -> dict[str, str]:
    """Restore and verify; each on its own has to say something."""
    looked_at = shutil.copytree(folder, scratch / "looked-at")
    return {
        "restore": _said(lambda: restore(folder, scratch / "restored", who="Ada") and ""),
        "verify": _said(lambda: "; ".join(_verified(looked_at))),
    }


def _verified(folder: Path) -> list[str]:
    study = open_study(folder)
    try:
        return verify(study)
    finally:
        study.close()


def _check_package(folder: Path, _: Path, study: Study) -> dict[str, str]:
    def told() -> str:
        with study.read() as connection:
            found, changed = release_in(connection, folder)
        return ", ".join(changed) if found else f"no release; {', '.join(changed)}"

    return {"releases": _said(told)}


def _said(look: Callable[[], object]) -> str:
    try:
        return str(look() or "")
    except GaitTrackError as error:
        return str(error)


_CHECKS = {"backup": _check_backup, "package": _check_package}
