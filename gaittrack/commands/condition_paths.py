"""Which files belong to which condition, as given on the command line.

In come words like ``NAME=PATH`` and patterns in quotes, out come files by condition.
"""

from __future__ import annotations

import glob
import tomllib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

import click

from gaittrack.compare.typical import population_of
from gaittrack.pipeline import files_in

WITHOUT: Final = "without brace"
WITH: Final = "with brace"
"""Names of the two conditions of the short form."""
CONDITIONS_FILE: Final = "conditions.toml"


def paths_by_condition(
    without: Sequence[str], with_: Sequence[str], named: Sequence[str]
) -> dict[str, list[Path]]:
    """Return the paths of each condition, patterns expanded.

    Parameters
    ----------
    without, with_ : sequence of str
        Paths and patterns of the short form.
    named : sequence of str
        ``NAME=PATH``.

    Returns
    -------
    dict of name to list of Path
        Files and folders.

    Raises
    ------
    click.UsageError
        Nothing is there, or NAME= is missing.
    """
    found: dict[str, list[Path]] = {}
    pairs = [(WITHOUT, text) for text in without] + [(WITH, text) for text in with_]
    pairs += [split_name(text, "--condition") for text in named]
    for name, text in pairs:
        found.setdefault(name, []).extend(expanded(text))
    return found


def split_name(text: str, option: str) -> tuple[str, str]:
    """Return name and path of ``NAME=PATH``."""
    name, sign, path = text.partition("=")
    if not (sign and name.strip() and path.strip()):
        raise click.UsageError(f"{option} {text}: write it as NAME=PATH.")
    return name.strip(), path.strip()


def expanded(text: str) -> list[Path]:
    """Return the files and folders meant by a path or a pattern."""
    path = Path(text)
    if path.exists():
        return [path]
    if glob.has_magic(text) and (found := sorted(glob.glob(text, recursive=True))):
        return [Path(each) for each in found]
    raise click.UsageError(f"{text}: there is no such file, folder or match of a pattern.")


def files_by_condition(
    paths: dict[str, list[Path]], *, leave_out: Iterable[Path] = ()
) -> dict[str, list[Path]]:
    """Return the files of each condition.

    Parameters
    ----------
    leave_out : iterable of Path
        Files in the folders that are not walks.

    Raises
    ------
    click.UsageError
        A condition has no readable file.
    """
    unwanted = list(leave_out)
    found = {name: files_in(given, leave_out=unwanted) for name, given in paths.items()}
    for name, files in found.items():
        if not files:
            raise click.UsageError(f"{name}: no readable file in {_list(paths[name])}.")
    return found


def conditions_files_beside(paths: dict[str, list[Path]]) -> dict[Path, list[str]]:
    """Return each ``conditions.toml`` in or beside what was given, with the conditions it is by."""
    found: dict[Path, tuple[Path, list[str]]] = {}
    for name, given in paths.items():
        for path in given:
            for place in (
                (path, path.parent) if path.is_dir() else (path.parent, path.parent.parent)
            ):
                file = place / CONDITIONS_FILE
                if file.is_file():
                    names = found.setdefault(file.resolve(), (file, []))[1]
                    names += [name] if name not in names else []
    return dict(found.values())


def is_of_child(conditions_file: Path) -> bool:
    """Tell whether a readable conditions file gives an age band that ends below 18 years."""
    return population_of(str(_person(conditions_file).get("age_band", ""))) == "child"


def affected_side_of(conditions_file: Path) -> str | None:
    """Return the affected side that a readable conditions file gives; None without one."""
    side = _person(conditions_file).get("affected_side")
    return None if side is None else str(side)


def _person(conditions_file: Path) -> dict[str, Any]:
    person = tomllib.loads(conditions_file.read_text(encoding="utf-8")).get("person", {})
    return person if isinstance(person, dict) else {}


def visit_of(conditions_file: Path) -> str | None:
    """Return the visit that a readable conditions file is of; None where it does not say."""
    visit = tomllib.loads(conditions_file.read_text(encoding="utf-8")).get("visit", {})
    if not isinstance(visit, dict):
        return None
    words = {"number": "visit", "days_since_first_visit": "day"}
    said = [f"{word} {visit[key]}" for key, word in words.items() if key in visit]
    return ", ".join(said) or None


def _list(paths: Iterable[Path]) -> str:
    return ", ".join(path.as_posix() for path in paths)
