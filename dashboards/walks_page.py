"""The parts of the screen Walks put together: what is chosen, and what a correction leaves.

In come a study, the choice and who looks, out come the data and components of the screen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html, no_update, set_props
from dash.development.base_component import Component

from dashboards import walks_choosing, walks_editing, walks_form, walks_tables, walks_view
from dashboards.access import Visitor
from dashboards.controls import choose_first
from dashboards.markup import pressing, still
from dashboards.shell import say
from dashboards.walks_history import entry_words, history_table
from dashboards.walks_memory import WalkMemory
from dashboards.walks_replay import frames_of, replay
from dashboards.walks_view import Shown
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.study.changed_values import changed_values
from gaittrack.study.recordings import recording_of
from gaittrack.study.reviewing import ListedTrial, trials_of_person
from gaittrack.study.store import Study

Parts = list[Any]
"""Numbers of what is shown, event lines, frames of the replay, whether the fields to choose with
are hidden, and all the rest. Frames stay as they were where there is no player to take them."""
FACTS, CHANGES, STRIDES = "walks-facts", "walks-changes-place", "walks-strides"
EVENTS, HISTORY = "walks-events", "walks-history"
AGAIN = "walks-again"
"""``dcc.Store``: pressed to see a walk as it is now."""


def show(study: Study, memory: WalkMemory, choice: Mapping[str, int], who: Visitor) -> Parts:
    """Return the screen for what is chosen.

    Parameters
    ----------
    study : Study
    memory : WalkMemory
    choice : mapping
        Row numbers, from the browser.
    who : Visitor

    Returns
    -------
    Parts
    """
    if choice.get("person") is None:
        return [None, None, no_update, True, choose_first()]
    trials = _trials(study, choice["person"])
    if not trials:
        empty = html.P(
            ["This person has no recordings yet. ", dcc.Link("Choose another", href="/")]
        )
        return [None, None, no_update, True, empty]
    now = walks_choosing.chosen_of(trials, choice)
    shown = walks_view.look_at(study, memory, now.trial.id)
    return _parts(trials, now, shown, who, still(body(shown, who)))


def other_choice(
    study: Study, choice: Mapping[str, int], shown: Mapping[str, int], level: str, value: Any
) -> dict[str, int] | None:
    """Return the choice after a field was changed, or the next one that waits was asked for.

    Parameters
    ----------
    study : Study
    choice, shown : mapping
        Row numbers, from the browser.
    level : {"visit", "condition", "trial", "next"}
    value : str, int or None
        Of the field.

    Returns
    -------
    dict or None
        None when it stays as it is.
    """
    if value is None or "trial" not in shown or str(shown.get(level)) == value:
        return None
    trials = _trials(study, shown["person"])
    now = walks_choosing.chosen_of(trials, shown)
    if level == "next":
        waits = walks_choosing.next_waiting(trials, now)
        wanted = [waits] if waits else []
    else:
        wanted = [one for one in trials if str(walks_choosing.key_of(one, level)) == value]
    if not wanted or now in wanted:
        return None
    other = walks_choosing.first_of(wanted)
    return {**choice, "visit": other.visit_id, "trial": other.trial.id}


def correct(
    study: Study,
    memory: WalkMemory,
    given: Mapping[str, int],
    what: str,
    entered: Mapping[str, Any],
    who: Visitor,
) -> Parts:
    """Make a correction and return the screen as it is then.

    Parameters
    ----------
    study : Study
    memory : WalkMemory
    given : mapping
        The recording and its version as the browser showed them.
    what : str
        Which button.
    entered : mapping
        The fields of the form.
    who : Visitor

    Returns
    -------
    Parts

    Raises
    ------
    StudyError
        The correction was refused; nothing was changed.
    """
    before = walks_view.look_at(study, memory, given["trial"]).result
    result = walks_editing.correct(study, given, what, entered, who=who.name)
    with study.read() as connection:
        memory.keep(recording_of(connection, study, given["trial"]), result)
    shown = walks_view.look_at(study, memory, given["trial"])
    changes = [] if what == walks_editing.MEASURE else _changes(before, shown)
    say(f"Kept: {entry_words(shown.entries[-1])}.")
    trials = _trials(study, given["person"])
    whole: Any = no_update
    if what == "swap" or not isinstance(result, MeasuredWalk):
        reason = str(entered.get("reason") or "")
        whole = still(body(shown, who, changes=changes, reason=reason))
    else:
        _redraw(shown, result, changes, may_edit=True)
    return _parts(trials, walks_choosing.chosen_of(trials, given), shown, who, whole)


def _changes(before: Result | None, shown: Shown) -> list[Component]:
    after = shown.result
    if not isinstance(before, MeasuredWalk) or not isinstance(after, MeasuredWalk):
        return []
    found, done = changed_values(before, after), entry_words(shown.entries[-1])
    return [walks_editing.changes_box(found, done, _counted(before), _counted(after))]


def _redraw(
    shown: Shown, walk: MeasuredWalk, changes: Sequence[Component], *, may_edit: bool
) -> None:
    """Draw anew what a correction changed, each in its place: zoom, focus and fields stay."""
    for name, children in _texts(shown, walk, may_edit=may_edit).items():
        set_props(name, {"children": still(children)})
    set_props(CHANGES, {"children": still(changes)})
    for side, figure, counts in walks_view.drawings(shown, walk):
        set_props({"type": walks_view.GRAPH, "side": side}, {"figure": figure})
        set_props({"type": walks_view.COUNTS, "side": side}, {"children": counts})
    if walks_view.is_over_time(walk):
        options = walks_form.event_options(walk)
        set_props(walks_form.field("event"), {"data": options, "value": None})


def _texts(shown: Shown, walk: MeasuredWalk, *, may_edit: bool) -> dict[str, list[Component]]:
    """Return the parts in words that every correction may change, by their place."""
    strides = walks_tables.stride_table(walk, may_edit=may_edit)
    events = walks_tables.event_table(walk)
    return {
        FACTS: walks_view.facts(shown, walk, may_edit=may_edit),
        STRIDES: [html.H2("Strides"), strides],
        EVENTS: [html.Summary(f"All events ({len(walk.events.events)})"), events],
        HISTORY: [html.H2("History"), history_table(shown.entries, may_edit=may_edit)],
    }


def _counted(walk: MeasuredWalk) -> str:
    return f"{sum(cycle.is_kept for cycle in walk.cycles)} of {len(walk.cycles)}"


def _trials(study: Study, person: int) -> list[ListedTrial]:
    with study.read() as connection:
        return trials_of_person(connection, person)


def _parts(
    trials: Sequence[ListedTrial],
    now: ListedTrial,
    shown: Shown,
    who: Visitor,
    whole: Any,
) -> Parts:
    for name, properties in walks_choosing.filled(trials, now).items():
        set_props(name, properties)
    walk = _walk_over_time(shown)
    own = {level: walks_choosing.key_of(now, level) for level in ("visit", "condition", "trial")}
    return [
        {"person": now.person_id, **own, "version": shown.trial.version},
        walks_tables.line_data(shown.trial, walk)
        if walk is not None and "edit" in who.rights
        else None,
        no_update if walk is None else frames_of(walk),
        False,
        whole,
    ]


def _walk_over_time(shown: Shown) -> MeasuredWalk | None:
    walk = shown.result
    return walk if isinstance(walk, MeasuredWalk) and walks_view.is_over_time(walk) else None


def body(
    shown: Shown, who: Visitor, *, changes: Sequence[Component] = (), reason: str = ""
) -> list[Component]:
    """Return everything below the choice of a walk.

    Parameters
    ----------
    shown : Shown
    who : Visitor
        Without the right to edit there is nothing that changes the study.
    changes : sequence of Component
        What the last correction changed.
    reason : str
        What stood in the field before.

    Returns
    -------
    list of Component
    """
    may_edit = "edit" in who.rights
    walk = shown.result if isinstance(shown.result, MeasuredWalk) else None
    form = may_edit and not isinstance(shown.result, RefusedFile)
    editing = [walks_form.form(walk, reason)] if form else []
    place = html.Div([*changes], id=CHANGES, tabIndex=-1)
    if walk is None:
        history = [html.H2("History"), history_table(shown.entries, may_edit=may_edit)]
        stale = [walks_view.stale_box(may_edit=may_edit)] if shown.is_stale else []
        return [_heading(shown), *stale, *_why_nothing(shown), *editing, place, *history]
    texts = _texts(shown, walk, may_edit=may_edit)
    return [
        _heading(shown),
        html.Div(texts[FACTS], id=FACTS),
        *_drawn(shown, walk),
        *editing,
        place,
        html.Section(texts[STRIDES], id=STRIDES),
        html.Details(texts[EVENTS], id=EVENTS),
        html.Section(texts[HISTORY], id=HISTORY),
    ]


def _heading(shown: Shown) -> Component:
    place = f"{shown.trial.visit}, {shown.trial.condition}, {shown.trial.code}"
    act = pressing(AGAIN, shown.trial.id)
    again = html.Button("Show it as it is now", className="quiet no-print", **act)
    return html.Div([html.H2(place), again], className="walks-place")


def _why_nothing(shown: Shown) -> list[Component]:
    if isinstance(shown.result, RefusedFile):
        error = shown.result.error
        words = html.P(f"This recording could not be measured: {error.what} {error.action}")
        return [html.Div([words, *walks_view.problem_lists(error.problems)], className="watch")]
    standing = (
        "This is a standing trial: it gives the zero of the foot to the walks recorded with it, "
        "and has no steps of its own to show."
    )
    return [html.P(standing)]


def _drawn(shown: Shown, walk: MeasuredWalk) -> list[Component]:
    graphs = walks_view.side_graphs(shown, walk)
    if not walks_view.is_over_time(walk):
        why = "The file holds curves over 0-100 % of the cycle: there is no time to replay."
        return [html.P(why), *graphs]
    player = replay(walk, frames_of(walk))
    feet = html.Div([walks_view.source_key(walk), *graphs])
    return [html.Div([feet, player], className="walks-grid")]
