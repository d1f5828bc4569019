"""Compare walks of several conditions against one reference.

In come :class:`WalkRecord` objects and what was worn, out comes one :class:`Comparison`: rows,
watch list, fairness notes, curves and the settings they were made with.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from gaittrack import __version__
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.fairness import (
    MATCH_M_S,
    FairnessNote,
    Group,
    check_fairness,
    marker_handling,
    why_origins_differ,
)
from gaittrack.compare.fair.heel_first import HeelFirst, heel_first_steps
from gaittrack.compare.fair.measured_again import on_same_points
from gaittrack.compare.fair.pair import Pair, measured_sides, samples_of
from gaittrack.compare.intervals.curve_bands import (
    NOT_COMPARABLE,
    Band,
    Location,
    locate_difference,
    mean_band,
)
from gaittrack.compare.intervals.interval import LEVEL
from gaittrack.compare.judged.family import Affected, judge_rows
from gaittrack.compare.judged.rows import ComparisonRow, Draft, draft_rows, verdict_of
from gaittrack.compare.judged.walk_tables import changes_table
from gaittrack.compare.judged.watch import CANNOT_SHOW, CAUTION, STATUSES, WatchItem, watch
from gaittrack.compare.measurement_error.marker_errors import MARKER_GROUPS, OwnErrors
from gaittrack.compare.typical_values.typical import Population, TypicalRange, typical_ranges
from gaittrack.compare.typical_values.typical_curves import TypicalCurve, curves_at
from gaittrack.compare.walked.plain import plain_value
from gaittrack.compare.walked.questions import QUESTION_CODES, QuestionCode
from gaittrack.compare.walked.same_points import Again, why_other_points
from gaittrack.compare.walked.same_walks import refuse_duplicates
from gaittrack.compare.walked.walks import WalkRecord, refuse_unknown_measures
from gaittrack.errors import ComparisonError
from gaittrack.late import pandas as pd
from gaittrack.notebook_view import Shown, SmallTable
from gaittrack.notice import NOTICE
from gaittrack.reasons import Reason
from gaittrack.record.registry import CONDITION
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class CurveComparison(Shown):
    """One angle of one side over the cycle, in all conditions.

    Attributes
    ----------
    locations : mapping of condition name to Location
        Where the condition differs from the reference.
    """

    side: Side
    joint: Joint
    bands: Mapping[str, Band]
    locations: Mapping[str, Location]


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Comparison(Shown):
    """The whole answer.

    Attributes
    ----------
    rows : tuple of ComparisonRow
        Measure by measure, headline first; every side and condition.
    watch : tuple of WatchItem
        Those that fire first.
    heel_first : tuple of HeelFirst
        Steps that began with the heel, counted, by condition and side.
    settings : mapping of str to value
        Everything chosen, and the files with their hashes.
    """

    rows: tuple[ComparisonRow, ...]
    watch: tuple[WatchItem, ...]
    heel_first: tuple[HeelFirst, ...]
    fairness: tuple[FairnessNote, ...]
    curves: tuple[CurveComparison, ...]
    settings: Mapping[str, Any]

    def changes(self) -> pd.DataFrame:
        """Return what changed, one row per measure, side and condition; see ``CHANGE_COLUMNS``."""
        return changes_table(self.rows)

    def _facts(self) -> Mapping[str, object]:
        return {
            "reference": self.settings["reference"],
            "conditions": list(dict.fromkeys(row.condition for row in self.rows)),
            "affected": self.settings["affected"],
            "changes": len(self.rows),
            "signs": list(dict.fromkeys(i.sign for i in self.watch if i.status == "fires")),
            "fairness": list(dict.fromkeys(note.reason.code for note in self.fairness)),
        }

    def _small_table(self) -> SmallTable:
        return SmallTable(notes=(self.settings["caution"], NOTICE))


def compare_walks(
    walks: Sequence[WalkRecord],
    *,
    reference: str,
    conditions: Mapping[str, Condition] | None = None,
    affected: Affected | None = None,
    aims: Sequence[QuestionCode] = (),
    own_errors: OwnErrors | None = None,
    typical: Population | Mapping[str, TypicalRange] = "adult",
    typical_curves: Sequence[TypicalCurve] = (),
    joints: Collection[Joint] | None = None,
    again: Again | None = None,
) -> Comparison:
    """Compare every condition with the reference.

    Parameters
    ----------
    walks : sequence of WalkRecord
        Of two conditions or more.
    reference : str
        Name of the condition the others are compared with.
    conditions : mapping of name to Condition, optional
        What was worn; a condition without an entry counts as not recorded.
    aims : sequence of QuestionCode, optional
        Questions that were recorded as aims before the first comparison.
    own_errors : mapping, optional
        The laboratory's own measurement errors, from ``repeat_visits.own_errors``.
    typical : Population or mapping of measure name to TypicalRange
        Which typical ranges to use.
    typical_curves : sequence of TypicalCurve
        Of the person's age; those that hold at all speeds stand in the settings.
    joints : collection of Joint, optional
        Whose curves to compare along the cycle; all without it.
    again : callable, optional
        Measures walks again on what they share. Without it, values of different points are not
        compared.

    Raises
    ------
    ComparisonError
        Fewer than two conditions, an unknown reference or described condition, a measure that is
        not known, or a walk given twice.
    """
    if affected not in (None, "left", "right", "both"):
        raise ValueError(f"affected must be left, right or both, got {affected!r}")
    if unknown := set(aims) - set(QUESTION_CODES):
        raise ValueError(f"aims must be among {', '.join(QUESTION_CODES)}, got {unknown}")
    refuse_duplicates(walks)
    groups = _groups(walks, conditions or {}, reference)
    pairs = _pairs(groups, reference, own_errors, typical, again)
    keys = measured_sides(list(groups.values()))
    drafts = draft_rows((pair, *key) for key in keys for pair in pairs)
    signs = (item for pair in pairs for item in watch(pair, _of(pair, drafts)))
    return Comparison(
        rows=tuple(judge_rows(drafts, aims=aims, affected=affected)),
        watch=tuple(sorted(signs, key=lambda item: STATUSES.index(item.status))),
        heel_first=tuple(each for pair in pairs for each in heel_first_steps(pair)),
        fairness=tuple(note for pair in pairs for note in pair.notes),
        curves=tuple(_compare_curves(groups, reference, joints)),
        settings={
            **_settings(walks, reference, affected, pairs, typical),
            "typical_curves": curves_at(typical_curves, [g.as_walked for g in groups.values()]),
            "aims": list(aims),
        },
    )


def _of(pair: Pair, drafts: Iterable[Draft]) -> dict[tuple[str, Side], Draft]:
    return {(each.measure.name, each.side): each for each in drafts if each.pair is pair}


def pair_walks(
    walks: Sequence[WalkRecord],
    *,
    reference: str,
    conditions: Mapping[str, Condition] | None = None,
    own_errors: OwnErrors | None = None,
    again: Again | None = None,
) -> list[Pair]:
    """Pair every condition with the reference, ready to compare single measures.

    Parameters
    ----------
    walks, reference, conditions, own_errors, again
        As for :func:`compare_walks`.

    Returns
    -------
    list of Pair
        In the order in which conditions first occur.

    Raises
    ------
    ComparisonError
        As :func:`compare_walks`.
    """
    refuse_duplicates(walks)
    groups = _groups(walks, conditions or {}, reference)
    return _pairs(groups, reference, own_errors, "adult", again)


def _pairs(
    groups: Mapping[str, Group],
    reference: str,
    own_errors: OwnErrors | None,
    typical: Population | Mapping[str, TypicalRange],
    again: Again | None,
) -> list[Pair]:
    samples = {name: samples_of(group.walks) for name, group in groups.items()}
    ranges = typical_ranges(typical) if isinstance(typical, str) else typical
    keys = measured_sides(list(groups.values()))
    pairs = [
        Pair(
            group,
            groups[reference],
            samples[name],
            samples[reference],
            marker_handling(group, groups[reference]),
            tuple(check_fairness(group, groups[reference])),
            own_errors,
            ranges,
        )
        for name, group in groups.items()
        if name != reference
    ]
    return [on_same_points(pair, keys, again) for pair in pairs]


def _groups(
    walks: Sequence[WalkRecord], described: Mapping[str, Condition], reference: str
) -> dict[str, Group]:
    names = list(dict.fromkeys(walk.condition for walk in walks))
    if len(names) < 2:
        raise ComparisonError.of(
            "conditions_too_few",
            where=", ".join(names) or "walks",
            n=len(names),
        )
    for name, where in [(reference, "reference"), *((key, "conditions") for key in described)]:
        if name not in names:
            raise ComparisonError.of("no_walks", where=where, name=name, names=", ".join(names))
    refuse_unknown_measures(walks)
    return {
        name: Group(
            name, tuple(walk for walk in walks if walk.condition == name), described.get(name)
        )
        for name in names
    }


def compare_curves(
    walks: Sequence[WalkRecord], *, reference: str, joints: Collection[Joint]
) -> tuple[CurveComparison, ...]:
    """Compare angles along the cycle, and nothing else.

    Parameters
    ----------
    walks : sequence of WalkRecord
        Of a comparison that was made.
    """
    return tuple(_compare_curves(_groups(walks, {}, reference), reference, joints))


def _compare_curves(
    groups: Mapping[str, Group], reference: str, joints: Collection[Joint] | None
) -> Iterable[CurveComparison]:
    keys = dict.fromkeys(
        key for group in groups.values() for walk in group.walks for key in walk.curves
    )
    for side, joint in (key for key in keys if joints is None or key[1] in joints):
        found = {name: _walk_curves(group, (side, joint)) for name, group in groups.items()}
        present = {name: curves for name, curves in found.items() if len(curves)}
        locations = {
            name: _locate(
                groups[name], groups[reference], (side, joint), curves, present[reference]
            )
            for name, curves in present.items()
            if name != reference and reference in present
        }
        bands = {name: mean_band(curves) for name, curves in present.items()}
        yield CurveComparison(side, joint, bands, locations)


def _locate(
    own: Group,
    reference: Group,
    key: tuple[Side, Joint],
    curves: FloatArray,
    reference_curves: FloatArray,
) -> Location:
    reason = why_origins_differ(own, reference) or why_other_points(
        own.walks, reference.walks, (key[1], key[0])
    )
    if reason is not None:
        return Location((), math.nan, math.nan, Reason(NOT_COMPARABLE, reason=reason))
    return locate_difference(curves, reference_curves)


def _walk_curves(group: Group, key: tuple[Side, Joint]) -> FloatArray:
    """Return the mean curve of each walk that has whole curves, shape (n_walks, n_points)."""
    means = []
    for walk in group.walks:
        curves = walk.curves.get(key)
        if curves is None:
            continue
        whole = curves[np.isfinite(curves).all(axis=1)]
        if len(whole):
            means.append(whole.mean(axis=0))
    return np.array(means)


def _settings(
    walks: Sequence[WalkRecord],
    reference: str,
    affected: Affected | None,
    pairs: Sequence[Pair],
    typical: Population | Mapping[str, TypicalRange],
) -> dict[str, Any]:
    first = pairs[0]
    groups = [first.reference, *(pair.own for pair in pairs)]
    return {
        "gaittrack_version": __version__,
        "reference": reference,
        "affected": affected,
        "confidence": LEVEL,
        "markers": {pair.own.name: _handling_words(pair) for pair in pairs},
        "own_errors": sorted({measure for measure, _ in first.own_errors or {}}),
        "typical": typical if isinstance(typical, str) else "own reference values",
        "typical_ranges": {name: asdict(each) for name, each in first.typical.items()},
        "speed_match_m_s": MATCH_M_S,
        "conditions": {g.name: described(g.worn or Condition(g.name)) for g in groups},
        "cannot_show": CANNOT_SHOW,
        "caution": CAUTION,
        "walks": [
            {
                "walk_id": walk.walk_id,
                "condition": walk.condition,
                "file": walk.file_name,
                "part": walk.part,
                "sha256": walk.sha256,
                "rate_hz": walk.rate_hz,
                "event_source": walk.event_source,
                "neutral_source": walk.neutral_source,
                "angle_origin": walk.angle_origin,
                "smoothing": walk.smoothing,
                "speed_m_s": walk.mean_speed_m_s,
            }
            for walk in walks
        ],
    }


def _handling_words(pair: Pair) -> str:
    """Return what was done to the markers, and to which if not to all."""
    groups = [group for group in MARKER_GROUPS if group in pair.handling.groups]
    named = f" ({', '.join(groups)})" if 0 < len(groups) < len(MARKER_GROUPS) else ""
    return f"{pair.handling.how}{named}"


def described(worn: Condition) -> dict[str, Any]:
    """Return what was worn, field by field; None where not recorded."""
    return {name: worn.facts.get(name) for name in CONDITION}


def comparison_dict(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison as plain values for JSON: NaN is None, tuples are lists.

    A reason is its code and parameters, and ``words`` that say it in English.
    """
    rows = [plain_value(row) | {"words": verdict_of(row).say()} for row in comparison.rows]
    watch = [plain_value(item) | {"words": str(Reason(item.sign))} for item in comparison.watch]
    return {
        "rows": rows,
        "watch": watch,
        "heel_first": [plain_value(each) | {"words": each.say()} for each in comparison.heel_first],
        "fairness": plain_value(comparison.fairness),
        "settings": plain_value(comparison.settings),
        "curves": plain_value(comparison.curves),
    }
