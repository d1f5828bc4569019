"""What stands beside the mean of a cohort as tables of texts: for the screen and for a terminal.

In come an answer and its :class:`Beside`, out come titled tables with a note each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from gaittrack.cohort.asking.answering import CohortAnswer
from gaittrack.cohort.asking.beside import Beside, Needed, PeopleShare
from gaittrack.cohort.asking.mean_curves import CohortCurve
from gaittrack.cohort.asking.missing import Missing
from gaittrack.cohort.asking.question import plain_codes
from gaittrack.cohort.asking.terms import ORDER_AND_VISIT, SEQUENCE, TOGETHER, Adjusted
from gaittrack.cohort.inference.mixed_model import MixedEffect
from gaittrack.cohort.inference.ranks import RankEffect
from gaittrack.compare.row_words import (
    interval_words,
    measure_words,
    number,
    signed,
    unit_words,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.curves_figure import JOINT_TITLES
from gaittrack.reasons import Reason
from gaittrack.words import unit_behind

_EFFECTS: Final = {
    "": "effect_all_visits",
    "difference_in_speed": "effect_at_difference_in_speed",
    "walked_first": "effect_at_walked_first",
    "further_visit": "effect_at_further_visit",
    "hundred_days": "effect_at_hundred_days",
    "value_in_reference": "effect_at_value_in_reference",
    ORDER_AND_VISIT: "effect_at_order_and_visit",
    TOGETHER: "effect_at_together",
    SEQUENCE: "effect_at_sequence",
}
"""By term."""
_UNITS: Final = {
    "difference_in_speed": "unit_of_difference_in_speed",
    "walked_first": "unit_of_walked_first",
    "further_visit": "unit_of_further_visit",
    "value_in_reference": "unit_of_value_in_reference",
}
"""By one of several terms."""


@dataclass(frozen=True, slots=True)
class TextTable:
    """A table: title, heads, rows, and what a reader must know of it."""

    title: str
    heads: tuple[str, ...]
    rows: list[list[str]]
    note: str


def beside_tables(answer: CohortAnswer, found: Beside) -> list[TextTable]:
    """Return the tables that have rows."""
    tables = (
        _effects(answer, found),
        _groups(answer, found),
        _changed(found),
        _outcomes(found),
        _missing(answer, found.missing),
        _next_study(answer, found),
    )
    return [each for each in tables if each.rows]


def curve_lines(curve: CohortCurve) -> list[str]:
    """Return what a mean curve says, and of whom there is none."""
    told = [f"{JOINT_TITLES[curve.joint][0]}: {curve.say()}"]
    if curve.left_out:
        told.append(f"{Reason('curve_left_out')}: {', '.join(curve.left_out)}")
    return told


def _effects(answer: CohortAnswer, found: Beside) -> TextTable:
    measure = answer.measure
    unit, decimals = unit_words(measure.unit), measure.decimals
    mean, low, high = answer.mean
    first = [
        str(Reason("effect_mean")),
        signed(mean, decimals),
        interval_words(low, high, decimals),
    ]
    own = [row for each in found.adjusted for row in _effect_rows(each, decimals)]
    by_one = [[*first, "", "", f"{_people(answer.n_people)}, one change each"]]
    return TextTable(
        "The change over all chosen visits, and what may go with it",
        ("", f"Change ({unit})", "95 % interval", "Goes with one unit", "95 % interval", "Of"),
        [*by_one, _rank_row(found.ranks, decimals), *own],
        str(Reason("note_of_effects")),
    )


def _rank_row(ranks: RankEffect, decimals: int) -> list[str]:
    told = [signed(ranks.estimate, decimals), interval_words(ranks.low, ranks.high, decimals)]
    of = f"{_people(ranks.n_people)}; Wilcoxon p {_p(ranks.p)}"
    reason = ranks.reason
    return [str(Reason("effect_by_ranks")), *told, "", "", of if reason is None else str(reason)]


def _effect_rows(each: Adjusted, decimals: int) -> Iterator[list[str]]:
    """Yield the row of an effect; of several terms each in a row of its own below it."""
    effect = each.effect
    what, of = str(Reason(_EFFECTS[each.term])), _made_of(effect)
    if each.left_out:
        of += f"; without {', '.join(str(Reason(name)) for name in each.left_out)}"
    told = [signed(effect.difference, decimals), interval_words(effect.low, effect.high, decimals)]
    if each.term == SEQUENCE:  # its effect is no change
        told = ["", ""]
    terms = {
        own.name: [_finer(own.effect, decimals), _finer_interval(own.low, own.high, decimals)]
        for own in effect.terms
    }
    if len(terms) == 1:
        yield [what, *told, *next(iter(terms.values())), of]
        return
    yield [what, *told, "", "", of]
    for name, own in terms.items():
        yield [str(Reason(_UNITS[name])), "", "", *own, ""]


def _finer(value: float, decimals: int) -> str:
    return signed(value, decimals + 1)


def _finer_interval(low: float, high: float, decimals: int) -> str:
    return interval_words(low, high, decimals + 1)


def _made_of(effect: MixedEffect) -> str:
    if effect.reason is not None:
        return str(effect.reason)
    counts = f"{effect.n_differences} changes of {effect.n_people} people"
    return counts if effect.note is None else f"{counts}; {effect.note}"


def _groups(answer: CohortAnswer, found: Beside) -> TextTable:
    measure = answer.measure
    decimals = measure.decimals
    rows = []
    for each in found.groups:
        terms = each.effect.terms
        told = ["-", "-"]
        if terms:
            told = [
                signed(terms[0].effect, decimals),
                interval_words(terms[0].low, terms[0].high, decimals),
            ]
        rows.append([each.group, *told, _made_of(each.effect)])
    return TextTable(
        "Whether groups of people differ in the change",
        ("Group", f"Against all others ({unit_words(measure.unit)})", "95 % interval", "Of"),
        rows,
        str(Reason("note_of_groups", n=len(rows))),
    )


def _changed(found: Beside) -> TextTable:
    return TextTable(
        "How many people changed",
        ("Change", "People", "Share", "95 % interval of the share"),
        [_share_row(each) for each in found.shares],
        str(Reason("note_of_shares")),
    )


def _share_row(share: PeopleShare) -> list[str]:
    percent = 100 * share.n / share.n_people if share.n_people else math.nan
    ends = "-" if math.isnan(share.low) else f"{100 * share.low:.0f} to {100 * share.high:.0f} %"
    count = f"{share.n} of {share.n_people}"
    return [str(share.what), count, f"{number(percent, 0)} %" if share.n_people else "-", ends]


def _outcomes(found: Beside) -> TextTable:
    rows = []
    for each in found.outcomes:
        measure = MEASURE_BY_NAME[each.measure]
        told = signed(each.mean, measure.decimals)
        interval = interval_words(each.low, each.high, measure.decimals)
        role = "primary" if each.is_primary else "secondary"
        p = map(_p, (each.p, each.adjusted_p))
        rows.append([measure_words(each.measure), role, str(each.n_people), told, interval, *p])
    own = found.declaration
    note = Reason("note_of_outcomes", since=own.since[:16], who=own.who, n=own.n_changes)
    return TextTable(
        "Declared outcomes",
        (
            "Outcome",
            "Declared as",
            "People",
            "Mean change",
            "95 % interval",
            "p",
            "p of the family",
        ),
        rows,
        str(note),
    )


def _missing(answer: CohortAnswer, found: Missing) -> TextTable:
    return TextTable(
        "Who is missing, and what that could do",
        ("", "", ""),
        [*_why(answer), *_bounds(answer, found)] if found.n_left_out else [],
        str(Reason("note_of_missing")),
    )


def _why(answer: CohortAnswer) -> Iterator[list[str]]:
    for each in answer.left_out:
        yield [plain_codes(str(each.reason)), _people(len(each.people)), ", ".join(each.people)]
    if answer.n_missing:
        yield [str(Reason("cohort_without_pair")), _people(answer.n_missing), ""]


def _bounds(answer: CohortAnswer, found: Missing) -> Iterator[list[str]]:
    decimals, unit = answer.measure.decimals, unit_behind(answer.measure.unit)
    names = answer.question.names
    for name, percent, n in (
        (names[1], found.reference_percent, found.n_more_in_reference),
        (names[0], found.percent, found.n_more),
    ):
        if percent == percent:
            yield [
                f"steps without a value, {name}",
                f"{percent:.0f} %",
                f"more often so in {_people(n)}",
            ]
    if found.p == found.p:
        yield ["that so uneven a split is chance (sign test)", f"p {_p(found.p)}", ""]
    for code, low, high in (
        ("bounds_of_mean", found.mean_low, found.mean_high),
        ("bounds_of_median", found.median_low, found.median_high),
    ):
        if low == low:
            ends = f"{_end(low, decimals)} to {_end(high, decimals)}"
            yield [str(Reason(code)), f"{ends}{unit}", ""]
    if found.turning == found.turning:
        yield [str(Reason("turning_mean")), f"{signed(found.turning, decimals)}{unit}", ""]


def _p(value: float) -> str:
    return "< 0.0001" if value < 0.0001 else number(value, 4)


def _people(n: int) -> str:
    return "1 person" if n == 1 else f"{n} people"


def _end(value: float, decimals: int) -> str:
    return "no bound" if math.isinf(value) else signed(value, decimals)


def _next_study(answer: CohortAnswer, found: Beside) -> TextTable:
    unit, decimals = unit_behind(answer.measure.unit), answer.measure.decimals
    sd, low, high = found.scatter
    told = {
        "sd": f"{number(sd, decimals)}{unit}",
        "low": number(low, decimals),
        "high": number(high, decimals),
    }
    return TextTable(
        "How many people a next study needs",
        (
            f"To show a mean change ({unit.strip()})",
            "Size",
            "80 % power",
            "90 % power",
            "80 %, widest",
        ),
        [_needed_row(each, decimals) for each in found.needed],
        str(Reason("note_of_needed", **told)),
    )


def _needed_row(each: Needed, decimals: int) -> list[str]:
    counts = (each.at_80, each.at_90, each.at_80_wide)
    return [
        str(each.what),
        number(each.difference, decimals),
        *("over 100,000" if count is None else f"{count:,}" for count in counts),
    ]
