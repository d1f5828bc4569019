"""Each question against a setting of the brace as HTML, for screens and pages.

In come answers and what was worn, out comes HTML: ``templates/panels.html``, its style
``several.css`` and ``panels.css``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from markupsafe import Markup

from gaittrack.answer import Answer
from gaittrack.compare.fair.condition import Condition
from gaittrack.figures.setting_panels import SetAnswer, draw_setting_panels
from gaittrack.record.registry import Fact
from gaittrack.record.setting_changes import setting_change
from gaittrack.record.wording import fact_label
from gaittrack.report.html_parts import drawn, paragraph
from gaittrack.study.results.visit_answers import VisitAnswer

_READING: Final = (
    "Change against {reference}; thick: these walks alone, thin: the whole 95 % interval, band: "
    "measurement error. No line is drawn through the marks."
)
_FEW: Final = 4
_NO_BEST: Final = "This shows what was measured with each setting. It does not say which is best."


def settings_html(
    told: Sequence[Answer], worn: Mapping[str, Mapping[str, Any]], *, by_date: bool
) -> Markup:
    """Return a panel for each question against what differs between conditions.

    Parameters
    ----------
    worn : mapping
        Facts of each condition by its name.
    by_date : bool
        The conditions are of several visits: they stand in the order of time.
    """
    shown = [
        (each, place, each.condition)
        for place, each in enumerate(told)
        if Condition("", orthosis=worn[each.condition].get("orthosis")).is_braced is not False
    ]
    if len(shown) < 2:
        return Markup()
    facts = [worn[each.condition] for each, *_ in shown]
    return _section(shown, facts, told[0].reference, by_date=by_date)


def visits_settings_html(visits: Sequence[VisitAnswer]) -> Markup:
    """Return the same over visits: the effect of the brace that day, in the setting of that day."""
    shown: list[tuple[Answer, int, str]] = []
    facts: list[Mapping[str, Any]] = []
    for told in visits:
        if told.answer is None:
            continue
        for place, answer in enumerate((told.answer, *told.others)):
            shown.append((answer, place, told.visit.code))
            facts.append(told.worn[answer.condition].facts)
    if len(shown) < 2 or not setting_change(facts).facts:
        return Markup()
    inside = _section(shown, facts, "no brace that day", by_date=True)
    return drawn("panels.folded", "The setting of the brace", inside)


def _section(
    shown: Sequence[tuple[Answer, int, str]],
    facts: Sequence[Mapping[str, Any]],
    reference: str,
    *,
    by_date: bool,
) -> Markup:
    change = setting_change(facts)
    if not change.places:
        return paragraph(_why_none(change.facts), kind="soft")
    panels = draw_setting_panels(
        [
            SetAnswer(answer, style, None if by_date else place, said, below)
            for (answer, style, below), place, said in zip(
                shown, change.places, change.said, strict=True
            )
        ]
    )
    unsure = f" Recorded of some only: {_names(change.unsure)}." if change.unsure else ""
    return drawn(
        "panels.settings",
        f"Each question against the {fact_label(change.facts[0])}",
        _READING.format(reference=reference),
        panels,
        f"{_NO_BEST}{unsure}",
        " many" if len(shown) > _FEW else "",
    )


def _names(facts: Sequence[Fact]) -> str:
    return ", ".join(map(fact_label, facts))


def _why_none(facts: Sequence[Fact]) -> str:
    """Return why no question is laid against a setting."""
    if not facts:
        return "What was changed between these conditions is not recorded."
    if len(facts) > 1:
        return f"Several changed at once ({_names(facts)}): no question is laid against one."
    return f"Changed: {_names(facts)}. It is no number that is recorded of all: nothing is drawn."
