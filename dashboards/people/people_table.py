"""How people are shown on the screen People: one line each, with the newest answer.

In come people in their order, out come the sentence above them, pills, and a table whose rows lead
to the person and whose last column leads to what waits.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, data
from dashboards.parts.markup import pressing
from dashboards.parts.saving import TABLE, save_menu
from dashboards.people.who_fits import FILTERS, WAITING_FIRST, Person
from dashboards.shell.bars import address_of
from gaittrack.compare.row_words import count_words
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.reasons import Reason
from gaittrack.record.wording import value_words
from gaittrack.study.recordings.overview import Waiting

FIRST_ROWS: Final = 14
MORE_ROWS: Final = 50
PRESSED: Final = "people-pressed"
"""``dcc.Store``: row numbers of the person and the walk whose link was pressed."""
FILTER: Final = "people-filter"
MORE: Final = "people-more"
"""``dcc.Store``: how many rows to show, and of what."""
OVERVIEW: Final = "/overview"
QUESTIONS: Final = ("floor", "down", "lift", "toe", "hip", "knee", "ankle", "speed")
"""The eight questions as short as a column, in the order of the board."""
SIGNS: Final[Mapping[str, str]] = {
    "knee_flexion_in_loading": "knee",
    "knee_hyperextension_in_stance": "knee",
    "knee_yields_faster_in_loading": "knee",
    "lost_stance_dorsiflexion": "ankle",
    "lost_push_off_range": "push-off",
    "wider_steps": "step width",
    "hip_hiking": "hip",
    "circumduction": "circumduction",
    "vaulting_of_the_other_leg": "other leg",
    "other_heel_up_at_mid_swing": "other leg",
    "more_variable_steps": "step to step",
    "mediolateral_stability": "ankle sideways",
    "tone": "tone",
    "correctable_to_neutral": "foot position",
    **dict.fromkeys(("skin", "skin_state", "skin_state_before"), "skin"),
    **dict.fromkeys(("skin_place", "skin_place_before"), "skin"),
    **dict.fromkeys(("pain", "pain_before", "pain_place", "pain_place_before"), "pain"),
    "comfort": "comfort",
}
"""Signs of recordings and of the examination as short as a column."""
_ASKED: Final[Mapping[str, str]] = {
    "sign_in_doubt": "Which way does the joint bend?",
    "times_seen_differently": "Which time is right?",
    "strides_not_counted": "Do these strides count?",
    "warnings": "Is the recording right?",
}
_BRACE: Final = "Was the brace worn?"
"""Answered where what was worn is told: on the person's own page."""
_KEY: Final = (
    ("larger", "changed, larger than error"),
    ("change_in_these_walks", "in these walks, within error"),
    ("no_change_larger_than_error", "no change"),
    ("not_shown", "not shown"),
    ("not_comparable", "cannot be compared"),
    ("not_trusted", "not trusted"),
)
_HEADS: Final = ("code", "cause, affected side", "last visit", *QUESTIONS, "signs", "what waits")


def people_table(
    found: Sequence[Person],
    n_rows: int,
    order: str,
    *,
    shown_of: Any = None,
    chosen: int | None = None,
    today: date | None = None,
) -> Component:
    """Return the table of the first people found, and how to see more.

    Parameters
    ----------
    shown_of
        Plain: what was typed and pressed; more rows are asked for of that.
    chosen : int, optional
        Row number of who is chosen.
    today : date, optional
        To count days from.
    """
    day = today or date.today()
    head = html.Tr([html.Th(name, scope="col") for name in _HEADS])
    lines: list[Component] = []
    left = n_rows
    for title, people in _groups(found, order):
        if title and left > 0:
            lines.append(html.Tr(html.Th(title, colSpan=len(_HEADS)), className="group"))
        lines += [_row(one, day, is_chosen=one.listed.id == chosen) for one in people[:left]]
        left -= len(people[:left])
    named = aria(label=_people_words(len(found)))
    table = html.Table([html.Thead(head), html.Tbody(lines)], className="people", **named)
    foot = _foot(len(found), n_rows, shown_of)
    return html.Div([html.Div(table, className="wide"), foot], className="card linked-rows")


def _groups(found: Sequence[Person], order: str) -> list[tuple[str, Sequence[Person]]]:
    waiting = [one for one in found if one.waits]
    others = [one for one in found if not one.waits]
    if order != WAITING_FIRST or not waiting:
        return [("", found)]
    rest = f"The others, newest visit first: {len(others)}"
    return [(f"Wait for you: {len(waiting)}", waiting), *([(rest, others)] if others else [])]


def _row(one: Person, today: date, *, is_chosen: bool) -> Component:
    listed = one.listed
    link = html.A(listed.code, href=address_of(OVERVIEW, listed.id), className="whole-row")
    side = html.B(listed.affected_side)
    about: list[Any] = [
        listed.cause,
        ", " if listed.cause and listed.affected_side else "",
        side,
        " ",
    ]
    whom = ", ".join(value_words(each) for each in (listed.sex, listed.age_band) if each)
    last: list[Any] = [listed.last_visit, " ", html.Small(_ago(listed.last_date, today))]
    cells = [
        html.Td(link, **data(head="")),
        html.Td([*about, html.Small(whom)], **data(head="")),
        html.Td(last, **data(head="")),
        *_answer(one),
        html.Td(_signs(one), className="signs-seen", **data(head="")),
        html.Td(list(_waits(listed.id, one.waiting)), **data(head="")),
    ]
    return html.Tr(cells, className="chosen" if is_chosen else "")


