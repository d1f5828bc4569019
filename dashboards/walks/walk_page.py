"""The parts of the screen Walks put together: what is chosen, and what a correction leaves.

In come a study, the choice and who looks, out comes what fills the places of the screen. Choosing
and correcting fill the same places in one way, so that fields, zoom and focus stay.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import orjson
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, choose_first, data
from dashboards.parts.markup import pressing, still
from dashboards.parts.saving import PICTURE, save_menu
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.parts.states import coming, could_not
from dashboards.shell.access import Visitor
from dashboards.shell.bars import say
from dashboards.walks import (
    correction_form,
    editing,
    recording_view,
    several_walks,
    stride_tables,
    visit_row,
    which_walk,
    why_waits,
)
from dashboards.walks.done_to_trial import entry_words, history_table
from dashboards.walks.measured_walks import WalkMemory
from dashboards.walks.recording_view import ShownTrial
from dashboards.walks.replay import player, player_filled, replay
from dashboards.walks.which_walk import AGAIN, SHOWN, Filled
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.study.corrections.changed_values import changed_values
from gaittrack.study.people.enrolled import is_there
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.reviewing import ListedTrial, trials_of_person
from gaittrack.study.results.keeping import KnownTrial
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import Study
from gaittrack.vocabulary import SIDES

DRAWN: Final = "walks-drawn"
"""``dcc.Store``: what ``assets/walks.js`` draws."""
BODY, HEAD, CHANGES = "walks-body", "walks-head", "walks-changes-place"
WHY, LEGS, ABOUT = "walks-why", "walks-legs", "walks-about"
STRIDES, EVENTS, HISTORY = "walks-strides", "walks-events", "walks-history"
_IN_WORDS: Final = (WHY, LEGS, ABOUT, STRIDES, EVENTS, HISTORY)
_PLACE: Final = "walks-place"
_MEASURING: Final = "Reading one recording and measuring it"


def places(who: Visitor) -> Component:
    """Return the places of the screen, to be filled by :func:`show`.

    The class of the whole says what is shown, and with that which of them are seen.

    Parameters
    ----------
    who : Visitor
        Without the right to edit there is nothing that changes the study.
    """
    may_edit = "edit" in who.rights
    curves = [
        _legs(),
        html.Div(id="walks-feet"),
        html.P("", id="walks-proposal", role="status"),
        _zooms(),
    ]
    replay = html.Section(player(), className="card walks-replay no-print only-timed")
    main = [
        html.Div(
            [html.Div(coming(_MEASURING), id=HEAD), html.Div(curves, className="only-measured")],
            className="card walks-main",
        ),
        html.Div(correction_form.form() if may_edit else None, className="card only-form no-print"),
        html.Div(id=CHANGES, tabIndex=-1),
        html.Section(id=STRIDES, className="card only-measured"),
        html.Details(id=EVENTS, className="card only-measured"),
        html.Section(id=HISTORY, className="card only-chosen"),
    ]
    several = html.Div(several_walks.places() if may_edit else None, className="card only-chosen")
    beside = [html.Div(id=WHY), html.Div(id=LEGS), replay, html.Div(id=ABOUT)]
    columns = [
        html.Div([html.Div(id=which_walk.LIST), several]),
        html.Div(main),
        html.Aside(beside, **aria(label="Of this walk")),
    ]
    return html.Div(html.Div(columns, className="walks-grid"), id=BODY)


def _legs() -> Component:
    """Return the choice of the leg whose curves are seen."""
    buttons = [
        html.Button(f"{side.capitalize()} leg", **data(leg=side), **aria(pressed="false"))
        for side in SIDES
    ]
    return html.Div(buttons, className="joined no-print", role="group", **aria(label="Leg"))


def _zooms() -> Component:
    """Return the buttons that do to both graphs what the pointer does."""
    words = {
        **{"nearer": "Zoom in", "farther": "Zoom out", "earlier": "Earlier", "later": "Later"},
        "whole": "Whole recording",
    }
    buttons = [
        html.Button(text, className="quiet", **data(zoom=key)) for key, text in words.items()
    ]
    menu = save_menu("curves", PICTURE, of="#walks-feet", says="Save the curves")
    return html.Div([*buttons, menu], className="walks-zooms no-print")


def show(study: Study, memory: WalkMemory, choice: Mapping[str, int], who: Visitor) -> list[Filled]:
    """Return the screen for what is chosen.

    Parameters
    ----------
    choice : mapping
        Row numbers, from the browser.
    """
    if not is_there(study, choice.get("person")):
        return _nothing(choose_first())
    trials = _trials(study, choice["person"])
    if not trials:
        words: list[Any] = [
            "This person has no recordings yet. ",
            dcc.Link("Choose another", href="/"),
        ]
        return _nothing(html.P(words))
    now = which_walk.chosen_of(trials, choice)
    shown = recording_view.look_at(study, memory, now.trial.id)
    return _screen(study, trials, now, shown, who)


def other_choice(
    study: Study, choice: Mapping[str, int], shown: Mapping[str, int], wanted: Mapping[str, Any]
) -> dict[str, int] | None:
    """Return the choice after a visit or a trial was pressed, or the next one was asked for.

    Parameters
    ----------
    choice, shown : mapping
        Row numbers, from the browser.
    wanted : mapping
        ``level`` (visit, trial or next) and the row number as ``value``.

    Returns
    -------
    dict or None
        None when it stays as it is.
    """
    if "trial" not in shown:
        return None
    trials, level = _trials(study, shown["person"]), wanted["level"]
    refuse_unless(bool(trials))
    now = which_walk.chosen_of(trials, shown)
    if level == "next":
        waits = which_walk.next_waiting(trials, now)
        fit = [waits] if waits else []
    else:
        fit = [one for one in trials if which_walk.key_of(one, level) == wanted.get("value")]
    if not fit or now in fit:
        return None
    other = which_walk.first_of(fit)
    return {**choice, "visit": other.visit_id, "trial": other.trial.id}


def correct(
    study: Study,
    memory: WalkMemory,
    given: Mapping[str, int],
    what: str,
    entered: Mapping[str, Any],
    who: Visitor,
) -> list[Filled]:
    """Make a correction and return the screen as it is then.

    Parameters
    ----------
    given : mapping
        The recording and its version as the browser showed them.
    what : str
        Which button.
    entered : mapping
        The fields of the form.

    Raises
    ------
    StudyError
        The correction was refused; nothing was changed.
    """
    before = recording_view.look_at(study, memory, given["trial"]).result
    if isinstance(before, MeasuredWalk):
        named = {stride_tables.event_key(event): event.id for event in before.events.events}
        entered = {**entered, "event": named.get(entered.get("event") or "")}
    result = editing.correct(study, given, what, entered, who=who.name)
    with study.read() as connection:
        memory.keep(recording_of(connection, study, given["trial"]), result)
    shown = recording_view.look_at(study, memory, given["trial"])
    changes = [] if what == editing.MEASURE else _changes(before, shown)
    say(f"Kept: {entry_words(shown.entries[-1])}.")
    trials = _trials(study, given["person"])
    now = which_walk.chosen_of(trials, given)
    return _screen(study, trials, now, shown, who, changes)


def _changes(before: Result | None, shown: ShownTrial) -> list[Component]:
    after = shown.result
    if not isinstance(before, MeasuredWalk) or not isinstance(after, MeasuredWalk):
        return []
    found, done = changed_values(before, after), entry_words(shown.entries[-1])
    return [editing.changes_box(found, done, _counted(before), _counted(after))]


def _counted(walk: MeasuredWalk) -> str:
    return f"{sum(cycle.is_kept for cycle in walk.cycles)} of {len(walk.cycles)}"


def _trials(study: Study, person: int) -> list[ListedTrial]:
    with study.read() as connection:
        return trials_of_person(connection, person)


def _nothing(words: Component) -> list[Filled]:
    """Return the screen where there is no recording to show."""
    return [
        (SHOWN, {"data": None}),
        (BODY, {"className": ""}),
        *((place, {"children": []}) for place in (*_IN_WORDS, CHANGES, which_walk.LIST)),
        (which_walk.TITLE, {"children": "Walks"}),
        (which_walk.NEXT, {"children": []}),
        (visit_row.TOLD, {"data": None}),
        (HEAD, {"children": words}),
        (DRAWN, {"data": None}),
    ]


def _screen(
    study: Study,
    trials: Sequence[ListedTrial],
    now: ListedTrial,
    shown: ShownTrial,
    who: Visitor,
    changes: Sequence[Component] | None = None,
) -> list[Filled]:
    """Return the screen while a trial is shown.

    What the browser does about a field follows from what is shown: that is told first.
    """
    own = {level: which_walk.key_of(now, level) for level in ("visit", "condition", "trial")}
    numbers = {"person": now.person_id, **own, "version": shown.trial.version}
    return [
        (SHOWN, {"data": numbers}),
        *which_walk.filled(trials, now),
        *visit_row.filled(trials, now),
        *(several_walks.filled(trials, now) if "edit" in who.rights else []),
        *filled(shown, who, changes, waits=bool(now.reasons), leg=_leg(study, now)),
    ]


def _leg(study: Study, now: ListedTrial) -> str:
    """Return the leg that is seen first: the affected one."""
    facts = facts_of_person(study, now.person_id)
    side = facts.facts["affected_side"] if facts is not None else None
    return side if side in SIDES else SIDES[0]


def filled(
    shown: ShownTrial,
    who: Visitor,
    changes: Sequence[Component] | None = None,
    *,
    waits: bool = False,
    leg: str = SIDES[0],
) -> list[Filled]:
    """Return everything below the choice of a walk.

    Parameters
    ----------
    who : Visitor
        Without the right to edit there is nothing that changes the study.
    changes : sequence of Component, optional
        What the last correction changed; None when a walk was chosen.
    waits : bool
        Whether somebody should look at it.
    leg : str
        The leg that is seen first.
    """
    may_edit, is_other = "edit" in who.rights, changes is None
    walk = shown.result if isinstance(shown.result, MeasuredWalk) else None
    texts = _texts(shown, walk, leg=leg, waits=waits, may_edit=may_edit) | {
        CHANGES: [*(changes or ())]
    }
    return [
        *((place, {"children": still(parts)}) for place, parts in texts.items()),
        (BODY, {"className": _class_of(shown, walk, may_edit=may_edit)}),
        *(correction_form.filled(walk, is_other=is_other) if may_edit else []),
        *(player_filled(walk, is_other=is_other) if walk is not None else []),
        (DRAWN, {"data": _drawn(shown.trial, walk, leg, may_edit=may_edit)}),
    ]


def _class_of(shown: ShownTrial, walk: MeasuredWalk | None, *, may_edit: bool) -> str:
    """Return what is shown, as ``assets/walks.css`` takes it."""
    found = {
        "chosen": True,
        "measured": walk is not None,
        "timed": walk is not None and recording_view.is_over_time(walk),
        "form": may_edit and not isinstance(shown.result, RefusedFile),
    }
    return " ".join(name for name, is_so in found.items() if is_so)


def _texts(
    shown: ShownTrial, walk: MeasuredWalk | None, *, leg: str, waits: bool, may_edit: bool
) -> dict[str, list[Component]]:
    """Return the parts in words, by their place."""
    stale = [recording_view.stale_box(may_edit=may_edit)] if shown.is_stale else []
    history = [html.H2("History"), history_table(shown.entries, may_edit=may_edit)]
    nothing: dict[str, list[Component]] = {place: [] for place in _IN_WORDS}
    if walk is None:
        head = [_heading(shown), *_why_nothing(shown)]
        return nothing | {HEAD: head, WHY: stale, HISTORY: history}
    strides = stride_tables.stride_table(walk, leg=leg, may_edit=may_edit)
    events = stride_tables.event_table(walk)
    return {
        HEAD: [_heading(shown, recording_view.kind_words(walk))],
        WHY: [
            *stale,
            why_waits.why_card(walk, shown.answers, leg=leg, waits=waits, may_edit=may_edit),
        ],
        LEGS: [why_waits.legs(walk, may_edit=may_edit)],
        ABOUT: recording_view.facts(shown, walk),
        STRIDES: [html.H2("Strides"), strides],
        EVENTS: [html.Summary(f"All events ({len(walk.events.events)})"), events],
        HISTORY: history,
    }


def _drawn(trial: KnownTrial, walk: MeasuredWalk | None, leg: str, *, may_edit: bool) -> str | None:
    """Return as JSON what the browser draws of a walk, and which of it may be dragged.

    As one text it goes through the browser's store without being looked at number by number.
    """
    if walk is None:
        return None
    timed = recording_view.is_over_time(walk)
    given = {
        "of": trial.id,
        "version": trial.version,
        "leg": leg,
        "figures": sorted(recording_view.drawings(walk), key=lambda one: one["side"] != leg),
        "lines": stride_tables.line_data(walk) if timed and may_edit else None,
        "last_s": walk.trial.duration_s if timed else None,
        **(replay(walk) if timed else {"frames": None, "stick": None}),
    }
    return orjson.dumps(given).decode()


def _heading(shown: ShownTrial, kind: str = "") -> Component:
    place = f"{shown.trial.visit}, {shown.trial.condition}, {shown.trial.code}"
    act = pressing(AGAIN, shown.trial.id)
    again = html.Button("Show it as it is now", className="quiet no-print", **act)
    return html.Div([html.H2(place), html.Span(kind, className="soft"), again], className=_PLACE)


def _why_nothing(shown: ShownTrial) -> list[Component]:
    if isinstance(shown.result, RefusedFile):
        error = shown.result.error
        words: list[Any] = [html.B(f"{shown.trial.file_name}: "), f"{error.what} {error.action}"]
        others = html.A("Compare the other walks", href="/compare")
        kept = "Nothing was changed or lost: the file is kept as it came."
        title = "This recording could not be measured"
        said = could_not(title, words, [others], kept)
        return [said, *recording_view.problem_lists(error.problems)]
    standing = (
        "This is a standing trial: it gives the zero of the foot to the walks recorded with it, "
        "and has no steps of its own to show."
    )
    return [html.P(standing)]
