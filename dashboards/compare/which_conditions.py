"""What is compared with what: visits, conditions and the reference.

In come the conditions of a person and what was chosen, out come the fields to choose with. Without
a choice the fair pair stands in them: the same shoes without the brace as the reference.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.parts import controls
from gaittrack.compare.fair.fair_pair import choose_reference
from gaittrack.study.results.comparing import StoredCondition
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice

VISITS, CONDITIONS, REFERENCE = "compare-visits", "compare-conditions", "compare-reference"
MOST_CONDITIONS: Final = 5
"""Compared at once: as many as have a line of their own."""
Options = list[dict[str, Any]]


def starting_choice(
    conditions: Sequence[StoredCondition], picked: Mapping[str, Any] | None, visit: int | None
) -> ComparisonChoice | None:
    """Return what is compared when the screen opens.

    Parameters
    ----------
    conditions : sequence of StoredCondition
        Of the chosen person.
    picked : mapping or None
        What was compared last in this browser tab; passed over when it is not this person's.
    visit : int or None
        Chosen on another screen.

    Returns
    -------
    ComparisonChoice or None
        None when there is nothing to compare.
    """
    known = {each.id for each in conditions if each.n_walks}
    ids = (picked or {}).get("conditions", [])
    if len(ids) > 1 and known.issuperset(ids) and (picked or {}).get("reference") in ids:
        return ComparisonChoice(tuple(ids), (picked or {})["reference"])
    own = {each.visit_id for each in conditions} & {visit}
    return first_choice(conditions, visits=own) or first_choice(conditions)


def chosen(
    conditions: Sequence[StoredCondition], values: Sequence[str] | None, reference: str | None
) -> ComparisonChoice | None:
    """Return what the fields say.

    Parameters
    ----------
    conditions : sequence of StoredCondition
        Of the chosen person.
    values : sequence of str or None
        Row numbers of conditions, from the browser; those of others are passed over.
    reference : str or None
        Row number; by rule when it is none of them.

    Returns
    -------
    ComparisonChoice or None
        None when fewer than two are chosen.
    """
    wanted = [each for each in conditions if str(each.id) in (values or []) and each.n_walks]
    if len(wanted) < 2:
        return None
    named = [each.id for each in wanted if str(each.id) == reference]
    own = named or [wanted[choose_reference([each.worn for each in wanted])].id]
    return ComparisonChoice(tuple(each.id for each in wanted), own[0])


def fields(conditions: Sequence[StoredCondition], choice: ComparisonChoice) -> Component:
    """Return the fields, set to what is compared, under a line that names it."""
    own = [each for each in conditions if each.id in choice.conditions]
    visits = {each.visit_id for each in own}
    chosen_fields = html.Div(
        [
            dmc.MultiSelect(
                id=VISITS,
                label="Visits",
                data=_visits(conditions),
                value=[str(each) for each in visits],
                size="md",
            ),
            dmc.MultiSelect(
                id=CONDITIONS,
                label="What was worn",
                data=offered(conditions, visits),
                value=[str(each) for each in choice.conditions],
                maxValues=MOST_CONDITIONS,
                size="md",
            ),
            controls.choice(
                REFERENCE,
                "Compared with (reference)",
                references(conditions, choice),
                str(choice.reference),
                size="md",
            ),
        ],
        className="row compare-fields",
    )
    said = ", ".join(dict.fromkeys(each.visit for each in own))
    others = ", ".join(dict.fromkeys(each.code for each in own if each.id != choice.reference))
    reference = next(each.code for each in own if each.id == choice.reference)
    summary = html.Summary([f"{said}: ", html.B(others), " against ", html.B(reference)])
    return html.Details([summary, chosen_fields], className="compare-choice no-print")


def _visits(conditions: Sequence[StoredCondition]) -> Options:
    codes = {each.visit_id: each.visit for each in conditions if each.n_walks}
    return [{"value": str(key), "label": code} for key, code in codes.items()]


def offered(conditions: Sequence[StoredCondition], visits: Collection[int]) -> Options:
    """Return the conditions of some visits, in groups by visit."""
    groups: dict[str, Options] = {}
    for each in conditions:
        if each.visit_id in visits and each.n_walks:
            option = {"value": str(each.id), "label": _label(each, several=len(visits) > 1)}
            groups.setdefault(each.visit, []).append(option)
    return [{"group": visit, "items": items} for visit, items in groups.items()]


def references(conditions: Sequence[StoredCondition], choice: ComparisonChoice) -> Options:
    """Return the conditions that can be the reference: those that are compared."""
    own = [each for each in conditions if each.id in choice.conditions]
    several = len({each.visit_id for each in own}) > 1
    return [{"value": str(each.id), "label": _label(each, several=several)} for each in own]


def _label(each: StoredCondition, *, several: bool) -> str:
    return f"{each.code}, {each.visit}" if several else each.code
