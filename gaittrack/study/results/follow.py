"""Follow a person over visits.

In come a study and a person, out comes one row per headline measure, side, condition and visit:
the value of that day, and how it differs from the first visit of the same condition. The
difference, its interval, the measurement error of different days and the verdict are those of any
comparison.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import product
from typing import Any, Final

from sqlalchemy import Connection, select

from gaittrack.compare.comparison import pair_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.pair import MINIMUM_SHARE, Pair, samples_of
from gaittrack.compare.intervals.interval import mean_interval
from gaittrack.compare.judged.family import Affected, judge_rows
from gaittrack.compare.judged.rows import ComparisonRow, draft_rows, labels_of_sample
from gaittrack.compare.measurement_error.marker_errors import OwnErrors
from gaittrack.compare.walked.questions import QUESTION_MEASURES, QuestionCode, aimed_questions
from gaittrack.compare.walked.same_body import PACE_MEASURES
from gaittrack.compare.walked.same_points import Again
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, Sample, WalkRecord
from gaittrack.measures import MEASURES
from gaittrack.reasons import Reason
from gaittrack.study.checksums import DamagedResultError
from gaittrack.study.laboratory import laboratory_errors_of
from gaittrack.study.people.documents import unfolded
from gaittrack.study.people.enrolled import condition_of, find_person
from gaittrack.study.people.things import aims_of
from gaittrack.study.people.visit_days import with_days
from gaittrack.study.people.worn_changes import worn_changes
from gaittrack.study.results.keeping import KnownTrial, stale_trials
from gaittrack.study.results.measuring_again import MeasuresAgain
from gaittrack.study.results.over_visits import Following, Progress, VisitMark
from gaittrack.study.results.packing import stored_walks
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, RESULT, TRIAL, VISIT
from gaittrack.vocabulary import SIDES, Side

HEADLINE: Final = tuple(measure.name for measure in MEASURES if measure.group == "headline")
FIRST: Final = "first_visit"
_WANTED: Final = tuple(dict.fromkeys((*HEADLINE, *sorted(QUESTION_MEASURES), MINIMUM_SHARE)))
"""What is shown, with what its verdicts are made from: all questions are one family, and the share
of strides with a minimum decides whether clearance is compared."""


def follow_person(study: Study, code: str) -> Following:
    """Follow a person's headline measures over visits.

    Raises
    ------
    StudyError
        Unknown person.
    """
    with study.read() as connection:
        person = find_person(connection, code)
        own_errors = laboratory_errors_of(connection)
        visits = _visits(connection, person["id"])
        worn = _conditions(connection, visits)
        walks, trial_ids = _walks(connection, visits)
        aims = aimed_questions(aims_of(connection, person["id"]))
    again = MeasuresAgain(study, trial_ids)
    rows: list[Progress] = []
    notes: list[Reason] = []
    for condition in dict.fromkeys(name for _, name in walks):
        own = [
            (visit, walks[visit["code"], condition])
            for visit in visits
            if (visit["code"], condition) in walks
        ]
        more, found = _over_visits(
            *(condition, own, worn, own_errors, person["affected_side"], aims), again
        )
        rows += more
        notes += found
    order = {name: place for place, name in enumerate(HEADLINE)}
    rows.sort(key=lambda row: (order[row.measure], row.side))
    return Following(
        person=code,
        affected=person["affected_side"],
        reference=_reference(worn),
        rows=tuple(rows),
        visits=tuple(_mark(visit) for visit in visits),
        changes=worn_changes([visit["code"] for visit in visits], worn),
        stale=stale_words(stale_trials(study, person=code)),
        notes=tuple(dict.fromkeys(notes)),
    )


def stale_words(stale: Iterable[tuple[KnownTrial, Reason]]) -> tuple[str, ...]:
    """Return the walks whose result is damaged or not of today, each with why."""
    return tuple(f"{trial.place}: {why}" for trial, why in stale)


def _mark(visit: dict[str, Any]) -> VisitMark:
    return VisitMark(visit["code"], visit["number"], _days(visit))


def _days(visit: dict[str, Any]) -> float:
    days = visit["days_since_first_visit"]
    return math.nan if days is None else float(days)


def _reference(worn: dict[tuple[str, str], Condition]) -> str:
    names = [code for (_, code), condition in worn.items() if condition.is_braced is False]
    return next(iter([*names, *(code for _, code in worn)]), "")


def _visits(connection: Connection, person_id: int) -> list[dict[str, Any]]:
    query = select(VISIT).where(VISIT.c.person_id == person_id)
    return with_days(unfolded("visit", row) for row in connection.execute(query).mappings())


def _conditions(
    connection: Connection, visits: Sequence[dict[str, Any]]
) -> dict[tuple[str, str], Condition]:
    codes = {visit["id"]: visit["code"] for visit in visits}
    query = select(CONDITION).where(CONDITION.c.visit_id.in_(codes))
    return {
        (codes[row["visit_id"]], row["code"]): condition_of(dict(row))
        for row in connection.execute(query).mappings()
    }


def _walks(
    connection: Connection, visits: Sequence[dict[str, Any]]
) -> tuple[dict[tuple[str, str], list[WalkRecord]], dict[str, int]]:
    """Return the walks of each visit and condition, and the recording of each walk by its id."""
    codes = {visit["id"]: visit["code"] for visit in visits}
    query = (
        select(TRIAL, RESULT, CONDITION.c.visit_id, CONDITION.c.code.label("condition"))
        .select_from(CONDITION.join(TRIAL).join(RESULT))
        .where(CONDITION.c.visit_id.in_(codes))
        .order_by(TRIAL.c.code)
    )
    found: dict[tuple[str, str], list[WalkRecord]] = {}
    trial_ids: dict[str, int] = {}
    for row in connection.execute(query).mappings():
        visit = codes[row["visit_id"]]
        stored = dict(row)
        try:
            walks = stored_walks(
                stored,
                stored,
                condition=visit,
                session=visit,
                measures=(*_WANTED, *PACE_MEASURES),
                with_curves=False,
            )
        except DamagedResultError:
            continue  # told by stale_trials
        walks = [walk.known_as(walk_id=f"{row['condition']} {walk.walk_id}") for walk in walks]
        trial_ids |= {walk.walk_id: row["id"] for walk in walks}
        if walks:
            found.setdefault((visit, row["condition"]), []).extend(walks)
    return found, trial_ids


def _over_visits(
    condition: str,
    own: Sequence[tuple[dict[str, Any], list[WalkRecord]]],
    worn: dict[tuple[str, str], Condition],
    own_errors: OwnErrors | None,
    affected: Affected | None,
    aims: Sequence[QuestionCode],
    again: Again,
) -> tuple[list[Progress], list[Reason]]:
    """Compare each visit's walks in one condition with the first visit's."""
    first = own[0][0]["code"]
    pairs = _pairs(condition, own, worn, own_errors, again) if len(own) > 1 else []
    samples = {pair.own.name: pair.own_samples for pair in pairs}
    if pairs:
        samples[first] = pairs[0].reference_samples
    else:
        samples[first] = samples_of(own[0][1])
    notes = [
        Reason("in_condition", condition=condition, reason=note.reason)
        for pair in pairs
        for note in pair.notes
    ]
    judged = _judged(pairs, affected, aims)
    rows = []
    for visit, _ in own:
        for name, side in product(HEADLINE, SIDES):
            sample = samples[visit["code"]].get((name, side))
            if sample is not None:
                row = judged.get((visit["code"], name, side))
                rows.append(_progress(condition, visit, name, side, sample, row))
    return rows, notes


def _judged(
    pairs: Sequence[Pair], affected: Affected | None, aims: Sequence[QuestionCode]
) -> dict[tuple[str, str, Side], ComparisonRow]:
    """Judge all visits against the first as one comparison."""
    drafts = draft_rows((pair, *key) for pair in pairs for key in product(_WANTED, SIDES))
    rows = judge_rows(drafts, aims=aims, affected=affected)
    return {(row.condition, row.measure, row.side): row for row in rows}


def _pairs(
    condition: str,
    own: Sequence[tuple[dict[str, Any], list[WalkRecord]]],
    worn: dict[tuple[str, str], Condition],
    own_errors: OwnErrors | None,
    again: Again,
) -> list[Pair]:
    codes = [visit["code"] for visit, _ in own]
    return pair_walks(
        [walk for _, walks in own for walk in walks],
        reference=codes[0],
        conditions={code: worn[code, condition].known_as(code) for code in codes},
        own_errors=own_errors,
        again=again,
    )


def _progress(
    condition: str,
    visit: dict[str, Any],
    name: str,
    side: Side,
    sample: Sample,
    row: ComparisonRow | None,
) -> Progress:
    own = mean_interval(sample.walk_values)
    return Progress(
        measure=name,
        unit=MEASURE_BY_NAME[name].unit,
        side=side,
        condition=condition,
        visit=visit["code"],
        days_since_first_visit=_days(visit),
        n_walks=sample.n_walks,
        n_strides=sample.n_strides,
        value=sample.value,
        value_low=own.low if own.is_shown else math.nan,
        value_high=own.high if own.is_shown else math.nan,
        difference=math.nan if row is None else row.difference,
        low=math.nan if row is None else row.low,
        high=math.nan if row is None else row.high,
        measurement_error=math.nan if row is None else row.measurement_error,
        measurement_error_source=None if row is None else row.measurement_error_source,
        verdict=FIRST if row is None else row.verdict,
        reason=_reason(None if sample.n_walks else sample.main_reason, row),
        labels=tuple(labels_of_sample(sample, visit["code"])) if row is None else row.labels,
    )


def _reason(not_defined: Reason | None, row: ComparisonRow | None) -> Reason | None:
    return not_defined or (None if row is None else row.verdict_reason or row.interval_reason)
