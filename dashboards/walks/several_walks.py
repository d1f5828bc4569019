"""Correct several walks of a visit at once: exchange the sides, leave out, measure again.

In come the walks that were ticked and a reason, out comes the same correction of each, one after
the other, with how far it is. A walk that cannot be corrected is told and costs no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update, set_props
from dash.development.base_component import Component

from dashboards.parts import ids
from dashboards.parts.controls import folded, progress
from dashboards.parts.markup import pressing
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.jobs import Job, Jobs
from dashboards.walks.which_walk import AGAIN, SHOWN, Filled
from gaittrack.corrected import Correction, ExcludeWalk, SwapSides
from gaittrack.errors import GaitTrackError, StudyBusyError, StudyError
from gaittrack.study.corrections.looking import look_at
from gaittrack.study.corrections.making import correct
from gaittrack.study.recordings.reviewing import ListedTrial, trials_of_person
from gaittrack.study.results.keeping import KnownTrial, recompute
from gaittrack.study.store import Study

TICKED, ASKED, JOB, TICK = "walks-several", "walks-asked", "walks-job", "walks-job-tick"
FOLLOWED: Final = "walks-followed"
"""Where it is said how far the work is."""
REASON: Final = {"type": "walks-field", "name": "reason"}
MEASURE: Final = "measure"
_ACTS: Final[dict[str, tuple[str, Callable[[str], Correction] | None]]] = {
    "swap": ("Left and right change places in all of these", SwapSides),
    "exclude": ("Leave all of these out", ExcludeWalk),
    MEASURE: ("Measure all of these again", None),
}
"""What each button says, and the correction it makes; measuring again is none."""
_KIND: Final = "correcting several walks"


def places() -> list[Component]:
    """Return the walks to tick, what may be done to them, and where its progress is shown."""
    buttons = [html.Button(words, **pressing(ASKED, name)) for name, (words, _) in _ACTS.items()]
    ticked = dmc.CheckboxGroup([], id=TICKED, label="Walks of this visit", value=[], size="md")
    return [
        folded(
            "Correct several walks at once",
            ticked,
            html.Div(buttons, className="row"),
            id="walks-several-part",
        ),
        html.Div(id=FOLLOWED, role="status", className="row"),
        *(dcc.Store(id=name) for name in (ASKED, JOB)),
        dcc.Interval(id=TICK, interval=700, disabled=True),
    ]


def filled(trials: Sequence[ListedTrial], now: ListedTrial) -> list[Filled]:
    """Return the walks of the visit that is shown, all of them ticked."""
    walks = [one for one in trials if one.visit_id == now.visit_id and one.kind == "walk"]
    boxes = [
        dmc.Checkbox(value=str(one.trial.id), label=f"{one.trial.condition}, {one.trial.code}")
        for one in walks
    ]
    return [(TICKED, {"children": boxes, "value": [str(one.trial.id) for one in walks]})]


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""
    jobs = Jobs()

    @app.callback(
        Output(JOB, "data"),
        Input(ASKED, "data"),
        State(TICKED, "value"),
        State(REASON, "value"),
        State(SHOWN, "data"),
        prevent_initial_call=True,
    )
    def begin(asked: dict[str, Any] | None, ticked: list[str], why: str | None, shown: Any) -> Any:
        require("view")
        if not asked:
            return no_update
        who, act, because = require("edit"), asked["value"], str(why or "").strip()
        if act != MEASURE and not because:
            raise StudyError.of("reason_missing", where="Reason")
        refuse_unless(act in _ACTS)
        trials = _wanted(study, shown or {}, ticked)
        steps = _done_to_each(study, trials, act, because, who.name)
        say("")
        return jobs.start(_KIND, steps, len(trials), alone=True)

    _register_progress(app, jobs)


def _register_progress(app: Dash, jobs: Jobs) -> None:
    @app.callback(
        Output(FOLLOWED, "children"),
        Output(TICK, "disabled"),
        Output(JOB, "data", allow_duplicate=True),
        Input(JOB, "data"),
        Input(TICK, "n_intervals"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def follow(key: str | None, _tick: int, changed: int) -> tuple[Any, ...]:
        require("edit")
        if not key:
            return [], True, no_update
        job = jobs.find(key)
        if not job.is_over:
            words = f"{len(job.done)} of {job.n} walks done"
            return progress(words, len(job.done), job.n), False, no_update
        refused = [why for why in job.done if why]
        say(_outcome(job, refused), is_error=bool(job.error or refused))
        set_props(AGAIN, {"data": {"at": key}})
        set_props(ids.CHANGED, {"data": changed + 1})
        return [], True, None


def _wanted(study: Study, shown: Mapping[str, int], ticked: Sequence[str]) -> list[KnownTrial]:
    """Return the ticked walks of the visit that is shown; refuse when there are none."""
    with study.read() as connection:
        mine = trials_of_person(connection, shown.get("person", 0))
    trials = [
        one.trial
        for one in mine
        if one.visit_id == shown.get("visit") and str(one.trial.id) in ticked
    ]
    if not trials:
        raise StudyError.of("no_walk_ticked", where="Walks of this visit")
    return trials


def _done_to_each(
    study: Study, trials: Sequence[KnownTrial], act: str, why: str, who: str
) -> Iterator[str]:
    """Correct one walk after the other; give why it was refused, or ""."""
    make = _ACTS[act][1]
    for trial in trials:
        try:
            yield _done_to(study, trial, make and make(why), who)
        except StudyBusyError:
            raise
        except GaitTrackError as error:
            yield f"{trial.condition}, {trial.code}: {error}"


def _done_to(study: Study, trial: KnownTrial, correction: Correction | None, who: str) -> str:
    if correction is not None:
        correct(study, look_at(study, trial), correction, who=who)
        return ""
    _, kept = next(recompute(study, [trial], who=who))
    return "" if kept.error is None else f"{trial.code}: {kept.error}"


def _outcome(job: Job, refused: Sequence[str]) -> str:
    n_done = len(job.done) - len(refused)
    kept = f"Kept: {n_done} of {job.n} walks." if job.done else ""
    return " ".join(filter(None, (kept, *refused[:5], job.error)))
