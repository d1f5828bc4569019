"""Run a comparison for the command line: read the options, compare, print, write the page.

In come the options of ``gaittrack compare``, out come text or JSON on stdout, problems on stderr, a
page if asked for, and the exit code.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import click

from gaittrack.atomic_write import write_text_atomically
from gaittrack.commands.compare_text import comparison_text
from gaittrack.commands.condition_paths import (
    WITHOUT,
    affected_side_of,
    conditions_files_beside,
    files_by_condition,
    is_of_child,
    paths_by_condition,
    split_name,
    visit_of,
)
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.comparison import Affected, comparison_dict
from gaittrack.compare.condition import Condition, read_conditions
from gaittrack.compare.repeat_visits import floor_table, read_floors
from gaittrack.compare.typical import Population, TypicalRange, read_typical_ranges
from gaittrack.compare_files import FileComparison, compare_files, described_standing, worn_by
from gaittrack.errors import GaitTrackError
from gaittrack.lab_map import LabMap, read_lab_map
from gaittrack.notice import NOTICE
from gaittrack.pipeline import MeasureOptions
from gaittrack.report.comparison_page import comparison_page
from gaittrack.walk_records import match_name

DONE, SOME_REFUSED = 0, 1
_SIDES: Final[dict[str, Affected]] = {"left": "left", "right": "right", "both": "both"}
_POPULATIONS: Final[dict[str, Population]] = {"adult": "adult", "child": "child"}


@dataclass(frozen=True, slots=True)
class _Worn:
    """What was worn, and the standing trials it names."""

    files: tuple[Path, ...]
    conditions: dict[str, Condition]
    standing: dict[str, Path]


@dataclass(frozen=True, slots=True)
class CompareOptions:
    """The options of ``gaittrack compare``.

    Attributes
    ----------
    without, with_, named : sequence of str
        Paths and patterns of the short form; ``NAME=PATH``.
    standing, events : sequence of str
        ``NAME=FILE`` and ``FILE=CSV``.
    typical : str or None
        ``adult``, ``child`` or a file; None: as the age band beside the walks says, else adult.
    """

    without: Sequence[str]
    with_: Sequence[str]
    named: Sequence[str]
    reference: str | None
    standing: Sequence[str]
    events: Sequence[str]
    map_file: Path | None
    worn_file: Path | None
    floors_file: Path | None
    affected: Affected | None
    typical: str | None
    rate_hz: float | None
    html_out: Path | None


def run_comparison(asked: CompareOptions) -> FileComparison:
    """Compare what the options say.

    Raises
    ------
    click.UsageError
        Options that do not fit, a file beside the walks that cannot be used, or walks that cannot
        be compared.
    """
    paths = paths_by_condition(asked.without, asked.with_, asked.named)
    reference = _reference(asked.reference, paths)
    try:
        worn = _worn(asked.worn_file, paths)
        result = _compare(asked, paths, reference, worn)
    except (GaitTrackError, ValueError) as error:
        raise click.UsageError(str(error)) from error
    return _with_files_read(result, asked, worn.files)


def _compare(
    asked: CompareOptions, paths: dict[str, list[Path]], reference: str, worn: _Worn
) -> FileComparison:
    standing = {**worn.standing, **_named_files(asked.standing, paths, "--standing")}
    tables = {Path(a): Path(b) for a, b in (split_name(text, "--events") for text in asked.events)}
    beside = [*standing.values(), *tables.values()]
    files = files_by_condition(paths, leave_out=beside)
    _check_tables(tables, files)
    _refuse_bad_target(asked.html_out, [*beside, *(file for own in files.values() for file in own)])
    lab_map = read_lab_map(asked.map_file) if asked.map_file is not None else LabMap()
    return compare_files(
        files,
        reference=reference,
        options=MeasureOptions(lab_map, rate_hz=asked.rate_hz),
        standing=standing,
        events=tables,
        worn=worn.conditions,
        affected=asked.affected or _affected(worn.files),
        floors=floor_table(read_floors(asked.floors_file)) if asked.floors_file else None,
        typical=_typical(_population(asked.typical, worn.files)),
    )


def _reference(reference: str | None, paths: Mapping[str, object]) -> str:
    if len(paths) < 2:
        raise click.UsageError(
            "Give --without PATH and --with PATH, or --condition NAME=PATH at least twice."
        )
    if reference is None:
        if WITHOUT in paths:
            return WITHOUT
        raise click.UsageError(f"Say which is the --reference: {', '.join(paths)}.")
    found = match_name(reference, paths)
    if found is None:
        raise click.UsageError(f"--reference {reference}: conditions are {', '.join(paths)}.")
    return found


def _worn(worn_file: Path | None, paths: dict[str, list[Path]]) -> _Worn:
    if worn_file is not None:
        return _described(worn_file, paths, is_asked=True)
    found = conditions_files_beside(paths)
    if not found:
        return _Worn((), {}, {})
    if len(found) == 1:
        return _described(next(iter(found)), paths, is_asked=False)
    return _of_several(found, paths)


def _of_several(found: Mapping[Path, Sequence[str]], paths: Mapping[str, object]) -> _Worn:
    """Describe each condition by the file beside its own walks; other visits are other days."""
    by_name = {name: [file for file, names in found.items() if name in names] for name in paths}
    for name, files in by_name.items():
        if len(files) > 1:
            words = f"{name}: walks of several visits; what was worn counts as not recorded"
            click.echo(f"warning: {words}", err=True)
    conditions: dict[str, Condition] = {}
    standing: dict[str, Path] = {}
    for file in found:
        own = [name for name, files in by_name.items() if files == [file]]
        if not own:
            continue
        worn = _described(file, own, is_asked=False)
        day = visit_of(file)
        for name in own:
            one = worn.conditions.get(name, Condition(name))
            conditions[name] = replace(one, day=one.day or day)
        standing |= worn.standing
    return _Worn(tuple(found), conditions, standing)


def _described(file: Path, names: Iterable[str], *, is_asked: bool) -> _Worn:
    names = list(names)
    described = read_conditions(file)
    conditions = worn_by(names, described)
    click.echo(f"info: what was worn is read from {file.as_posix()}", err=True)
    if missing := [name for name in names if name not in conditions]:
        words = f"{', '.join(missing)} not described; described are: {', '.join(described)}"
        if is_asked and not conditions:
            raise click.UsageError(f"--conditions {file}: {words}.")
        click.echo(f"warning: {file.as_posix()}: {words}", err=True)
    return _Worn((file,), conditions, described_standing(conditions, file.parent))


def _named_files(texts: Sequence[str], paths: Mapping[str, object], option: str) -> dict[str, Path]:
    found = {}
    for text in texts:
        name, path = split_name(text, option)
        condition = match_name(name, paths)
        if condition is None:
            raise click.UsageError(f"{option} {text}: conditions are {', '.join(paths)}.")
        if not Path(path).is_file():
            raise click.UsageError(f"{option} {text}: there is no such file.")
        found[condition] = Path(path)
    return found


def _check_tables(tables: Mapping[Path, Path], files: Mapping[str, Sequence[Path]]) -> None:
    walks = {file.resolve() for each in files.values() for file in each}
    for walk, table in tables.items():
        if walk.resolve() not in walks:
            raise click.UsageError(f"--events {walk}={table}: {walk} is none of the walks.")
        if not table.is_file():
            raise click.UsageError(f"--events {walk}={table}: there is no such table.")


def _population(text: str | None, conditions_files: Sequence[Path]) -> str:
    if text is not None:
        return text
    if not any(is_of_child(file) for file in conditions_files):
        return "adult"
    click.echo("info: typical ranges of children are used, by the age band found", err=True)
    return "child"


def _affected(conditions_files: Sequence[Path]) -> Affected | None:
    """Return the affected side the files beside the walks agree on, else None."""
    told = {side for file in conditions_files if (side := affected_side_of(file)) is not None}
    if not told:
        return None
    side = _SIDES.get(next(iter(told))) if len(told) == 1 else None
    if side is None:
        words = ", ".join(sorted(told))
        click.echo(f"warning: affected_side is {words}; give --affected", err=True)
    else:
        click.echo(f"info: the affected side is {side}, as read beside the walks", err=True)
    return side


def _typical(text: str) -> Population | Mapping[str, TypicalRange]:
    return _POPULATIONS[text] if text in _POPULATIONS else read_typical_ranges(Path(text))


def _refuse_bad_target(target: Path | None, inputs: Sequence[Path]) -> None:
    if target is None:
        return
    if not target.resolve().parent.is_dir():
        raise click.UsageError(f"--html {target}: there is no folder for it.")
    if any(target.exists() and path.exists() and path.samefile(target) for path in inputs):
        raise click.UsageError(f"--html {target}: would overwrite a file that is read.")


def _with_files_read(
    result: FileComparison, asked: CompareOptions, conditions_files: Sequence[Path]
) -> FileComparison:
    """Return the result with the files beside the walks in its settings."""
    single = {
        "map": asked.map_file,
        "floors_file": asked.floors_file,
        "typical_file": (
            Path(asked.typical) if asked.typical and asked.typical not in _POPULATIONS else None
        ),
    }
    read = {key: [path] if path is not None else [] for key, path in single.items()}
    read["conditions_file"] = list(conditions_files)
    named = {key: _named(paths) for key, paths in read.items()}
    settings = {**result.comparison.settings, **named, "given_rate_hz": asked.rate_hz}
    return replace(result, comparison=replace(result.comparison, settings=settings))


def _named(paths: Sequence[Path]) -> dict[str, str] | None:
    if not paths:
        return None
    return {
        "file": ", ".join(path.name for path in paths),
        "sha256": ", ".join(_sha256(path) for path in paths),
    }


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def print_comparison(
    result: FileComparison, *, everything: bool, as_json: bool, html_out: Path | None
) -> int:
    """Print a comparison, write the page if asked for, and return the exit code.

    Parameters
    ----------
    everything : bool
        All measures in the table, not only the headline ones.

    Raises
    ------
    click.UsageError
        The page cannot be written where it shall go.
    """
    _report(result)
    if html_out is not None:
        _write_page(html_out, comparison_page(result))
    if as_json:
        values = {**comparison_dict(result.comparison), "notice": NOTICE}
        click.echo(json.dumps(values, indent=1, allow_nan=False))
    else:
        text = comparison_text(result.comparison, everything=everything)
        click.echo("\n\n".join([text, wrapped(NOTICE)]))
    return SOME_REFUSED if result.refused else DONE


def _report(result: FileComparison) -> None:
    for refused in result.refused:
        click.echo(f"refused: {refused.path.as_posix()}: {refused.error}", err=True)
    for problem in result.problems:
        click.echo(str(problem), err=True)


def _write_page(target: Path, page: str) -> None:
    try:
        write_text_atomically(target, page)
    except OSError as error:
        raise click.UsageError(f"--html {target}: {error.strerror}.") from error
    click.echo(f"wrote {target}", err=True)
