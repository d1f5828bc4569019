"""Mean curves of a cohort on its screen: read beside the screen once a reader opens them.

In come the question and an angle, out come the picture of the mean change along the cycle, its
sentence, and its numbers. Walks of everybody are read for it, so that it says how far it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from dashboards.cohort.compared_people import CohortMemory
from dashboards.cohort.filters import WHAT_IS_ASKED, wanted_of
from dashboards.parts.controls import (
    choice,
    folded,
    is_open,
    labelled,
    made_when_opened,
    picture,
    progress,
    table,
)
from dashboards.parts.markup import still
from dashboards.shell.access import require
from dashboards.shell.jobs import Jobs
from gaittrack.cohort.asking.answering import CohortAnswer, answer_cohort
from gaittrack.cohort.asking.mean_curves import (
    CohortCurve,
    curve_changes,
    curve_of,
    n_curve_steps,
)
from gaittrack.figures.cohort_curve import curve_rows, draw_cohort_curve
from gaittrack.figures.curves_figure import JOINT_TITLES
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.report.cohort_beside import curve_lines
from gaittrack.study.store import Study
from gaittrack.trial import FloatArray

CURVE: Final = "cohort-curve"
ANGLE, JOB, TICK = "cohort-angle", "cohort-curve-job", "cohort-curve-tick"
_KIND: Final = "cohort curve"
_HEADS: Final = ("Gait cycle, %", "Mean change, deg", "Band from", "Band to")


def layout() -> Component:
    """Return the folded part with the choice of an angle."""
    titles = {joint: title for joint, (title, _) in JOINT_TITLES.items()}
    angle = choice(ANGLE, "Angle", labelled(titles), "ankle", w=280)
    about = "mean change of an angle with its band, and where along the cycle it is not 0"
    tick = dcc.Interval(id=TICK, interval=500, disabled=True)
    return made_when_opened(CURVE, "Where along the cycle", about, angle, dcc.Store(id=JOB), tick)


def register(app: Dash, study: Study, memory: CohortMemory) -> None:
    """Register the callbacks."""
    jobs = Jobs()

    @app.callback(
        Output(JOB, "data"),
        Input(f"{CURVE}-open", "n_clicks"),
        Input(ANGLE, "value"),
        State(JOB, "data"),
        *WHAT_IS_ASKED,
        prevent_initial_call=True,
    )
    def begin(n_clicks: int | None, joint: Any, old: Any, _state: Any, *values: Any) -> Any:
        require("view")
        wanted = wanted_of(values)
        if old:
            jobs.find(old["key"]).is_stopped = True  # nobody waits for it any more
        if wanted is None or joint not in JOINT_TITLES or not is_open(n_clicks):
            return None  # closed it holds nothing: what is asked may change meanwhile
        answer = answer_cohort(memory.look().view, wanted)
        steps = _steps(study, answer, joint)
        return {"key": jobs.start(_KIND, steps, n_curve_steps(answer) + 1)}

    _register_following(app, jobs)


def _register_following(app: Dash, jobs: Jobs) -> None:
    @app.callback(
        Output(CURVE, "children"),
        Output(TICK, "disabled"),
        Input(JOB, "data"),
        Input(TICK, "n_intervals"),
        prevent_initial_call=True,
    )
    def follow(held: Any, _tick: int | None) -> tuple[Any, bool]:
        require("view")
        if not held:
            return [], True
        job = jobs.find(held["key"])
        if not job.is_over:
            n_done = len(job.done)
            told = progress(f"{n_done} of {job.n} steps of reading curves", n_done, job.n)
            return html.P(told), False
        if job.error:
            return html.P(job.error, className="message error"), True
        return still(curve_parts(job.done[-1])), True


def _steps(study: Study, answer: CohortAnswer, joint: Any) -> Iterator[object]:
    """Read people some at a time; the last step is what they show together."""
    found: list[dict[str, FloatArray]] = []
    for some in curve_changes(study, answer, joint):
        found.append(some)
        yield len(found)
    yield curve_of(answer, joint, found)


def curve_parts(curve: CohortCurve) -> list[Component]:
    """Return the picture with its sentence, and its numbers."""
    told = [with_minus(line) for line in curve_lines(curve)]
    parts: list[Component] = [html.P(line) for line in told]
    if curve.people:
        caption = "Line: mean; band: simultaneous 95 %; bars at the foot: where it leaves out 0."
        parts.append(picture(draw_cohort_curve(curve), caption=caption, reads="%"))
        rows = [list(map(with_minus, row)) for row in curve_rows(curve)]
        title = f"Mean change, {JOINT_TITLES[curve.joint][0].lower()}"
        shown = table(_HEADS, rows, caption=title, numbers=range(len(_HEADS)))
        parts.append(folded("The numbers", shown))
    return parts
