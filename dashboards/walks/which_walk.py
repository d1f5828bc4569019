"""Which walk of the chosen person is looked at: the list of a visit, and the next that waits.

In come the trials of a person, out come the list to choose one from, what waits first, and the
sentence over it all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn, pressing, still
from gaittrack.study.recordings.reviewing import ListedTrial

TITLE, LIST, NEXT = "walks-title", "walks-list", "walks-next"
SHOWN, WANTED, AGAIN = "walks-shown", "walks-wanted", "walks-again"
"""``dcc.Store``: row numbers of what is shown; which visit, trial or next one was pressed; pressed
to see a walk as it is now."""
Filled = tuple[str | dict[str, str], dict[str, Any]]
"""Id of a component, and what its properties become."""
_ICONS: Final = {"waits": "trouble", "done": "ready"}


def icon(name: str) -> Component:
    """Return the diamond of what waits, or the tick of what does not."""
    return Markup(drawn("parts.sign", _ICONS[name], "walks-icon"))


def chosen_of(trials: Sequence[ListedTrial], choice: Mapping[str, int]) -> ListedTrial:
    """Return the trial to show: the chosen one, else what waits first at a visit, else its walk.

    Parameters
    ----------
    trials : sequence of ListedTrial
        At least one, in the order of visits; the newest is open where none is chosen.
    choice : mapping
        From the browser; what is not this person's is passed over.
    """
    for one in trials:
        if one.trial.id == choice.get("trial"):
            return one
    newest = trials[-1].visit_id
    of_visit = [one for one in trials if one.visit_id == choice.get("visit")]
    return first_of(of_visit or [one for one in trials if one.visit_id == newest])


def key_of(one: ListedTrial, level: str) -> int:
    """Return the row number of a trial's visit, of its condition, or its own."""
    return one.trial.id if level == "trial" else int(getattr(one, f"{level}_id"))


def first_of(trials: Sequence[ListedTrial]) -> ListedTrial:
    """Return the first trial that waits for a look, else the first walk, else the first."""
    return min(trials, key=lambda one: (not one.reasons, one.kind != "walk"))


def next_waiting(trials: Sequence[ListedTrial], now: ListedTrial) -> ListedTrial | None:
    """Return the next trial that waits for a look, round the corner too; None when no other."""
    place = trials.index(now)
    after = [*trials[place + 1 :], *trials[:place]]
    return next((one for one in after if one.reasons), None)


def filled(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Filled]:
    """Return the sentence, the way to the next that waits, and the list, while a trial is shown."""
    waits = next_waiting(trials, now)
    act = pressing(WANTED, {"level": "next"})
    button = [html.Button("Next that waits", className="no-print", **act)] if waits else []
    return [
        (TITLE, {"children": answer(trials, now)}),
        (NEXT, {"children": still(button)}),
        (LIST, {"children": still(_list(trials, now))}),
    ]


def answer(trials: Sequence[ListedTrial], now: ListedTrial) -> str:
    """Return what of a person's recordings waits, as a sentence."""
    n_waiting, why = sum(bool(one.reasons) for one in trials), next(iter(now.reasons), "")
    if n_waiting == 1:
        one = next(one for one in trials if one.reasons)
        return f"One recording waits for you, {one.trial.code}: {one.reasons[0]}"
    if n_waiting:
        many = f"{n_waiting} of {len(trials)} recordings wait for you"
        return f"{many}; this one: {why}" if why else f"{many}; this one does not"
    walks = [one for one in trials if one.kind == "walk"]
    if not walks:
        return "Nothing waits: there is no walk yet, only standing"
    counted, strides = (sum(getattr(one, n) for one in walks) for n in ("n_counted", "n_strides"))
    many = "1 walk" if len(walks) == 1 else f"{len(walks)} walks"
    return f"Nothing waits: {counted} of {strides} strides of {many} are counted"


def reasons_of(one: ListedTrial) -> str:
    """Return why a trial waits, in words; empty when it does not."""
    return " · ".join(map(str, one.reasons))


def _list(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Component]:
    of_visit = [one for one in trials if one.visit_id == now.visit_id]
    n_waiting = sum(bool(one.reasons) for one in of_visit)
    head: list[Any] = [html.B(f"{n_waiting} of {len(of_visit)} wait"), f" · {now.trial.visit}"]
    rows = sorted(of_visit, key=lambda one: not one.reasons)
    parts = [
        html.P(head),
        html.Ul([html.Li(_row(one, is_here=one == now)) for one in rows]),
        *_other_visits(trials, now),
    ]
    return [html.Nav(parts, className="card walks-list", **aria(label="Recordings"))]


def _row(one: ListedTrial, *, is_here: bool) -> Component:
    words = [
        icon("waits" if one.reasons else "done"),
        html.Span([html.B(_name(one)), html.Small(_state(one))]),
    ]
    here = aria(current="true") if is_here else {}
    act = pressing(WANTED, {"level": "trial", "value": one.trial.id})
    return html.Button(words, className="here" if is_here else "", **here, **act)


def _name(one: ListedTrial) -> str:
    return f"{one.trial.condition}, {one.trial.code}"


def _state(one: ListedTrial) -> str:
    if one.reasons:
        return reasons_of(one)
    if one.kind == "standing":
        return "standing trial"
    return f"{one.n_counted} of {one.n_strides} strides counted"


def _other_visits(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Component]:
    visits: dict[int, list[ListedTrial]] = {}
    for one in trials:
        visits.setdefault(one.visit_id, []).append(one)
    links = [
        html.Button(
            [html.B(of_visit[0].trial.visit), f" {_visit_state(of_visit)}"],
            **pressing(WANTED, {"level": "visit", "value": key}),
        )
        for key, of_visit in visits.items()
        if key != now.visit_id
    ]
    return [html.Div(links, className="walks-visits")] if links else []


def _visit_state(trials: Sequence[ListedTrial]) -> str:
    n_waiting = sum(bool(one.reasons) for one in trials)
    n_walks = sum(one.kind == "walk" for one in trials)
    walks = "1 walk" if n_walks == 1 else f"{n_walks} walks"
    return f"{walks}, {n_waiting} wait" if n_waiting else walks