def _answer(one: Person) -> list[Component]:
    """Return a cell for each question, or one sentence in the place of them."""
    newest = one.newest
    if newest is None or "why" in newest:
        words = "not compared yet" if newest is None else _why(newest["why"], one.listed.n_walks)
        return [html.Td(words, colSpan=len(QUESTIONS), className="soft no-answer", title=words)]
    return [
        html.Td(
            [_mark(code, *leg) for leg in newest["verdicts"].get(code, ())],
            className="verdict",
            **data(head=name),
        )
        for code, name in zip(QUESTION_CODES, QUESTIONS, strict=True)
    ]


def _why(words: str, n_walks: int) -> str:
    if words:
        return f"no answer: {words}"
    return "no answer yet: " + ("one condition only" if n_walks else "no walk")


def _mark(question: str, leg: str, verdict: str, chip: str) -> Component:
    named = f"{Reason(question)}{f', {leg}' if leg else ''}: {Reason(chip)}"
    return html.I(className=f"mark {verdict}", role="img", title=named, **aria(label=named))


def _signs(one: Person) -> list[Any]:
    newest = one.newest or {}
    codes = (*newest.get("signs", ()), *newest.get("examined", ()))
    words = ", ".join(dict.fromkeys(SIGNS[code] for code in codes))
    of_earlier = newest.get("visit", one.listed.last_visit) != one.listed.last_visit
    said: list[Any] = [html.Span("⚑ ", className="flag", **aria(hidden="true"))] if words else []
    said += [words, " "]
    return [*said, html.Small(f"of {newest['visit']}")] if of_earlier else said


def _waits(person: int, waiting: Waiting | None) -> Iterator[Any]:
    if waiting is None:
        yield html.Span("being counted", className="soft")
        return
    asked = [_way(person, words, trials) for words, trials in _questions(waiting) if trials]
    yield from asked[:1]
    if len(asked) > 1:
        yield html.Small(f" · {len(asked) - 1} more")


def _questions(waiting: Waiting) -> Iterator[tuple[str, Sequence[int]]]:
    """Yield what is asked of the walks that wait, most of them first."""
    yield "Why not measured?", waiting.refused
    yield _BRACE, waiting.untold
    for code, _ in Counter(waiting.why).most_common():
        own = zip(waiting.to_look_at, waiting.why, strict=True)
        yield _ASKED.get(code, "Is it right?"), [trial for trial, why in own if why == code]
    yield "Measure again?", waiting.stale


def _way(person: int, words: str, trials: Sequence[int]) -> Component:
    told = f"{words} {count_words(len(trials), 'walk')}"
    if words == _BRACE:
        return html.A(told, href=address_of(OVERVIEW, person), className="over-row")
    return html.Button(
        told, className="over-row", **pressing(PRESSED, {"person": person, "trial": trials[0]})
    )


def _foot(n_found: int, n_rows: int, shown_of: Any) -> Component:
    shown = min(n_rows, n_found)
    said: list[Any] = [f"{shown:,} of {n_found:,}"]
    if n_found > shown:
        n_next = min(MORE_ROWS, n_found - shown)
        wanted = {"rows": shown + n_next, "of": shown_of}
        button = html.Button(f"show the next {n_next}", className="plain", **pressing(MORE, wanted))
        said.append(html.Span([" · ", button], className="no-print"))
    key = [html.Span([html.I(className=f"mark {verdict}"), f" {words}"]) for verdict, words in _KEY]
    save = save_menu("people", TABLE, of="#people-list .people", says="Save the rows shown")
    shapes = html.Span(key, className="key-of-shapes")
    return html.Div([html.Span(said), save, shapes], className="foot")


def _ago(day: str, today: date) -> str:
    """Return how long ago a day was, as people say it."""
    try:
        n_days = (today - date.fromisoformat(day[:10])).days
    except ValueError:
        return day
    if n_days < 0:
        return day
    for length, noun in ((365, "year"), (30, "month"), (7, "week")):
        if n_days >= 2 * length:
            return f"{n_days // length} {noun}s ago"
    return {0: "today", 1: "yesterday"}.get(n_days, f"{n_days} days ago")


def pills(people: Sequence[Person], chosen: str) -> Component:
    """Return a button for each way to narrow the list, with its number."""
    buttons = []
    for key, (name, is_meant) in FILTERS.items():
        n = sum(map(is_meant, people))
        pressed = aria(pressed="true" if key == chosen else "false")
        buttons.append(
            html.Button(f"{name} {n:,}", className="pill", **pressed, **pressing(FILTER, key))
        )
    return html.Div(buttons, className="pills", role="group", **aria(label="Show"))


def whole(
    people: Sequence[Person], *, is_counted: bool, is_comparing: bool = False
) -> list[Component]:
    """Return what the study holds as a heading, and how far counting and comparing are."""
    n_walks = sum(one.listed.n_walks for one in people)
    n_waits = sum(one.waits for one in people)
    many = f"{_people_words(len(people))}, {count_words(n_walks, 'walk')}."
    waits = f"{n_waits:,} {'waits' if n_waits == 1 else 'wait'} for a word from you."
    said: list[Component] = [
        html.H1(f"{many} {waits if n_waits else 'Nothing waits.' if is_counted else ''}")
    ]
    notes = []
    if not is_counted:
        n_known = sum(one.waiting is not None for one in people)
        notes.append(f"What waits is being counted: {n_known} of {_people_words(len(people))}.")
    n_compared = sum(one.newest is not None for one in people)
    if n_compared < len(people):
        how = "; the others follow." if is_comparing else "; why not is in the log."
        notes.append(f"{n_compared} of {_people_words(len(people))} compared{how}")
    return [*said, html.P(" ".join(notes), className="soft")] if notes else said


def _people_words(n: int) -> str:
    return f"{n:,} {'person' if n == 1 else 'people'}"
