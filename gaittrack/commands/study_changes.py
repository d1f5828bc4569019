"""What the commands on a study do and print.

In come the commands' options, out come changes of the study, text on stdout and exit codes. A
mistake of the user, or a study that refuses, ends the command with its message.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import Any

import click

from gaittrack import corrected
from gaittrack.cohort.people.id_maps import id_maps_naming
from gaittrack.cohort.release.releases import releases_with
from gaittrack.commands.running import (
    DONE,
    NOT_ALL_WELL,
    bar_over,
    mistakes_told,
    print_past,
)
from gaittrack.lab_defaults import Plates
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.study.corrections.looking import LookedTrial, corrections_of, look_at
from gaittrack.study.corrections.making import correct
from gaittrack.study.history import entries
from gaittrack.study.laboratory import (
    ERRORS,
    MAP,
    OUTCOMES,
    RELEASES,
    TYPICAL,
    keep_defaults,
    laboratory_defaults,
    map_setting,
    set_setting,
)
from gaittrack.study.laboratory_history import put_back
from gaittrack.study.results.keeping import (
    KnownTrial,
    MeasureAll,
    find_trial,
    recompute,
    stale_trials,
)
from gaittrack.study.results.kept_walk import KeptWalk
from gaittrack.study.results.processes import in_processes, processes_for
from gaittrack.study.store import Study, create_study
from gaittrack.study.upkeep.backups import back_up, restore
from gaittrack.study.upkeep.erasing import erase_person
from gaittrack.study.upkeep.manifest import MANIFEST
from gaittrack.study.upkeep.verifying import verify
from gaittrack.trial import EventId


def run_new(folder: Path, *, url: str | None) -> None:
    """Make an empty study and say what comes next."""
    with mistakes_told():
        create_study(folder, url=url).close()
    click.echo(
        f"{folder} is an empty study. Walks come in with gaittrack import PATHS --study {folder}, "
        f"or on screen: gaittrack dashboard --study {folder}"
    )


def run_recompute(
    study: Study,
    *,
    who: str,
    only_list: bool = False,
    n_processes: int | None = None,
    cluster: str | None = None,
) -> int:
    """Measure stale and damaged trials again, or list them, and return the exit code.

    Parameters
    ----------
    n_processes : int, optional
        That measure; without it one per processor, fewer for few recordings.
    cluster : str, optional
        Address of a scheduler, to measure there in place of this machine.
    """
    if cluster is not None and n_processes is not None:
        raise click.UsageError("--jobs does not go together with --cluster.")
    n_refused = 0
    stale = stale_trials(study, is_thorough=True)
    if only_list:
        for trial, reason in stale:
            click.echo(f"{trial.place}: {reason}")
    elif stale:
        here = in_processes(n_processes or processes_for(len(stale)))
        with _cluster(cluster) if cluster is not None else here as measure_all:
            trials = [trial for trial, _ in stale]
            again = recompute(study, trials, who=who, measure_all=measure_all)
            n_refused = _print_all_again(again, len(trials))
    click.echo(f"{len(stale)} stale")
    return NOT_ALL_WELL if n_refused else DONE


def _cluster(address: str) -> AbstractContextManager[MeasureAll]:
    try:
        measuring: AbstractContextManager[MeasureAll] = import_module(
            "gaittrack.study.results.cluster"
        ).on_cluster(address)
    except ModuleNotFoundError as error:
        raise click.UsageError(
            f"--cluster needs the package {error.name}: pip install 'gaittrack[cluster]'."
        ) from error
    return measuring


def _print_all_again(again: Iterable[tuple[KnownTrial, KeptWalk]], n_trials: int) -> int:
    """Print what became of each trial as it comes; return how many were refused."""
    n_refused = 0
    with bar_over(again, n_trials, "Measuring", least=2) as results:
        for trial, kept in results:
            refused = kept.error is not None
            words = f"refused: {kept.error}" if refused else "measured"
            print_past(results, f"{trial.place}: {words}", err=refused)
            n_refused += refused
    return n_refused


def run_backup(study: Study, target: Path) -> int:
    """Back a study up, say what it could not take along, and return the exit code."""
    done = back_up(study, target)
    click.echo(f"backed up with {done.n_originals} originals to {target}")
    return _lost_told(done.lost, "gaittrack study verify says how to get them back.")


def _lost_told(lost: Sequence[str], action: str) -> int:
    """Name the originals that a copy has to do without; return the exit code."""
    for name in lost:
        click.echo(f"not in it: the original of {name}, lost or changed before", err=True)
    if lost:
        click.echo(f"{len(lost)} originals lost; all else is there. {action}", err=True)
    return NOT_ALL_WELL if lost else DONE


def run_restore(backup: Path, folder: Path, url: str | None, who: str) -> int:
    """Make a study out of a backup, say what it lacks, and return the exit code."""
    with mistakes_told():
        done = restore(backup, folder, who=who, url=url)
    click.echo(f"restored with {done.n_originals} originals to {folder}")
    if not done.has_manifest:
        click.echo(
            "The backup has no list of what it holds: it is of an earlier version. Nothing wrong "
            "was found in it; whether all is there that was backed up, nobody can tell.",
            err=True,
        )
    return _lost_told(done.lost, "Import these recordings again; their numbers are kept.")


def run_verify(study: Study) -> int:
    """Print what is wrong with a study and return the exit code."""
    found = verify(study)
    for fault in found:
        click.echo(fault, err=True)
    click.echo(f"{len(found)} faults" if found else "sound")
    return NOT_ALL_WELL if found else DONE


def run_erase(study: Study, person: str, *, why: str, who: str, yes: bool) -> int:
    """Ask, erase a person, say what copies were cleaned and return the exit code."""
    if not yes:
        click.confirm(f"Erase {person} with all recordings?", abort=True)
    with study.read() as connection:
        held = [each.number for each in releases_with(connection, study.folder, person)]
    done = erase_person(study, person, who=who, why=why, releases=held)
    click.echo(f"erased, with {done.n_originals} originals")
    for name in done.cleaned:
        click.echo(f"erased from the copy {name} too")
    for words in done.uncleaned:
        click.echo(f"still holds the person: {words}", err=True)
    if (study.folder / MANIFEST).is_file():
        click.echo(
            "This study is a backup, and is not as it was made any more: to have one that can be "
            "restored, back it up anew.",
            err=True,
        )
    if held:
        numbers = ", ".join(map(str, held))
        click.echo(
            f"Releases that hold the person under an id: {numbers}; `gaittrack study releases` "
            "says when and for whom they were made. Ask who has them to delete the rows.",
            err=True,
        )
    maps = id_maps_naming(study.folder, person)
    for path in maps:
        click.echo(f"still names the person, delete it or the line: {path}", err=True)
    click.echo(
        "Copies elsewhere cannot be known: backups and exports made earlier may still hold the "
        "person."
    )
    return NOT_ALL_WELL if done.uncleaned or maps else DONE


def run_settings(
    study: Study,
    *,
    lab_map: Sequence[Path],
    errors: Path | None,
    typical: Path | None,
    usual_rate: str | None,
    plates: Plates | None,
    releases: Path | None,
    outcomes: Path | None,
    why: str,
    who: str,
) -> None:
    """Set the laboratory's files, and how it records."""
    given = [(MAP if len(lab_map) == 1 else map_setting(path.stem), path) for path in lab_map]
    files = ((ERRORS, errors), (TYPICAL, typical), (RELEASES, releases), (OUTCOMES, outcomes))
    given += [(name, path) for name, path in files if path]
    if not given and usual_rate is None and plates is None:
        raise click.UsageError(
            "Give --map, --errors, --typical, --usual-rate, --plates, --releases or --outcomes."
        )
    if usual_rate is not None or plates is not None:
        _set_defaults(study, usual_rate, plates, who=who, why=why)
    for name, path in given:
        set_setting(study, name, path, who=who, why=why)
        click.echo(f"{name} set from {path.name}")
    _tell_of_stale(study)


