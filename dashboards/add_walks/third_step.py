"""The third step of the screen Add walks: what would become of each file, then what became of it.

In come jobs that look and store, out come what they found, the act that stores, and the ways on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component

from dashboards.add_walks.files_table import PRESSED
from dashboards.add_walks.look_and_store import Looked
from dashboards.add_walks.row_states import answered
from dashboards.parts.controls import folded, progress, table
from dashboards.parts.markup import pressing
from dashboards.shell.bars import address_of
from dashboards.shell.jobs import Job
from gaittrack.compare.row_words import count_words
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.contents import Contents
from gaittrack.reasons import Reason
from gaittrack.study.recordings.planning import State
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


def going_on(job: Job, words: str) -> list[Component]:
    """Return how far a job is, and what stops storing after the file at hand.

    Parameters
    ----------
    words : str
        What is done to the files.
    """
    n = max(job.n, len(job.done))  # a sheet may hold several walks
    return progress(f"{words.capitalize()}: {len(job.done)} of {n}", len(job.done), n)


def stop_button(job: Job) -> Component:
    """Return what ends storing after the file at hand."""
    press = pressing(PRESSED, {"act": "stop"})
    return html.Button("Stop after this file", disabled=job.is_stopped, className="quiet", **press)


def looked_part(job: Job, worn: Sequence[str], affected: str | None) -> list[Component]:
    """Return what would become of the files, and the act that stores them.

    Parameters
    ----------
    worn : sequence of str
        What was worn, as it will be stored.
    affected : str or None
        Side.
    """
    n = n_in(job.done, "would add")
    store = html.Button(
        f"Store {count_words(n, 'file')}", className="main", **pressing(PRESSED, {"act": "store"})
    )
    back = html.Button("Back to the files", **pressing(PRESSED, {"act": "step", "step": 2}))
    acts = [store, back] if n and not job.error else [back]
    parts: list[Component] = [html.P(summary(job.done, is_stored=False), role="status")]
    if worn:
        parts.append(html.P(["Worn: ", "; ".join(worn), "."], className="soft"))
    return [*parts, look_table(job.done, affected), html.Div(acts, className="row")]


def stored_part(job: Job, person: int | None, code: str, n_left: int) -> list[Component]:
    """Return what became of the files, and the ways on.

    Parameters
    ----------
    code : str
        Of the person; empty where they are several.
    n_left : int
        Files that are still here.
    """
    words = summary(job.done, is_stored=True)
    if job.is_cut_short:
        words += f" Stopped after {len(job.done)} of {job.n}; the rest was not stored."
    parts: list[Component] = [html.P(words, role="status")]
    if not job.error:
        parts.append(_ways(person, code, n_left))
    return [*parts, stored_table(job.done)]


def _ways(person: int | None, code: str, n_left: int) -> Component:
    of_person = (
        (f"Walks of {code} that wait", address_of("/walks", person), "main"),
        ("Compare", address_of("/compare", person), ""),
        (f"The overview of {code}", address_of("/overview", person), ""),
    )
    links = [
        dcc.Link(words, href=address, className=kind)
        for words, address, kind in (of_person if code else (("People", "/", "main"),))
    ]
    back = html.Button(
        f"Go on with {count_words(n_left, 'file')} left here",
        **pressing(PRESSED, {"act": "step", "step": 2}),
    )
    more = html.A("Add more walks", href="/add-walks")
    return html.Div([*links, back if n_left else more], className="row ways")


def look_table(looks: Sequence[Looked], affected: str | None) -> Component:
    """Return one row per file: what would become of it, what is in it, what to know."""
    rows = [
        [_name(one), _state(one, _BEFORE), _found(one.contents, affected), _to_know(one)]
        for one in looks
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


def _found(contents: Contents | None, affected: str | None) -> Any:
    if contents is None:
        return ""
    codes = answered(contents, affected)
    lacking = "; ".join(str(Reason(code)) for code in QUESTION_CODES if code not in codes)
    strides = [
        f"{side} {contents.n_kept[side]} of {contents.n_cycles[side]}"
        for side in SIDES
        if contents.n_cycles[side]
    ]
    events = " and ".join(contents.sources)
    said = [f"events from {events}" if events else "no events"]
    if contents.labels:
        said.append(f"{len(contents.landmarks)} landmarks found")
    said += [each.what for each in contents.problems if each.reason.code == "map_used"]
    answers = f"Answers {len(codes)} of {len(QUESTION_CODES)} questions"
    return [
        html.Div(f"{answers}, not: {lacking}" if lacking else answers),
        html.Div(f"Strides that count: {', '.join(strides) or 'none'}; {'; '.join(said)}"),
    ]


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
