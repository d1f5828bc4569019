"""Each question against a setting of the brace as HTML, for screens and pages.

In come answers and what was worn, out comes HTML; its style is ``templates/several.css`` and
``templates/panels.css``. Every text is escaped.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any, Final

from gaittrack.answer import Answer
from gaittrack.compare.condition import Condition
from gaittrack.figures.setting_panels import (
    SetAnswer,
    SetLabel,
    SetMark,
    SetPanel,
    draw_setting_panels,
)
from gaittrack.record.registry import Fact
from gaittrack.record.setting_changes import setting_change
from gaittrack.record.wording import fact_label
from gaittrack.report.html_parts import paragraph
from gaittrack.report.several_board import of_condition
from gaittrack.study.results.visit_answers import VisitAnswer

_READING: Final = (
    "Change against {reference}; thick: these walks alone, thin: the whole 95 % interval, band: "
    "measurement error. No line is drawn through the marks."
)
_FEW: Final = 4
_NO_BEST: Final = "This shows what was measured with each setting. It does not say which is best."


def settings_html(
    told: Sequence[Answer], worn: Mapping[str, Mapping[str, Any]], *, by_date: bool
) -> str:
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
        return ""
    facts = [worn[each.condition] for each, *_ in shown]
    return _section(shown, facts, told[0].reference, by_date=by_date)


def visits_settings_html(visits: Sequence[VisitAnswer]) -> str:
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
        return ""
    inside = _section(shown, facts, "no brace that day", by_date=True)
    return f'<details class="card"><summary>The setting of the brace</summary>{inside}</details>'


def _section(
    shown: Sequence[tuple[Answer, int, str]],
    facts: Sequence[Mapping[str, Any]],
    reference: str,
    *,
    by_date: bool,
) -> str:
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
    kind = "settings many" if len(shown) > _FEW else "settings"
    head = f"Each question against the {fact_label(change.facts[0])}"
    return (
        f'<section class="{kind}"><h2>{escape(head)}</h2>'
        f"{paragraph(_READING.format(reference=reference), kind='soft')}"
        f'<div class="panels">{"".join(map(_panel, panels))}</div>'
        f"{paragraph(f'{_NO_BEST}{unsure}', kind='soft')}</section>"
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


def _panel(panel: SetPanel) -> str:
    flag = ' <span class="flag" title="a sign">⚑ sign</span>' if panel.has_sign else ""
    grid = "".join(
        f'<i class="grid" style="top:{at}%"></i><em style="top:{at}%">{escape(label)}</em>'
        for at, label in panel.ticks
    )
    top, bottom = panel.band
    back = f'<i class="band" style="top:{top}%;height:{bottom - top:.2f}%"></i>'
    back += f'<i class="zero" style="top:{panel.zero}%"></i>'
    drawn = (
        f'<div class="plot" aria-hidden="true">{back}{grid}{"".join(map(_mark, panel.marks))}</div>'
        if panel.marks
        else ""
    )
    whys = "".join(paragraph(each, kind="soft") for each in panel.whys)
    said = "".join(f"<li>{escape(mark.words)}</li>" for mark in panel.marks)
    labels = zip(panel.labels, (None, *panel.labels), strict=False)
    told = "".join(_label(each, before) for each, before in labels)
    below = f'<ol class="changes" aria-hidden="true">{told}</ol>'
    return (
        f'<section class="card panel"><h3>{escape(panel.title)}{flag}</h3>'
        f"<p>{escape(panel.measure)}</p>{drawn}{below if panel.marks else ''}{whys}"
        f'<ul class="unseen">{said}</ul></section>'
    )


def _mark(mark: SetMark) -> str:
    left = f"left:{mark.at}%"
    thin, thick = (
        f'<i class="{kind}" style="{left};top:{top}%;height:{max(low - top, 0):.2f}%"></i>'
        for kind, (top, low) in (("whole", mark.whole), ("walks", mark.walks))
    )
    shape = f'<i class="mark {escape(mark.verdict)}" style="{left};top:{mark.height}%"></i>'
    return f'<span class="{of_condition(mark.style)}">{thin}{thick}{shape}</span>'


def _label(label: SetLabel, before: SetLabel | None) -> str:
    below = "" if before is not None and before.below == label.below else label.below
    return (
        f'<li class="{of_condition(label.style)}" style="left:{label.at}%"><b>{escape(label.said)}'
        f"</b><small>{escape(below)}</small></li>"
    )