def _set_defaults(
    study: Study, usual_rate: str | None, plates: Plates | None, *, who: str, why: str
) -> None:
    with study.read() as connection:
        now = laboratory_defaults(connection)
    if usual_rate is not None:
        try:
            now = replace(now, rate_hz=None if usual_rate == "none" else float(usual_rate))
        except ValueError:
            raise click.UsageError(
                f"--usual-rate {usual_rate}: give frames per second, or none."
            ) from None
    now = replace(now, plates=plates or now.plates)
    keep_defaults(study, now, who=who, why=why)
    click.echo(f"recordings: {now.in_words or 'nothing is set'}")


def run_back(study: Study, number: int, *, why: str, who: str) -> None:
    """Let a setting be as it was before one of its changes."""
    change = put_back(study, number, who=who, why=why)
    click.echo(f"{change.name}: {change.before.get('file_name', 'not set')}, as before {number}")
    _tell_of_stale(study)


def _tell_of_stale(study: Study) -> None:
    if n_stale := len(stale_trials(study)):
        click.echo(f"{n_stale} results are stale: run gaittrack recompute --study {study.folder}")


def run_history(study: Study, person: str | None) -> None:
    """Print the history, one JSON object per line."""
    with study.read() as connection:
        for entry in entries(connection, person=person):
            click.echo(json.dumps(entry))


