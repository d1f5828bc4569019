"""How people and what waits are shown on the screen People.

In come the people of a study and what waits in their walks, out come a table of those that fit what
was typed, and sentences about the whole.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import table
from dashboards.parts.markup import pressing
from dashboards.shell.bars import address_of
from gaittrack.study.recordings.overview import ListedPerson, Waiting

MOST_ROWS: Final = 100
PRESSED: Final = "people-pressed"
"""``dcc.Store``: row numbers of the person and the walk whose button was pressed."""
OVERVIEW: Final = "/overview"
NOTHING: Final = Waiting()
ORDERS: Final[dict[str, str]] = {
    "code": "Code",
    "waiting": "Most waiting first",
    "last": "Last visit first",
}
Counts = Mapping[int, Waiting]


def fitting(
    people: Sequence[ListedPerson], words: str, order: str, counts: Counts
) -> list[ListedPerson]:
    """Return the people who fit what was typed, in the order asked for."""
    keys: dict[str, Callable[[ListedPerson], Any]] = {
        "waiting": lambda one: -counts.get(one.id, NOTHING).n,
        "last": lambda one: [-ord(letter) for letter in one.last_date or " "],
    }
    found = [one for one in people if one.has(words)]
    return sorted(found, key=keys[order]) if order in keys else found


def people_table(found: Sequence[ListedPerson], counts: Counts, *, is_counted: bool) -> Component:
    """Return the table of the first people found; the rest is told by number."""
    heads = ("Person", "Cause", "Affected side", "Last visit", "Walks", "Waiting")
    rows = [
        [
            html.A(one.code, href=address_of(OVERVIEW, one.id), className="whole-row"),
            one.cause,
            one.affected_side,
            " · ".join(word for word in (one.last_visit, one.last_date) if word),
            str(one.n_walks),
            _waiting(one, counts.get(one.id), is_counted),
        ]
        for one in found[:MOST_ROWS]
    ]
    more = len(found) - len(rows)
    shown = f"{len(found)} {'person' if len(found) == 1 else 'people'}"
    drawn = html.Div(table(heads, rows, caption=shown, numbers=(4,)), className="card linked-rows")
    parts: list[Component] = [drawn]
    if more > 0:
        parts.append(html.P(f"{more} more: type above to narrow the list."))
    return html.Div(parts)


def _waiting(person: ListedPerson, waiting: Waiting | None, is_counted: bool) -> Any:
    if waiting is None:
        return "" if is_counted else "being counted"
    return [
        html.Button(
            words,
            className="over-row",
            title=f"Open these walks of {person.code}",
            **pressing(PRESSED, {"person": person.id, "trial": trials[0]}),
        )
        for trials, words in _kinds(waiting)
        if trials
    ] or "nothing"


def _kinds(waiting: Waiting) -> tuple[tuple[tuple[int, ...], str], ...]:
    return (
        (waiting.to_look_at, f"{len(waiting.to_look_at)} to look at"),
        (waiting.refused, f"{len(waiting.refused)} could not be measured"),
        (waiting.stale, f"{len(waiting.stale)} stale"),
    )


def whole(people: Sequence[ListedPerson], counts: Counts, *, is_counted: bool) -> list[Component]:
    """Return what the whole study holds as a heading, and what waits there."""
    n_walks = sum(one.n_walks for one in people)
    many = f"{_many(len(people), 'person', 'people')}, {_many(n_walks, 'walk', 'walks')}."
    if not is_counted:
        counted = f"What waits is being counted: {len(counts)} of {len(people)} people."
        return [html.H1(many), html.P(counted, className="soft")]
    totals = [
        (sum(len(one.to_look_at) for one in counts.values()), "to look at"),
        (sum(len(one.refused) for one in counts.values()), "could not be measured"),
        (
            n_stale(counts),
            "stale: measured with other software, settings or corrections, or damaged",
        ),
    ]
    said = [f"{_many(n, 'walk', 'walks')} {words}" for n, words in totals if n]
    if not said:
        return [html.H1(f"{many} Nothing waits.")]
    return [html.H1(many), html.P(f"Waiting: {'; '.join(said)}.")]


def n_stale(counts: Counts) -> int:
    """Return how many results are stale."""
    return sum(len(one.stale) for one in counts.values())


def _many(n: int, one: str, many: str) -> str:
    return f"{n:,} {one if n == 1 else many}"
