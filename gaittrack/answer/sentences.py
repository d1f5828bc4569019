"""The words of an answer, as reasons: what changed on which leg, by how much.

In come findings, out come reasons; their sentences stand in ``words/LANGUAGE/answer.toml``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from gaittrack.answer.findings import Finding
from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_SHOWN,
    NOT_TRUSTED,
)
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason

PHRASES: Final = {
    "foot_pitch_at_contact_deg": ("toes_higher_at_contact", "toes_lower_at_contact"),
    "dorsiflexion_at_contact_deg": ("ankle_up_at_contact", "ankle_down_at_contact"),
    "loading_response_plantarflexion_rate_deg_s": ("ankle_falls_faster", "ankle_falls_slower"),
    "foot_to_floor_rate_deg_s": ("foot_falls_faster", "foot_falls_slower"),
    "mid_swing_dorsiflexion_deg": ("foot_held_higher", "foot_held_lower"),
    "minimum_toe_clearance_mm": ("toe_passes_higher", "toe_passes_lower"),
    "toe_height_under_hip_mm": ("toe_higher_under_hip", "toe_lower_under_hip"),
    "peak_hip_flexion_pelvis_thigh_deg": ("hip_flexes_more", "hip_flexes_less"),
    "peak_hip_flexion_thigh_vertical_deg": ("thigh_lifts_more", "thigh_lifts_less"),
    "knee_yield_in_loading_deg": ("knee_gives_more", "knee_gives_less"),
    "stance_knee_flexion_minimum_deg": ("knee_straightens_less", "knee_straightens_more"),
    "push_off_range_deg": ("push_off_larger", "push_off_smaller"),
    "walking_speed_m_s": ("walk_faster", "walk_slower"),
}
"""Codes of what is said of a measure that is higher, and of one that is lower."""
_OTHER_LEG: Final = {
    "_deg_s": "and_other_leg_deg_s",
    "_deg": "and_other_leg_deg",
    "_mm": "and_other_leg_mm",
}
_ADDED: Final = {
    code: added
    for measure, codes in PHRASES.items()
    for unit, added in _OTHER_LEG.items()
    if measure.endswith(unit)
    for code in codes
}
"""What adds the other leg to each phrase, in its unit."""
CHIPS: Final[Mapping[str, Reason]] = {
    LARGER: Reason("chip_larger"),
    CHANGE_IN_THESE_WALKS: Reason("chip_change_in_these_walks"),
    NO_CHANGE: Reason("chip_no_change_larger_than_error"),
    NOT_SHOWN: Reason("chip_not_shown"),
    NO_ERROR_FIGURE: Reason("chip_no_error_figure"),
    NOT_COMPARABLE: Reason("chip_not_comparable"),
    NOT_TRUSTED: Reason("chip_not_trusted"),
    NOT_DEFINED: Reason("chip_not_defined"),
}
"""Each verdict as short as a chip."""


def chip_of(row: ComparisonRow) -> Reason:
    """Return the verdict of a row as short as a chip."""
    why = row.verdict_reason
    if row.verdict == CHANGE_IN_THESE_WALKS and why and why.code == "one_of_many_questions":
        return Reason("chip_one_of_many_questions")
    return CHIPS[row.verdict]


def chip_of_finding(finding: Finding) -> Reason:
    """Return the verdict of a question as short as a chip."""
    return chip_of(finding.rows[0]) if finding.rows else CHIPS[finding.verdict]


def changed_sentence(findings: Sequence[Finding], own: Reason, reference: Reason) -> Reason:
    """Return what changed by more than measurement error, or that nothing did.

    Of two legs that changed the same way the second adds its figure to the first's phrase.
    """
    phrases = joined([each for finding in findings for each in phrases_of(finding, reference)])
    if not phrases:
        return Reason("nothing_larger_than_error", how=own)
    return Reason("what_changed", how=own, phrases=phrases)


def joined(phrases: Sequence[Reason]) -> tuple[Reason, ...]:
    """Join phrases that differ in the leg and its figure alone."""
    by_code: dict[str, list[Reason]] = {}
    for phrase in phrases:
        by_code.setdefault(phrase.code, []).append(phrase)
    return tuple(each for alike in by_code.values() for each in _of_legs(*alike))


def _of_legs(first: Reason, *others: Reason) -> Iterator[Reason]:
    added = _ADDED.get(first.code)
    if added is None or not others:
        yield from (first, *others)
        return
    (other,) = others
    yield Reason(added, first=first, **dict(other.parameters))


def untold_sentence(findings: Sequence[Finding]) -> Reason | None:
    """Return which questions these recordings cannot answer, each once."""
    codes = dict.fromkeys(each.question for each in findings)
    if not codes:
        return None
    return Reason("recordings_cannot_say", questions=tuple(Reason(code) for code in codes))


def phrases_of(finding: Finding, reference: Reason) -> Iterator[Reason]:
    """Yield what is said of a question that changed: its counts of steps, else each measure."""
    if finding.has_heel_changed and finding.heel is not None:
        own, other = finding.heel.counts.own, finding.heel.counts.reference
        yield Reason(
            "heel_lands_first",
            leg=finding.side,
            n_heel=own.n_kind,
            n_known=own.n_steps,
            n_heel_reference=other.n_kind,
            n_known_reference=other.n_steps,
            reference=reference,
        )
        return
    for row in finding.changed:
        yield _phrase(row)


def _phrase(row: ComparisonRow) -> Reason:
    measure = MEASURE_BY_NAME[row.measure]
    higher, lower = PHRASES[row.measure]
    return Reason(
        higher if row.difference > 0 else lower,
        leg=row.side,
        by=round(abs(row.difference), measure.decimals),
        value=round(row.value, measure.decimals),
        reference_value=round(row.reference_value, measure.decimals),
    )
