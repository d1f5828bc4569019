"""Compare: what changed between conditions of the chosen person, how sure, and how fair.

In comes the choice of this browser tab, out comes the comparison of what is stored; each number
leads to its strides, and from there to the screen Walks.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import MATCH, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html
from dash import no_update as unchanged
from dash.development.base_component import Component

from dashboards.compare import comparison_parts, side_by_side, strides_of_row, which_conditions
from dashboards.compare.comparison_parts import (
    EVERYTHING,
    GO,
    GROUP,
    PAPER,
    REPLAY,
    ROW,
    SHOW_REPLAY,
    SUMMARY,
    WORKBOOK,
)
from dashboards.compare.curve_panel import ANGLE, CURVES, curve_panels
from dashboards.compare.side_by_side import FRAMES, PLAY, TIME
from dashboards.compare.which_conditions import CONDITIONS, REFERENCE, VISITS
from dashboards.parts import ids
from dashboards.parts.controls import choose_first
from dashboards.parts.last_comparisons import CompareMemory
from dashboards.parts.markup import still
from dashboards.shell.access import require, visitor
from dashboards.shell.handing_out import file_output, file_place, hand_out_bytes, hand_out_page
from dashboards.walks.measured_walks import WalkMemory
from gaittrack.errors import StudyError
from gaittrack.file_comparison import FileComparison
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.clinic import clinic_page, made_now
from gaittrack.report.comparison_page import comparison_page
from gaittrack.report.comparison_workbook import XLSX, comparison_workbook
from gaittrack.study.people.enrolled import is_there
from gaittrack.study.people.facts import facts_of_conditions
from gaittrack.study.results.compared_trials import compared_trials
from gaittrack.study.results.comparing import StoredComparison, compare_stored, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import Study

CHOOSING, BODY, PICKED = "compare-choosing", "compare-body", "compare-picked"
WINDOW, PAGES = "compare-window", "compare"
_CHOICE: Final = (State(ids.CHOICE, "data"), State(PICKED, "data"))


def layout(study: Study) -> Component:
    """Return the screen; what it shows follows from the choice."""
    require("view")
    del study  # read in the callbacks, when it is known who is chosen
    window = dmc.Modal(
        id=WINDOW,
        opened=False,
        size="xl",
        classNames={"content": "compare-window", "header": "compare-window"},
        closeButtonProps={"aria-label": "Close"},
        transitionProps={"duration": 0},
    )
    return html.Div(
        [
            html.H1("Compare", className="unseen"),
            dcc.Store(id=PICKED, storage_type="session"),
            *(dcc.Store(id=name) for name in (FRAMES, ROW, GO)),
            html.Div(id=CHOOSING),
            dcc.Loading(html.Div(id=BODY), delay_show=400),
            window,
            file_place(PAGES),
        ]
    )


class Looks:
    """What the callbacks share: the study, and what was compared and measured last."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self.comparisons = CompareMemory()
        self.walks = WalkMemory()

    def compared(self, choice: Any, picked: Any) -> StoredComparison:
        """Return the comparison that is shown; numbers from the browser are checked again.

        Raises
        ------
        StudyError
            It is not of the chosen person, or no longer there.
        """
        person, wanted = (choice or {}).get("person"), picked or {}
        if person is None or wanted.get("person") != person:
            raise StudyError.of("nothing_compared_yet", where="Compare")
        conditions = conditions_of(self.study, person)
        numbers = [str(each) for each in wanted.get("conditions", [])]
        chosen = which_conditions.chosen(conditions, numbers, str(wanted.get("reference")))
        if chosen is None:
            raise StudyError.of("compared_is_gone", where="Compare")
        return self.comparisons.compared(self.study, chosen)


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    looks = Looks(study)
    _register_choice(app, looks)
    _register_rows(app, looks)
    _register_below(app, looks)
    _register_pages(app, looks)
    _register_workbook(app, looks)
    for name, given in (
        ("moved", (Input(TIME, "value"), Input(FRAMES, "data"))),
        ("played", (Input(PLAY, "n_clicks"),)),
    ):
        function = ClientsideFunction("compare", name)
        app.clientside_callback(function, *given, prevent_initial_call=True)


