"""What is in the files and what would become of them, before anything is stored; then storing.

In comes a plan, out come steps for a job: the same import as on the command line, first as a dry
run. Out come also the tables that say what was found, what is wrong and what was stored.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.add_walks.uploads import Baskets
from dashboards.parts.controls import folded, table
from gaittrack.contents import Contents, contents_of
from gaittrack.errors import GaitTrackError
from gaittrack.measured_walk import RefusedFile, Result
from gaittrack.pipeline import Recording, measure_recording, read_recording
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import Plan, ReportRow, State
from gaittrack.study.store import Study
from gaittrack.vocabulary import SIDES

STATES: Final = {
    "would add": "can be stored",
    "added": "stored",
    "known": "in the study already",
    "asked about": "not stored: asked about",
    "refused": "not stored",
    "passed over": "passed over",
}
_BEFORE: Final = STATES | {"refused": "cannot be stored"}


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found in one file.

    Attributes
    ----------
    name : str
        What people call the file.
    contents : Contents or None
        Of a walk that could be measured.
    labels : tuple of str
        Of its markers, also where it could not be measured.
    """

    row: ReportRow
    name: str
    contents: Contents | None = None
    labels: tuple[str, ...] = ()


def look(study: Study, plan: Plan, who: str) -> Iterator[Looked]:
    """Look at the files of a plan, one by one, and store nothing."""
    contents: dict[Path, Contents] = {}
    labels: dict[Path, tuple[str, ...]] = {}

    def measure_all(recordings: Iterable[Recording]) -> Iterator[Result]:
        for recording in recordings:
            result = measure_recording(recording)
            if isinstance(result, RefusedFile):
                labels[recording.file.path] = _labels(recording)
            else:
                contents[recording.file.path] = contents_of(result)
                labels[recording.file.path] = contents[recording.file.path].labels
            yield result

    rows = import_files(
        study, plan, who=who, new_people=True, dry_run=True, measure_all=measure_all
    )
    for row in rows:
        yield Looked(row, row.path.name, contents.get(row.path), labels.get(row.path, ()))


def _labels(recording: Recording) -> tuple[str, ...]:
    """Return the labels of a file that could not be measured; none where it cannot be read."""
    try:
        return tuple(read_recording(recording).markers)
    except (GaitTrackError, OSError):
        return ()


def store(
    study: Study, plan: Plan, held: Baskets, key: str, who: str, *, same_person: bool
) -> Iterator[Looked]:
    """Store the files of a plan; each is in the study when its row is given.

    Parameters
    ----------
    same_person : bool
        Whoever stores them says so of walks that were asked about.
    """
    with held.storing(key):
        for row in import_files(study, plan, who=who, new_people=True, same_person=same_person):
            yield Looked(row, row.path.name)


def look_table(looks: Sequence[Looked]) -> Component:
    """Return one row per file: what would become of it, what is in it, what to know."""
    rows = [
        [_name(one), _state(one, _BEFORE), _found(one.contents), _to_know(one)] for one in looks
    ]
    heads = ("File", "What becomes of it", "What is in it", "To know")
    return table(heads, rows, caption="What was found; nothing is stored yet")


def stored_table(looks: Sequence[Looked]) -> Component:
    """Return one row per file: what became of it."""
    rows = [[_name(one), _state(one, STATES), one.row.message] for one in looks]
    return table(("File", "What became of it", "To know"), rows, caption="What became of the files")


def _name(one: Looked) -> Any:
    return [one.name, html.Small(one.row.place)] if one.row.place else one.name


def _state(one: Looked, states: Mapping[str, str]) -> Any:
    words = states[one.row.state]
    return html.Strong(words) if one.row.state in ("refused", "asked about") else words


def _found(contents: Contents | None) -> Any:
    if contents is None:
        return ""
    strides = [
        f"{side}: {contents.n_kept[side]} of {contents.n_cycles[side]} strides count"
        for side in SIDES
        if contents.n_cycles[side]
    ]
    events = " and ".join(contents.sources)
    said = [*strides, f"events from {events}" if events else "no events"]
    if contents.labels:
        said.append(f"{len(contents.landmarks)} landmarks found")
    return [html.Div(words) for words in said]


def _to_know(one: Looked) -> list[Component]:
    parts: list[Component] = [html.Div(one.row.message)] if one.row.message else []
    if one.contents is None:
        return parts
    problems = [p for p in one.contents.problems if p.level != "info"]
    parts += [html.Div(f"{p.where}: {p.what} {p.action}".strip()) for p in problems]
    missing = [f"{', '.join(m.names)}, for {m.serves}" for m in one.contents.missing]
    lacking = [
        f"{n.side}: {n.reason}{': ' if n.titles else ''}{', '.join(n.titles)}"
        for n in one.contents.not_measured
    ]
    below = [
        ("Missing points", [words.replace("_", " ") for words in missing]),
        ("Not measured", lacking),
    ]
    return parts + [
        folded(f"{title} ({len(each)})", html.Ul([html.Li(words) for words in each]))
        for title, each in below
        if each
    ]


def summary(looks: Sequence[Looked], *, is_stored: bool) -> str:
    """Return how many files can be stored or were, are known or refused."""
    states = STATES if is_stored else _BEFORE
    counts = {state: sum(one.row.state == state for one in looks) for state in states}
    said = [f"{n} {states[state]}" for state, n in counts.items() if n]
    return f"{'; '.join(said)}." if said else "No file."


def n_in(looks: Sequence[Looked], state: State) -> int:
    """Return of how many files this would become."""
    return sum(one.row.state == state for one in looks)
