"""What can be chosen on the screen Cohort, and what was chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import dash_mantine_components as dmc
from dash import Input, html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, folded, labelled
from gaittrack.cohort.asking.question import SIDES, CohortQuestion, condition_words
from gaittrack.cohort.asking.view import CohortView, choices
from gaittrack.cohort.tables.selection import Selection
from gaittrack.compare.row_words import measure_words
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.measures import MEASURES

_BETWEEN: Final = " | "
"""Between the two conditions of a pair, in the value of its control."""
EVERYBODY: Final = "everybody"
_IN_SENTENCE: Final = ("measure", "pair")
"""Fields whose label the sentence says; assistive programs hear it all the same."""


@dataclass(frozen=True, slots=True)
class Control:
    """One thing to choose.

    Attributes
    ----------
    field : str
        A field of :class:`Selection`, or what is shown: ``measure``, ``side_role``, ``pair``.
    is_filter : bool
        Of any number of words, none meaning all; else one word.
    """

    field: str
    label: str
    is_filter: bool = True

    @property
    def id(self) -> str:
        """Its component."""
        return f"cohort-{self.field.replace('_', '-')}"


CONTROLS: Final = (
    Control("measure", "Measure", is_filter=False),
    Control("pair", "Conditions", is_filter=False),
    Control("side_role", "Side", is_filter=False),
    Control("visit_no", "Visit"),
    Control("visit_kind", "Kind of visit"),
    Control("sex", "Sex"),
    Control("cause", "Cause"),
    Control("affected_side", "Affected side"),
    Control("age_band", "Age at the first visit"),
    Control("brace_classes", "Kind of brace"),
)


WHAT_IS_ASKED: Final = (
    Input("cohort-state", "data"),
    *(Input(control.id, "value") for control in CONTROLS),
)
"""When more people are compared the same question has another answer."""


def question_parts(view: CohortView | None) -> list[Component | str]:
    """Return the question as a sentence of three choices, empty while there is no view."""
    data = option_data(view) if view else [[]] * len(CONTROLS)
    values = control_values(data, [None] * len(CONTROLS)) if view else [None] * len(CONTROLS)
    by_field = {
        control.field: _component(control, *each)
        for control, *each in zip(CONTROLS, data, values, strict=True)
    }
    measure, pair = map(by_field.pop, _IN_SENTENCE)
    who = folded(
        html.Span(EVERYBODY, id="cohort-who"), html.Div(list(by_field.values())), className="who"
    )
    return [
        "How much does ",
        measure,
        " change, ",
        pair,
        " for ",
        who,
        html.Span("?", className="ask"),
    ]


def _component(control: Control, data: list[Any], value: Any) -> Component:
    kind = dmc.MultiSelect if control.is_filter else dmc.Select
    named = aria(label=control.label) if control.field in _IN_SENTENCE else {"label": control.label}
    more: dict[str, Any] = {"placeholder": "all"} if control.is_filter else {"allowDeselect": False}
    more |= {} if value is None else {"value": value}
    made: Component = kind(id=control.id, data=data, searchable=True, **more, **named)
    return made


def option_data(view: CohortView) -> list[list[Any]]:
    """Return the options of each control, in the order of ``CONTROLS``."""
    words = choices(view)
    words["pair"] = [_BETWEEN.join(pair) for pair in view.pairs]
    roles = {role for own in view.about.values() for role in own["roles"]}
    words["side_role"] = [role for role in SIDES if role in roles]
    return [_options(control.field, words, view) for control in CONTROLS]


def _options(field: str, words: dict[str, list[str]], view: CohortView) -> list[Any]:
    if field == "measure":
        there = set(view.measures)
        names = [measure.name for measure in MEASURES if measure.name in there]
        return labelled({name: measure_words(name) for name in names})
    say = {"side_role": SIDES.__getitem__, "pair": _pair_label}.get(field, str)
    return labelled({word: say(word) for word in words[field]})


def _pair_label(pair: str) -> str:
    return " against ".join(condition_words(code) for code in pair.split(_BETWEEN))


def control_values(data: Sequence[Sequence[Any]], values: Sequence[Any]) -> list[Any]:
    """Return the values that still can be chosen; the first word where nothing was.

    Parameters
    ----------
    data : sequence of options
        From :func:`option_data`.
    values : sequence
        So far, one per control; None where nothing was chosen yet.

    Returns
    -------
    list
        At first only the first visit is chosen: people with more visits count once.
    """
    kept = []
    for control, options, value in zip(CONTROLS, data, values, strict=True):
        known = [option["value"] for option in options]
        if not control.is_filter:
            kept.append(value if value in known else next(iter(known), None))
        elif value is None:
            kept.append(known[:1] if control.field == "visit_no" else [])
        else:
            kept.append([word for word in value if word in known])
    return kept


def wanted_of(values: Sequence[Any]) -> CohortQuestion | None:
    """Return what was chosen, or None when measure, pair or side is missing or unknown.

    Parameters
    ----------
    values : sequence
        One per control.
    """
    by_field = dict(zip((control.field for control in CONTROLS), values, strict=True))
    measure, role = by_field.pop("measure"), by_field.pop("side_role")
    pair = tuple(str(by_field.pop("pair") or "").split(_BETWEEN))
    if measure not in MEASURE_BY_NAME or role not in SIDES or len(pair) != 2:
        return None
    visits = tuple(int(word) for word in by_field.pop("visit_no") or ())
    words = {field: tuple(value or ()) for field, value in by_field.items()}
    return CohortQuestion(Selection(visit_no=visits, **words), measure, role, (pair[0], pair[1]))