def _register_choice(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output(CHOOSING, "children"),
        Output(BODY, "children", allow_duplicate=True),
        Output(PICKED, "data", allow_duplicate=True),
        Input(ids.CHOICE, "data"),
        State(PICKED, "data"),
        prevent_initial_call="initial_duplicate",
    )
    def offer(choice: dict[str, int] | None, picked: Any) -> tuple[Any, Any, Any]:
        require("view")
        return _offer(looks, choice or {}, picked)

    @app.callback(
        Output(CONDITIONS, "data"),
        Output(CONDITIONS, "value"),
        Output(REFERENCE, "value", allow_duplicate=True),
        Input(VISITS, "value"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def offer_conditions(visits: list[str], choice: dict[str, int]) -> Any:
        require("view")
        return _offer_conditions(looks.study, choice["person"], visits or [])

    @app.callback(
        Output(REFERENCE, "data"),
        Output(REFERENCE, "value"),
        Output(BODY, "children"),
        Output(PICKED, "data"),
        Input(CONDITIONS, "value"),
        Input(REFERENCE, "value"),
        *_CHOICE,
    )
    def show(values: list[str], reference: str | None, choice: dict[str, int], picked: Any) -> Any:
        require("view")
        return _show(looks, choice["person"], values, reference, picked)


def _offer(looks: Looks, choice: dict[str, int], picked: Any) -> tuple[Any, Any, Any]:
    """Return the fields with what they begin with compared, so that one answer brings both."""
    person = choice.get("person")
    if person is None or not is_there(looks.study, person):
        return choose_first(), None, None
    conditions = conditions_of(looks.study, person)
    own = picked if (picked or {}).get("person") == person else None
    chosen = which_conditions.starting_choice(conditions, own, choice.get("visit"))
    if chosen is not None:
        fields = which_conditions.fields(conditions, chosen)
        return fields, _compared(looks, chosen), _picked(person, chosen)
    n_walked = sum(bool(each.n_walks) for each in conditions)
    words = (
        "There is one condition with measured walks; two are needed to compare. "
        if n_walked
        else "No walk of this person is measured yet. "
    )
    return html.P([words, dcc.Link("Add walks", href="/add-walks"), "."]), None, None


def _offer_conditions(study: Study, person: int, visits: Sequence[str]) -> tuple[Any, Any, Any]:
    conditions = conditions_of(study, person)
    wanted = {each.visit_id for each in conditions if str(each.visit_id) in visits}
    offered = which_conditions.offered(conditions, wanted)
    choice = first_choice(conditions, visits=wanted) if wanted else None
    if choice is None:
        return offered, [], None
    return offered, [str(each) for each in choice.conditions], str(choice.reference)


def _show(
    looks: Looks, person: int, values: Sequence[str], reference: str | None, picked: Any
) -> Any:
    conditions = conditions_of(looks.study, person)
    choice = which_conditions.chosen(conditions, values, reference)
    if choice is None:
        return [], None, html.P("Choose two or more conditions to compare."), None
    if picked == _picked(person, choice):
        return [unchanged] * 4  # the fields were drawn with what is shown
    data, new = which_conditions.references(conditions, choice), str(choice.reference)
    kept = unchanged if new == reference else new
    return data, kept, _compared(looks, choice), _picked(person, choice)


def _compared(looks: Looks, choice: ComparisonChoice) -> list[Any]:
    found = looks.comparisons.compared(looks.study, choice)
    visits, trials = _visits(looks, choice.conditions), compared_trials(looks.study, found)
    may_export = "export" in visitor().rights
    return still(comparison_parts.body(found, trials, visits, may_export=may_export))


def _picked(person: int, choice: ComparisonChoice) -> dict[str, Any]:
    return {
        "person": person,
        "conditions": list(choice.conditions),
        "reference": choice.reference,
    }


def _register_rows(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output(WINDOW, "opened"),
        Output(WINDOW, "title"),
        Output(WINDOW, "children"),
        Input(ROW, "data"),
        *_CHOICE,
        prevent_initial_call=True,
    )
    def open_row(pressed: dict[str, Any] | None, choice: Any, picked: Any) -> Any:
        require("view")
        if not pressed:
            return unchanged, unchanged, unchanged
        found = looks.compared(choice, picked)
        places = pressed["value"]
        row = found.comparison.rows[places[0]]
        others = strides_of_row.others(found, places)
        strides = strides_of_row.strides(found, row, compared_trials(looks.study, found))
        return True, strides_of_row.title(row), still([*others, *strides])

    @app.callback(
        Output(ids.CHOICE, "data", allow_duplicate=True),
        Output(ids.ADDRESS, "pathname", allow_duplicate=True),
        Input(GO, "data"),
        *_CHOICE,
        prevent_initial_call=True,
    )
    def look_at_walk(pressed: dict[str, Any] | None, choice: Any, picked: Any) -> Any:
        require("view")
        if not pressed:
            return unchanged, unchanged
        trials = compared_trials(looks.study, looks.compared(choice, picked))
        own = {each.trial.id: each.visit_id for each in trials}
        trial = pressed["value"]
        return {**choice, "visit": own[trial], "trial": trial}, "/walks"


def _register_below(app: Dash, looks: Looks) -> None:
    @app.callback(
        Output({"type": GROUP, "group": MATCH}, "children"),
        Input({"type": SUMMARY, "group": MATCH}, "n_clicks"),
        *_CHOICE,
        prevent_initial_call=True,
    )
    def open_group(_clicks: int | None, choice: Any, picked: Any) -> list[Component]:
        require("view")
        comparison = looks.compared(choice, picked).comparison
        return still(comparison_parts.group_tables(comparison, ctx.triggered_id["group"]))

    @app.callback(
        Output(CURVES, "children"),
        Input(ANGLE, "value"),
        *_CHOICE,
        prevent_initial_call=True,
    )
    def show_angle(angle: str, choice: Any, picked: Any) -> list[Component]:
        require("view")
        return curve_panels(looks.compared(choice, picked), angle)

    @app.callback(
        Output(REPLAY, "children"),
        Output(FRAMES, "data"),
        Input(SHOW_REPLAY, "n_clicks"),
        *_CHOICE,
        running=[(Output(SHOW_REPLAY, "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def show_replay(clicks: int | None, choice: Any, picked: Any) -> Any:
        require("view")
        if not clicks:
            return unchanged, unchanged
        found = looks.compared(choice, picked)
        parts, frames = side_by_side.replay(looks.study, looks.walks, found)
        return parts, frames or unchanged


def _register_pages(app: Dash, looks: Looks) -> None:
    @app.callback(
        file_output(PAGES),
        Input(PAPER, "n_clicks"),
        *_CHOICE,
        prevent_initial_call=True,
    )
    def write_paper(clicks: int | None, choice: Any, picked: Any) -> Any:
        require("export")
        if not clicks:
            return unchanged
        found = [looks.compared(choice, picked)]
        page = clinic_page(looks.study, found, made_now(visitor().name))
        return hand_out_page(page, "page-for-the-file.html")

    @app.callback(
        file_output(PAGES, is_shared=True),
        Input(EVERYTHING, "n_clicks"),
        *_CHOICE,
        running=[(Output(EVERYTHING, "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def write_everything(clicks: int | None, choice: Any, picked: Any) -> Any:
        require("export")
        if not clicks:
            return unchanged
        found = looks.compared(choice, picked)
        visits = _visits(looks, picked["conditions"])
        page = comparison_page(_with_all_curves(looks, found, picked), visits)
        return hand_out_page(page, "comparison.html")


def _register_workbook(app: Dash, looks: Looks) -> None:
    @app.callback(
        file_output(PAGES, is_shared=True),
        Input(WORKBOOK, "n_clicks"),
        *_CHOICE,
        prevent_initial_call=True,
    )
    def write_workbook(clicks: int | None, choice: Any, picked: Any) -> Any:
        require("export")
        if not clicks:
            return unchanged
        book = comparison_workbook(looks.compared(choice, picked))
        return hand_out_bytes(book, "comparison.xlsx", XLSX)


def _visits(looks: Looks, conditions: Collection[int]) -> Sequence[VisitFacts]:
    about = facts_of_conditions(looks.study, conditions)
    return about.visits if about else ()


def _with_all_curves(looks: Looks, found: StoredComparison, picked: Any) -> FileComparison:
    """Return what is compared with the curves of all angles and a walk of each to replay."""
    whole = compare_stored(looks.study, list(found.names), reference=picked["reference"])
    walks = side_by_side.replay_walks(looks.study, looks.walks, found)
    return FileComparison(whole.comparison, walks, whole.records, (), ())
