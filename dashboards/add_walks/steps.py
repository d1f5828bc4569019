"""The three steps of the screen Add walks: files, who and what was worn, look and store.

In come what was entered and pressed, out come what stands on the screen now, and jobs that look at
files and store them. What was said of files is kept beside them; whoever goes back loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from dash import ALL, Dash, Input, Output, State, ctx, html, no_update, set_props
from dash.development.base_component import Component

from dashboards.add_walks import check_form, rate_asked, uploads
from dashboards.add_walks.asked import asked_of, note, rate_words, without_rate
from dashboards.add_walks.draft import draft_of, take, uses_of
from dashboards.add_walks.entered import FIELDS
from dashboards.add_walks.files_table import (
    PRESSED,
    FilesShown,
    files_table,
    press_html,
)
from dashboards.add_walks.labels import label_map
from dashboards.add_walks.look_and_store import Looked, store
from dashboards.add_walks.places import (
    day_at_hand,
    open_next,
    open_place,
    person_at_hand,
    sort_by_place,
)
from dashboards.add_walks.row_states import states_of
from dashboards.add_walks.sheets import sheet_part
from dashboards.add_walks.step_strip import headline, received, strip, taken_over
from dashboards.add_walks.third_step import going_on, looked_part, n_in, stop_button, stored_part
from dashboards.add_walks.turn import CHECKING, LOOKING, NEWS, NOW, STORING, Turn, job_of, turn_of
from dashboards.add_walks.visit_form import (
    FIELD,
    bare_visit,
    plan_of,
    worn_head,
)
from dashboards.add_walks.whole_tree import tree_part, tree_plan, whole_tree
from dashboards.parts import ids
from dashboards.parts.dash_private import Markup
from dashboards.parts.fact_fields import field_id
from dashboards.parts.markup import drawn
from dashboards.shell.access import require
from dashboards.shell.bars import say
from dashboards.shell.jobs import Job, Jobs
from gaittrack.compare.row_words import count_words
from gaittrack.part_names import as_given
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.people.enrolled import (
    id_of,
    person_codes,
    visit_id_of,
)
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.store import Study

_ASKED_AGAIN_MS, _MORE_MS = 300, 5
"""How often to ask how far a job is: less often with each file, for all of them are drawn again."""
_WORN: Final = {"type": FIELD, "part": "condition", "n": ALL, "name": ALL}
_PLACES: Final = ("title", "strip", "taken", "asked", "rate", "which", "note", "found")


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""
    jobs = Jobs()
    _register_follow(app, jobs)
    _register_show(app, study, jobs)
    _register_special(app, study, jobs)
    _register_press(app, study, jobs)
    check_form.register(app, study, jobs)
    rate_asked.register(app, study, jobs)
    label_map.register(app, study)
    sheet_part.register(app, study)


def _register_follow(app: Dash, jobs: Jobs) -> None:
    @app.callback(
        Output(NEWS, "data"),
        Input("add-walks-tick", "n_intervals"),
        State("add-walks-basket", "data"),
        State(NEWS, "data"),
        prevent_initial_call=True,
    )
    def follow(_n: int, basket: str, told: list[list[Any]] | None) -> object:
        """Ask how far the jobs are without the form: all is sent and drawn again on news only."""
        require("edit")
        draft = draft_of(uploads.baskets().find(basket))
        found = [job_of(jobs, key) for key in (draft.looking, draft.doing)]
        news = [[len(job.done), job.is_over] for job in found if job is not None]
        is_going_on = any(not is_over for _, is_over in news)
        return no_update if is_going_on and news == told else news


def _register_show(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        *(Output(f"add-walks-{place}", "children") for place in _PLACES),
        Output("add-walks-body", "className"),
        Output("add-walks-tick", "disabled"),
        Output("add-walks-tick", "interval"),
        Output("add-walks-look", "children"),
        Output("add-walks-look", "disabled"),
        Input("add-walks-sent", "data"),
        Input("add-walks-known", "data"),
        Input("add-walks-visit-code", "value"),
        Input(_WORN, "value"),
        Input(ids.CHANGED, "data"),
        Input(NEWS, "data"),
        Input(NOW, "data"),
        *FIELDS,
    )
    def show(sent: Any, *given: Any) -> tuple[Any, ...]:
        turn = turn_of(study, jobs, require("edit"), given[-len(FIELDS) :])
        with turn.draft.lock:
            turn = replace(turn, ended=_ended(turn))
            asked = {each for each in ctx.triggered_prop_ids.values() if isinstance(each, str)}
            if sent != turn.draft.sent and sent and turn.basket.files:
                turn.draft.sent = sent
                turn.draft.step = max(turn.draft.step, 2)
                _sort_by_place(turn)
            _close_what_was_used(turn, asked)
            _look_again(turn, changed=given[3])
            return *_shown(turn, given[3]), *_state_of_screen(turn)


def _close_what_was_used(turn: Turn, asked: Iterable[str]) -> None:
    if ids.CHANGED in asked and turn.draft.part in ("map", "sheet"):
        turn.draft.part = "files"


def _register_special(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        Output("add-walks-special", "children"),
        Input(NOW, "data"),
        Input(ids.CHANGED, "data"),
        Input("add-walks-sent", "data"),
        *FIELDS,
    )
    def show_special(*given: Any) -> Any:
        """Show it apart from what is asked again and again, whose next answer would undo this."""
        turn = turn_of(study, jobs, require("edit"), given[-len(FIELDS) :])
        with turn.draft.lock:
            asked = {each for each in ctx.triggered_prop_ids.values() if isinstance(each, str)}
            _close_what_was_used(turn, asked)
            if asked == {"add-walks-sent"} and turn.draft.part != "tree":
                return no_update
            return _special(turn)


def _register_press(app: Dash, study: Study, jobs: Jobs) -> None:
    @app.callback(
        Output(NOW, "data"),
        Input(PRESSED, "data"),
        State(NOW, "data"),
        State(ids.CHANGED, "data"),
        *FIELDS,
        prevent_initial_call=True,
    )
    def press(pressed: Any, now: int | None, changed: int, *given: Any) -> object:
        """Do what was pressed, and only then show it: an older answer cannot come in between."""
        visitor = require("edit")
        if not pressed:
            return no_update
        turn = turn_of(study, jobs, visitor, given)
        with turn.draft.lock:
            _press(turn, pressed["value"], changed)
        return (now or 0) + 1


def _ended(turn: Turn) -> frozenset[str]:
    jobs = {key: turn.job(key) for key in (turn.draft.looking, turn.draft.doing)}
    return frozenset(key for key, job in jobs.items() if job is not None and job.is_over)


def _sort_by_place(turn: Turn) -> None:
    """Take from names who walked and when, where nobody has said it."""
    with turn.study.read() as connection:
        sort_by_place(turn.draft, turn.basket, person_codes(connection))
    _fill_in(turn, is_other=turn.draft.place is not None and not turn.entered.about.person)


def _fill_in(turn: Turn, *, is_other: bool) -> None:
    """Fill in who walked and when, as the files at hand say; over what stands there for others."""
    person = person_at_hand(turn.draft, turn.basket)
    day, said = day_at_hand(turn.draft, turn.basket)
    if person and (is_other or not turn.entered.about.person):
        set_props("add-walks-person", {"value": person})
    now = turn.entered.form.get(("visit", 0), {}).get("date") or ""
    if day != now and day and (is_other or str(now) in ("", turn.draft.guessed_day)):
        turn.draft.guessed_day = day
        set_props(field_id(FIELD, "visit", 0, "date"), {"value": day})
        set_props("add-walks-day-words", {"children": said})


def _press(turn: Turn, press: Mapping[str, Any], changed: int) -> None:
    """Do what was pressed."""
    act, draft = press.get("act"), turn.draft
    if act == "stop" and (job := turn.job(draft.doing)):
        job.is_stopped = True
    elif act == "store" and draft.plan is not None and draft.step == 3:
        _store(turn, draft.plan)
    elif act == "person":
        set_props("add-walks-person", {"value": str(press.get("person", ""))})
    elif act == "tree look":
        _look_at_tree(turn)
    elif act == "leave out all":
        states = states_of(turn.basket, draft, uses_of(turn.groups))
        draft.left_out |= {n for n, state in states.items() if state.kind != "ready"}
    else:
        take(draft, turn.basket, press)
    if act in ("place", "step"):
        before = draft.place
        open_place(draft, turn.basket, press.get("place"))
        open_next(draft, turn.basket)
        if draft.place != before:
            _fill_in(turn, is_other=True)


def _look_at_tree(turn: Turn) -> None:
    """Begin to look at the files of all visits: the third step."""
    whole = whole_tree(turn)
    if whole.open_points:
        say(whole.open_points[0], is_error=True)
        return
    draft, plan = turn.draft, tree_plan(turn, whole)
    draft.plan, draft.step, draft.part, draft.is_of_tree = plan, 3, "files", True
    draft.doing = turn.begin_look(CHECKING, plan)


def _look_again(turn: Turn, *, changed: int) -> None:
    """Begin to look at what was not looked at as it is meant now; a look that goes on ends."""
    draft, about = turn.draft, turn.entered.about
    uses = {
        n: use
        for n, use in uses_of(turn.groups).items()
        if use.kind != "not said" and turn.basket.files[n].path is not None
    }
    wanted = (about.person, about.visit, *uses.items(), draft.is_same_person, changed)
    if wanted != draft.looked_for and draft.step < 3:
        if before := turn.job(draft.looking):
            before.is_stopped = True
        draft.looked_for, draft.looking = wanted, ""
        if uses:
            visit = bare_visit(about.person, about.visit, turn.names)
            plan = plan_of(visit, turn.basket, uses)
            draft.looking = turn.begin_look(LOOKING, plan)
    if job := turn.job(draft.looking):
        found: dict[Any, list[Looked]] = {}
        for one in list(job.done):
            found.setdefault(as_given(one.row.path), []).append(one)
        is_news = any(path not in draft.looks for path in found)
        draft.looks |= found
        if is_news and any(one.day for looks in found.values() for one in looks):
            _fill_in(turn, is_other=False)


def _store(turn: Turn, plan: Plan) -> None:
    """Begin to store what step 3 shows, with the results that it was looked at with."""
    how = {"measure_all": turn.draft.measured.all_of, "same_person": turn.draft.is_same_person}
    held, key = uploads.baskets(), turn.entered.basket
    steps = store(turn.study, plan, held, key, turn.visitor.name, **how)
    n = len(plan.files) + len(plan.refused)
    turn.draft.doing = turn.jobs.start(STORING, steps, n, alone=True)
    turn.draft.plan = None
    say("")


def _shown(turn: Turn, changed: int) -> tuple[Any, ...]:
    """Return what stands in each place of the screen."""
    draft, entered = turn.draft, turn.entered
    groups = turn.groups
    states = states_of(turn.basket, draft, uses_of(groups))
    job, doing = turn.job(draft.looking), turn.job(draft.doing)
    looking = _how_far(job) if job and turn.goes_on(draft.looking) else ""
    title = headline(entered.about, states.values(), looking)
    done = ""
    found: list[Any] = []
    if draft.step == 3 and doing:
        found, title, done = _third(turn, doing, changed)
    heads = {name: worn_head(facts) for name, facts in entered.worn.items()}
    said = entered.worn_words, heads, entered.affected
    shown = FilesShown(turn.basket, draft, groups, states, *said)
    worn = list(entered.worn_words.values())
    return (
        title,
        strip(draft, turn.basket, done),
        taken_over(entered.known or {}, worn, is_open=draft.part == "form"),
        Markup(drawn("add_walks.asked", asked_of(turn, groups))),
        rate_words(len(without_rate(turn))),
        _table(turn, shown),
        note(states),
        found,
    )


def _table(turn: Turn, shown: FilesShown) -> Any:
    """Return the files: by folder in the first step, by what was worn in the second."""
    if not shown.groups:
        return ""
    return received(turn.basket) if turn.draft.step == 1 else files_table(shown)


def _how_far(job: Job) -> str:
    return f"{job.what} ({len(job.done)} of {job.n})"


def _state_of_screen(turn: Turn) -> tuple[Any, ...]:
    """Return which step and part is open, whether to ask again soon, and the act of step 2."""
    draft = turn.draft
    is_looking, is_doing = turn.goes_on(draft.looking), turn.goes_on(draft.doing)
    states = states_of(turn.basket, draft, uses_of(turn.groups))
    n = sum(state.kind == "ready" for state in states.values())
    kind = f"add-walks at-{draft.step} {draft.part}-part"
    kind += "" if states else " no-files"
    kind += " asks-rate" if without_rate(turn) else ""
    return (
        kind,
        not (is_looking or is_doing),
        _ASKED_AGAIN_MS + _MORE_MS * len(states),
        f"Look at {count_words(n, 'ready file')}",
        not n or is_looking,
    )


def _special(turn: Turn) -> list[Component]:
    """Return what stands in the place of the table: the map of labels, or of columns."""
    if turn.draft.part not in ("map", "sheet", "tree"):
        return []
    back = Markup(press_html("Back to the files", {"act": "part", "part": "files"}))
    if turn.draft.part == "tree":
        return [html.Div(back, className="row"), html.Div(tree_part(whole_tree(turn)))]
    looks = [one for each in turn.draft.looks.values() for one in each]
    may_set = "administer" in turn.visitor.rights
    if turn.draft.part == "sheet":
        with turn.study.read() as connection:
            maps = laboratory_maps(connection)
        parts = sheet_part.sheet_part(looks, maps, may_set=may_set)
    else:
        parts = label_map.map_part(looks, may_set=may_set)
    return [html.Div(back, className="row"), *parts]


def _third(turn: Turn, job: Job, changed: int) -> tuple[list[Any], str, str]:
    """Return what step 3 shows, the sentence over it, and what became of the files."""
    words = "All visits" if turn.draft.is_of_tree else turn.entered.about.words
    if turn.goes_on(turn.draft.doing):
        shown = going_on(job, job.what)
        parts: list[Any] = [html.Div(shown, role="status", id="add-walks-progress")]
        parts += [html.Div(stop_button(job), className="row")] if job.what == STORING else []
        return parts, f"{words}: {_how_far(job)}", ""
    if job.error:
        say(job.error, is_error=True)
    if job.what == CHECKING:
        n = n_in(job.done, "would add")
        worn = [] if turn.draft.is_of_tree else list(turn.entered.worn_words.values())
        looked = looked_part(job, worn, turn.entered.affected)
        return looked, f"{words}: {count_words(n, 'file')} can be stored", ""
    return _stored(turn, job, changed, words)


def _stored(turn: Turn, job: Job, changed: int, words: str) -> tuple[list[Any], str, str]:
    """Return what became of the files; the screens that come next open what was stored."""
    about = turn.entered.about
    with turn.study.read() as connection:
        number = None if turn.draft.is_of_tree else id_of(connection, about.person)
        visit = None if number is None else visit_id_of(connection, number, about.visit)
    if turn.draft.told != turn.draft.doing:
        turn.draft.told = turn.draft.doing
        set_props(ids.CHANGED, {"data": (changed or 0) + 1})
        if visit is not None:
            set_props(ids.CHOICE, {"data": {"person": number, "visit": visit}})
    n_left = sum(not one.is_stored for one in turn.basket.files)
    n = n_in(job.done, "added")
    done = f"{count_words(n, 'file')} stored"
    code = "" if turn.draft.is_of_tree else about.person
    return stored_part(job, number, code, n_left), f"{words}: {done}", done
