"""Which walk of the chosen person is looked at: visit, condition, walk, and the next that waits.

In come the trials of a person, out come the fields to choose one with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboards.parts import controls
from gaittrack.study.recordings.reviewing import ListedTrial

VISIT, CONDITION, TRIAL = "walks-visit", "walks-condition", "walks-trial"
NEXT, WAITING = "walks-next", "walks-waiting"
Filled = tuple[str | dict[str, str], dict[str, Any]]
"""Id of a component, and what its properties become."""


def chosen_of(trials: Sequence[ListedTrial], choice: Mapping[str, int]) -> ListedTrial:
    """Return the trial to show: the chosen one, else the first that waits, else the first walk.

    Parameters
    ----------
    trials : sequence of ListedTrial
        At least one.
    choice : mapping
        From the browser; what is not this person's is passed over.
    """
    for one in trials:
        if one.trial.id == choice.get("trial"):
            return one
    of_visit = [one for one in trials if one.visit_id == choice.get("visit")]
    return first_of(of_visit or trials)


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


def fields() -> list[Component]:
    """Return the fields, to be filled by :func:`filled`."""
    names = {VISIT: "Visit", CONDITION: "Condition", TRIAL: "Walk"}
    selects = [controls.choice(name, label, [], size="md") for name, label in names.items()]
    button = html.Button("Next that waits", id=NEXT, disabled=True)
    return [
        html.Div([*selects, button], className="row no-print"),
        html.P(id=WAITING),
    ]


def filled(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Filled]:
    """Return what the fields say while a trial is shown.

    Parameters
    ----------
    now : ListedTrial
        The one that is shown.
    """
    of_visit = [one for one in trials if one.visit_id == now.visit_id]
    of_condition = [one for one in of_visit if one.condition_id == now.condition_id]
    return [
        (VISIT, {"data": _groups(trials, "visit"), "value": str(now.visit_id)}),
        (CONDITION, {"data": _groups(of_visit, "condition"), "value": str(now.condition_id)}),
        (TRIAL, {"data": [_option(one) for one in of_condition], "value": str(now.trial.id)}),
        (NEXT, {"disabled": next_waiting(trials, now) is None}),
        (WAITING, {"children": _waiting_words(trials, now)}),
    ]


def _groups(trials: Sequence[ListedTrial], level: str) -> list[dict[str, str]]:
    """Return visits or conditions with the number of walks in them that wait."""
    groups: dict[int, list[ListedTrial]] = {}
    for one in trials:
        groups.setdefault(key_of(one, level), []).append(one)
    options = []
    for key, members in groups.items():
        waiting = sum(bool(one.reasons) for one in members)
        name = getattr(members[0].trial, level)
        words = f"{name} ({waiting} waiting)" if waiting else name
        options.append({"value": str(key), "label": words})
    return options


def _option(one: ListedTrial) -> dict[str, str]:
    words = [one.trial.code]
    if one.kind == "standing" and "standing" not in one.trial.code:
        words.append("(standing)")
    if one.reasons:
        words.append(f"({', '.join(map(str, one.reasons))})")
    return {"value": str(one.trial.id), "label": " ".join(words)}


def _waiting_words(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Any]:
    n_waiting = sum(bool(one.reasons) for one in trials)
    counts = f"{n_waiting} of {len(trials)} recordings of this person wait for a look. "
    if now.kind == "standing":
        return [counts]
    if now.reasons:
        return [counts, html.Strong(f"This one does: {', '.join(map(str, now.reasons))}.")]
    return [counts, "Nothing in this one asks for it."]
