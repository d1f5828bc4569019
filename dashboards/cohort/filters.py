"""What can be chosen on the screen Cohort, and what was chosen."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import folded, labelled
from gaittrack.cohort.selection import Selection
from gaittrack.cohort.view import CohortView, choices
from gaittrack.compare.row_words import unit_words
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.measures import MEASURES

_BETWEEN: Final = " | "
"""Between the two conditions of a pair, in the value of its control."""


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
    Control("pair", "Condition against reference", is_filter=False),
    Control("side_role", "Side", is_filter=False),
    Control("visit_no", "Visit"),
    Control("visit_kind", "Kind of visit"),
    Control("sex", "Sex"),
    Control("cause", "Cause"),
    Control("affected_side", "Affected side"),
    Control("age_band", "Age at the first visit"),
    Control("brace_classes", "Kind of brace"),
)
_CODE_WORDS: Final = {
    "orthosis": "with brace",
    "no-orthosis": "without brace",
    "orthosis-not-recorded": "brace not recorded",
    "shod": "in shoes",
    "barefoot": "barefoot",
    "footwear-not-recorded": "footwear not recorded",
    "aid": "with walking aid",
}
"""Parts of the codes of ``gaittrack.cohort.deidentify.condition_codes``."""
_CODE: Final = re.compile(
    r"(?<![\w-])(?:no-)?orthosis(?:-not-recorded)?_(?:shod|barefoot|footwear-not-recorded)"
    r"(?:_aid)?(?:_\d+)?(?![\w-])"
)
_SIDES: Final = {
    "affected": "Affected side",
    "other": "Other side",
    "not recorded": "Affected side not recorded",
}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was chosen."""

    selection: Selection
    measure: str
    side_role: str
    pair: tuple[str, str]

    @property
    def shown(self) -> dict[str, Any]:
        """What ``selected_changes`` and ``selected_statistics`` are asked for."""
        return {
            "measures": (self.measure,),
            "side_roles": (self.side_role,),
            "pair": self.pair,
        }

    @property
    def names(self) -> tuple[str, str]:
        """What the two conditions of the pair are called."""
        return condition_words(self.pair[0]), condition_words(self.pair[1])


def filter_controls(view: CohortView | None) -> list[Component]:
    """Return the controls: what shall be seen first, then whom; empty while there is no view."""
    data = option_data(view) if view else [[]] * len(CONTROLS)
    values = control_values(data, [None] * len(CONTROLS)) if view else [None] * len(CONTROLS)
    made = [_component(*each) for each in zip(CONTROLS, data, values, strict=True)]
    n_shown = sum(not control.is_filter for control in CONTROLS)
    shown, filters = made[:n_shown], made[n_shown:]
    return [
        html.Div(shown, className="row"),
        folded("Which people and visits", html.Div(filters, className="row"), open=True),
    ]


def _component(control: Control, data: list[Any], value: Any) -> Component:
    kind = dmc.MultiSelect if control.is_filter else dmc.Select
    more: dict[str, Any] = {"placeholder": "all", "miw": 190}
    if not control.is_filter:
        more = {"allowDeselect": False, "w": 440, "maw": "100%"}
    more |= {} if value is None else {"value": value}
    made: Component = kind(id=control.id, label=control.label, data=data, searchable=True, **more)
    return made


def option_data(view: CohortView) -> list[list[Any]]:
    """Return the options of each control, in the order of ``CONTROLS``."""
    words = choices(view)
    words["pair"] = _pairs(view)
    roles = {role for own in view.about.values() for role in own["roles"]}
    words["side_role"] = [role for role in _SIDES if role in roles]
    return [_options(control.field, words, view) for control in CONTROLS]


def _options(field: str, words: dict[str, list[str]], view: CohortView) -> list[Any]:
    if field == "measure":
        there = set(view.measures)
        own = [measure for measure in MEASURES if measure.name in there]
        return labelled({each.name: f"{each.title} ({unit_words(each.unit)})" for each in own})
    say = {"side_role": _SIDES.__getitem__, "pair": _pair_label}.get(field, str)
    return labelled({word: say(word) for word in words[field]})


def _pairs(view: CohortView) -> list[str]:
    """Return the pairs of conditions, those of most people first."""
    counted = Counter(tuple(pair) for own in view.about.values() for pair in own["pairs"])
    return [_BETWEEN.join(pair) for pair, _ in sorted(counted.items(), key=lambda one: -one[1])]


def _pair_label(pair: str) -> str:
    return " against ".join(condition_words(code) for code in pair.split(_BETWEEN))


def condition_words(code: str) -> str:
    """Return what a condition code of the export says, in plain words.

    Examples
    --------
    >>> condition_words("orthosis_barefoot_aid_2")
    'with brace, barefoot, with walking aid, kind 2'
    """
    return ", ".join(_CODE_WORDS.get(part, f"kind {part}") for part in code.split("_"))


def plain_codes(text: str) -> str:
    """Return a text with the condition codes in it in plain words."""
    return _CODE.sub(lambda found: condition_words(found[0]), text)


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


def wanted_of(values: Sequence[Any]) -> Wanted | None:
    """Return what was chosen, or None when measure, pair or side is missing or unknown.

    Parameters
    ----------
    values : sequence
        One per control.
    """
    by_field = dict(zip((control.field for control in CONTROLS), values, strict=True))
    measure, role = by_field.pop("measure"), by_field.pop("side_role")
    pair = tuple(str(by_field.pop("pair") or "").split(_BETWEEN))
    if measure not in MEASURE_BY_NAME or role not in _SIDES or len(pair) != 2:
        return None
    visits = tuple(int(word) for word in by_field.pop("visit_no") or ())
    words = {field: tuple(value or ()) for field, value in by_field.items()}
    return Wanted(Selection(visit_no=visits, **words), measure, role, (pair[0], pair[1]))