def run_correction(study: Study, trial: str, *, who: str, why: str, **given: Any) -> None:
    """Make the correction that the command is called by, and print what it left."""
    with study.read() as connection:
        known = find_trial(connection, trial)
    look = look_at(study, known)
    name = str(click.get_current_context().command.name)
    result = correct(study, look, _ASKED[name](look, given, why), who=who)
    if isinstance(result, MeasuredWalk):
        n_kept = sum(cycle.is_kept for cycle in result.cycles)
        click.echo(f"{known.place}: {n_kept} of {len(result.cycles)} strides kept")
    else:
        click.echo(f"{known.place}: changed; its walks are stale, run gaittrack recompute")


def _event(look: LookedTrial, given: Mapping[str, Any]) -> EventId:
    return look.event_near(given["side"], given["kind"], given["time_s"])


def _map_landmark(_: LookedTrial, given: Mapping[str, Any], why: str) -> corrected.Correction:
    landmark, equals, label = given["mapping"].partition("=")
    if not equals:
        raise click.UsageError("Write LANDMARK=LABEL, for example left_heel=MARK06.")
    return corrected.MapLandmark(landmark, label, why)


_ASKED: dict[str, Callable[[LookedTrial, Mapping[str, Any], str], corrected.Correction]] = {
    "move-event": lambda look, given, why: corrected.MoveEvent(
        _event(look, given), given["new_time_s"], why
    ),
    "add-event": lambda _, given, why: corrected.AddEvent(
        given["side"], given["kind"], given["time_s"], why
    ),
    "copy-event": lambda look, given, why: look.on_other_foot(_event(look, given), reason=why),
    "delete-event": lambda look, given, why: corrected.DeleteEvent(_event(look, given), why),
    "exclude-stride": lambda look, given, why: look.stride(given["cycle"], reason=why),
    "exclude-walk": lambda _look, _given, why: corrected.ExcludeWalk(why),
    "turn-angle": lambda _, given, why: corrected.TurnAngle(given["joint"], why),
    "keep-angle": lambda _, given, why: corrected.KeepAngle(given["joint"], why),
    "looked-at": lambda _look, _given, why: corrected.LookedAt(why),
    "swap-sides": lambda _look, _given, why: corrected.SwapSides(why),
    "map-landmark": _map_landmark,
    "undo": lambda _, given, why: corrected.Undo(given["number"], why),
}
"""What the options of each command ask for."""


def run_list(study: Study, trial: str) -> None:
    """Print the corrections of a trial."""
    with study.read() as connection:
        for row in corrections_of(connection, find_trial(connection, trial)):
            words = [
                f"{key}={row[key]}"
                for key in ("side", "event_kind", "time_s", "new_time_s", "landmark", "label")
                if row[key] is not None
            ]
            undone = " (undone)" if row["is_undone"] else ""
            click.echo(f"{row['id']}: {row['kind']} {' '.join(words)}{undone}: {row['reason']}")
