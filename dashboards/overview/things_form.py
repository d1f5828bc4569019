"""Braces with their settings, and aims: told on the screen People, and new ones begun there.

In come a study and a person, out come a history of each brace, the aims with how far they are
reached, and what a form offers; a new setting begins as the one before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, get_args

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import table
from dashboards.parts.dash_private import Markup
from gaittrack.record.checking import ratings_of
from gaittrack.record.registry import FACTS
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.record.wording import fact_label, said_of
from gaittrack.report.brace_drawing import brace_html
from gaittrack.study.people.documents import Thing
from gaittrack.study.people.fact_changes import Recorded, recorded
from gaittrack.study.people.things import KeptThing, kept_things, next_code
from gaittrack.study.store import Study

NEW: Final = "new"
_OF_THE_DAY: Final = ("orthosis_adjusted_on", "orthosis_change", "orthosis_change_reason")
"""What a new setting never takes over from the one before."""
_NAMES: Final[Mapping[Thing, str]] = {"brace": "Brace", "setting": "Setting", "aim": "Aim"}


@dataclass(frozen=True, slots=True)
class Begun:
    """A thing that a form begins.

    Attributes
    ----------
    above : Recorded
        The person, or the brace of a setting.
    facts : mapping
        What it begins with.
    """

    part: Thing
    above: Recorded
    code: str
    facts: Mapping[str, Any]


def things_of_person(study: Study, person_id: int) -> list[KeptThing]:
    """Return braces, settings and aims of a person."""
    with study.read() as connection:
        return kept_things(connection, person_id)


def offered(things: Sequence[KeptThing], person_id: int) -> list[dict[str, str]]:
    """Return what of braces and aims can be filled in or begun, as options of a choice."""
    own = [
        {"value": f"{each.part}:{each.id}", "label": f"{_NAMES[each.part]} {each.place}"}
        for each in things
    ]
    own += [
        {
            "value": f"{NEW}-setting:{each.id}",
            "label": f"{each.place} was changed: a new setting",
        }
        for each in things
        if each.part == "brace"
    ]
    return [
        *own,
        {"value": f"{NEW}-brace:{person_id}", "label": "A new brace"},
        {"value": f"{NEW}-aim:{person_id}", "label": "A new aim"},
    ]


def begun(study: Study, person_id: int, what: str) -> Begun | None:
    """Return what a choice begins; None where it begins nothing, or nothing of this person."""
    part, _, number = what.removeprefix(f"{NEW}-").partition(":")
    if not what.startswith(f"{NEW}-") or part not in get_args(Thing) or not number.isdecimal():
        return None
    things = things_of_person(study, person_id)
    if part != "setting":
        taken = [each.place for each in things if each.part == part]
        kind: Thing = "brace" if part == "brace" else "aim"
        return Begun(kind, recorded(study, "person", person_id), next_code(kind, taken), {})
    if not any(each.part == "brace" and each.id == int(number) for each in things):
        return None
    return _new_setting(recorded(study, "brace", int(number)), things)


def _new_setting(brace: Recorded, things: Sequence[KeptThing]) -> Begun:
    start = brace.place.rpartition("/")[2] + "/"
    before = [each for each in things if each.part == "setting" and each.place.startswith(start)]
    last = before[-1].facts if before else {}
    code = next_code("setting", [each.place.removeprefix(start) for each in before])
    kept = {name: value for name, value in last.items() if name not in _OF_THE_DAY}
    return Begun("setting", brace, code, kept)


def drawing_of(things: Sequence[KeptThing], what: str) -> list[Component]:
    """Return the drawing of a brace in a setting, where a choice is one of these."""
    part, _, number = what.partition(":")
    chosen = next((t for t in things if (t.part, str(t.id)) == (part, number)), None)
    if chosen is None or part == "aim":
        return []
    code = chosen.place.partition("/")[0]
    own = next(each.facts for each in things if (each.part, each.place) == ("brace", code))
    drawn = brace_html({**own, **chosen.facts}, chosen.place)
    return [Markup(drawn)] if drawn else []


def told_things(things: Sequence[KeptThing], visits: Sequence[VisitFacts]) -> list[Component]:
    """Return what is recorded of braces and aims: a line each, aims with their levels by visit."""
    levels = {visit.code: ratings_of(visit.facts["aim_level"]) for visit in visits}
    rated = {visit: told for visit, told in levels.items() if told}
    braces = [[each.place, _said(each)] for each in things if each.part != "aim"]
    aims = [
        [each.place, _said(each), *(str(told.get(each.place, "")) for told in rated.values())]
        for each in things
        if each.part == "aim"
    ]
    heads = ["", "What is recorded"]
    parts: list[Component] = []
    for caption, own, rows in (("Braces", heads, braces), ("Aims", [*heads, *rated], aims)):
        if rows:
            parts.append(table(own, rows, caption=caption))
        else:
            parts.append(html.P(f"{caption}: none recorded.", className="soft"))
    return parts


def _said(thing: KeptThing) -> str:
    lines = FACTS[thing.part]
    told = [f"{fact_label(lines[n])}: {said_of(lines[n], v)}" for n, v in thing.facts.items()]
    return "; ".join(told) or "nothing yet"
