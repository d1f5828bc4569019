"""Correct a walk: move, add or take out an event, exclude a stride, exchange the sides, undo.

In come what a person entered and the trial as it was shown to them, out comes a correction of the
study. Somebody else's change in between is told and never overwritten.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, folded, table
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.walks.done_to_trial import entry_words, when_words
from gaittrack import corrected
from gaittrack.compare.row_words import doubts, missing_words, number
from gaittrack.errors import StudyError
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.measured_walk import Result
from gaittrack.measures.measure import Measure
from gaittrack.pipeline import Recording, measure_recording
from gaittrack.report.html_parts import marks, numbered
from gaittrack.study.corrections import making
from gaittrack.study.corrections.changed_values import ChangedValue, WalkValue
from gaittrack.study.corrections.looking import LookedTrial, look_at
from gaittrack.study.recordings.reviewing import known_trial, trial_history
from gaittrack.study.results.keeping import KnownTrial, recompute
from gaittrack.study.results.kept_walk import KeptWalk, kept_of
from gaittrack.study.store import Study
from gaittrack.trial import EventId
from gaittrack.vocabulary import EVENT_KINDS, JOINTS, SIDES, Joint
from gaittrack.words import unit_behind

Entered = Mapping[str, Any]
"""Name of a field and what stands in it."""


MEASURE: Final = "measure"
"""Measures a stale walk again: it changes no recording, so it needs no reason."""


def _move(look: LookedTrial, entered: Entered, why: str) -> corrected.Correction:
    return corrected.MoveEvent(_event_of(look, entered), _time_of(entered, "time"), why)


def _add(_: LookedTrial, entered: Entered, why: str) -> corrected.Correction:
    side, kind = _one_of(entered["side"], SIDES), _one_of(entered["kind"], EVENT_KINDS)
    return corrected.AddEvent(side, kind, _time_of(entered, "new"), why)


_ANSWERED: Final = {
    "keep": "asked for its sign: right as it is, seen on the curve",
    "turn": "asked for its sign: upside down, seen on the curve",
}
"""Why, when somebody answers a question about a curve and types nothing else."""


def _joint_of(entered: Entered) -> Joint:
    joint: Joint = _one_of(entered["which"], JOINTS)
    return joint


_ASKED: Final[dict[str, Callable[[LookedTrial, Entered, str], corrected.Correction]]] = {
    "move": _move,
    "add": _add,
    "copy": lambda look, entered, why: look.on_other_foot(_event_of(look, entered), reason=why),
    "delete": lambda look, entered, why: corrected.DeleteEvent(_event_of(look, entered), why),
    "exclude": lambda look, entered, why: look.stride(str(entered["which"]), reason=why),
    "exclude_walk": lambda _look, _entered, why: corrected.ExcludeWalk(why),
    "keep": lambda _look, entered, why: corrected.KeepAngle(_joint_of(entered), why),
    "turn": lambda _look, entered, why: corrected.TurnAngle(_joint_of(entered), why),
    "swap": lambda _look, _entered, why: corrected.SwapSides(why),
    "confirm": lambda _look, _entered, why: corrected.LookedAt(why),
    "undo": lambda _, entered, why: corrected.Undo(_number_of(entered), why),
}
"""What each button asks for."""


def correct(
    study: Study, shown: Mapping[str, int], what: str, entered: Entered, *, who: str
) -> Result | None:
    """Make one correction.

    Parameters
    ----------
    shown : mapping
        ``trial`` and ``version`` as the person saw it.
    what : str
        One of the buttons.
    entered : mapping
        The fields, ``event`` as its id, and ``which`` stride or correction the button belongs to.

    Returns
    -------
    MeasuredWalk or None
        What is measured now; None for a standing trial.

    Raises
    ------
    StudyError
        There is no reason, something is missing, or the trial was changed meanwhile.
    """
    why = str(entered.get("reason") or "").strip() or _ANSWERED.get(what, "")
    refuse_unless(what in _ASKED or what == MEASURE)
    if not why and what != MEASURE:
        raise StudyError.of("reason_missing", where="Reason")
    with study.read() as connection:
        trial, _ = known_trial(connection, shown["trial"])
        if trial.version != shown["version"]:
            raise _changed_meanwhile(trial, trial_history(connection, trial)[-1])
    if what == MEASURE:
        return _measured_again(study, trial, who)
    look = look_at(study, trial)
    return making.correct(study, look, _ASKED[what](look, entered, why), who=who)


def _measured_again(study: Study, trial: KnownTrial, who: str) -> Result:
    """Measure a trial again; return all that was measured, of which the study keeps some."""
    results: list[Result] = []

    def measure_all(recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
        for recording in recordings:
            results.append(measure_recording(recording))
            yield kept_of(recording, results[-1])

    list(recompute(study, [trial], who=who, measure_all=measure_all))
    return results[-1]


def _changed_meanwhile(trial: KnownTrial, last: Mapping[str, Any]) -> StudyError:
    return StudyError.of(
        "recording_changed_meanwhile",
        where=f"{trial.visit}, {trial.condition}, {trial.code}",
        who=last["who"],
        entry_words=entry_words(last),
        when_words=when_words(last["utc"]),
    )


def _event_of(look: LookedTrial, entered: Entered) -> EventId:
    event = entered.get("event")
    if not isinstance(event, EventId):
        raise StudyError.of("no_event_chosen", where="Event")
    return look.event_near(event.side, event.kind, event.time_s)


def _number_of(entered: Entered) -> int:
    which = str(entered["which"])
    refuse_unless(which.isdecimal() and len(which) < 10)
    return int(which)


def _one_of(word: object, words: tuple[Any, ...]) -> Any:
    if word not in words:
        raise StudyError.of("word_not_known_2", where="form", word=word, words=" or ".join(words))
    return word


def _time_of(entered: Entered, name: str) -> float:
    value = entered.get(name)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise StudyError.of("no_time", where="Time")
    return float(value)


def changes_box(changes: list[ChangedValue], done: str, before: str, after: str) -> Component:
    """Return what a correction changed.

    Parameters
    ----------
    done : str
        The correction in words.
    before, after : str
        How many strides are counted.
    """
    heads = ("Measure", "Side", "Before", "After")
    told = numbered(doubts(each.labels) for one in changes for each in (one.before, one.after))
    first = [one for one in changes if one.measure.group == "headline"]
    others = [one for one in changes if one.measure.group != "headline"]
    parts: list[Component] = [
        html.H2("What changed", id="walks-what-changed"),
        html.P(f"{done}. Strides counted: {before} before, {after} now."),
    ]
    if first:
        parts.append(table(heads, [_line(one, told) for one in first], caption="Headline measures"))
    else:
        parts.append(html.P("No headline measure changed in what is printed."))
    if others:
        rows = table(heads, [_line(one, told) for one in others], caption="Other measures")
        parts.append(folded(f"Other measures ({len(others)})", rows))
    parts += [html.P(f"! {place} {text}") for text, place in told.items()]
    return html.Section(parts, id="walks-changes", **aria(labelledby="walks-what-changed"))


def _line(one: ChangedValue, told: Mapping[str, int]) -> list[str]:
    values = [_words(one.measure, value, told) for value in (one.before, one.after)]
    return [one.measure.title, one.side, *values]


def _words(measure: Measure, value: WalkValue, told: Mapping[str, int]) -> str:
    if not value.n_strides:
        return missing_words(value.reason)
    strides = "stride" if value.n_strides == 1 else "strides"
    text = f"{with_minus(number(value.value, measure.decimals))}{unit_behind(measure.unit)}"
    return f"{text} ({value.n_strides} {strides}){marks(told, doubts(value.labels))}"
