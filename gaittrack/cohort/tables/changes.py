"""What changed between the conditions of each visit, person by person.

In comes a de-identified :class:`CohortSource`, out comes one row per person, visit, side, pair of
conditions and measure, from the same comparison as everywhere else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.people.source import CohortSource, CohortWalk
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.cohort.tables.reason_cells import packed
from gaittrack.cohort.tables.table import affected_sides, side_role, walks_by_place
from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.typical_values.typical import Population, TypicalRange
from gaittrack.compare.walked.questions import QuestionCode, aimed_questions
from gaittrack.errors import ComparisonError
from gaittrack.study.laboratory import typical_for
from gaittrack.vocabulary import Side

_KEPT: Final = (
    *("n_walks", "n_strides", "n_walks_reference", "n_strides_reference"),
    *("n_not_defined", "n_not_defined_reference", "n_not_trusted", "n_not_trusted_reference"),
    *("value", "reference_value", "difference"),
    *("walks_low", "walks_high", "low", "high", "measurement_error"),
    *("measurement_error_is_proposal", "placement_sd", "placement_sd_reference"),
    *("p", "adjusted_p", "question", "verdict", "direction", "typical"),
)


def change_table(source: CohortSource, track: Track = untracked) -> pd.DataFrame:
    """Return the changes of all people.

    Parameters
    ----------
    source : CohortSource
        De-identified.

    Returns
    -------
    DataFrame
        In a pair the condition with fewer things worn is the reference: without orthosis before
        with, barefoot before shod. Conditions without a measured walk give no rows. Reasons are
        whole, as ``reason_cells.packed``.
    """
    affected, bands = affected_sides(source), _age_bands(source)
    places = walks_by_place(source)
    rows = []
    visits: dict[tuple[str, str], list[str]] = {}
    for person, visit, code in sorted(places):
        visits.setdefault((person, visit), []).append(code)
    for (person, visit), codes in track("Comparing visits", visits.items(), len(visits)):
        walks = {code: places[person, visit, code] for code in codes}
        worn = {code: source.conditions[person, visit, code] for code in walks}
        walked = {code: own for code, own in walks.items() if own}
        typical = typical_for(source.typical, bands[person, visit], None)
        aims = aimed_questions(source.aims.get(person, {}))
        for row in _compared(walked, worn, affected[person], source, typical, aims):
            place = {"export_id": person, "visit_no": int(visit)}
            rows.append(place | _plain_row(row, affected[person]))
    return pd.DataFrame(rows)


def pairs_of_visits(
    source: CohortSource,
) -> Iterator[tuple[tuple[str, str], Condition, Condition]]:
    """Yield person and visit, reference and condition of every pair of a visit."""
    days: dict[tuple[str, str], list[Condition]] = {}
    for (person, visit, _), worn in sorted(source.conditions.items(), key=lambda each: each[0]):
        days.setdefault((person, visit), []).append(worn)
    for day, own in days.items():
        for reference, condition in combinations(sorted(own, key=_in_order), 2):
            yield day, reference, condition


def _in_order(worn: Condition) -> tuple[tuple[bool, bool], str]:
    return _amount_worn(worn), worn.name


def _compared(
    walks: dict[str, list[CohortWalk]],
    worn: dict[str, Condition],
    affected: str,
    source: CohortSource,
    typical: Population | Mapping[str, TypicalRange],
    aims: Sequence[QuestionCode],
) -> Iterator[ComparisonRow]:
    """Compare every condition with each that has fewer things worn."""
    ordered = sorted(walks, key=lambda code: (_amount_worn(worn[code]), code))
    known: Any = affected if affected in ("left", "right", "both") else None
    for place, reference in enumerate(ordered[:-1]):
        codes = ordered[place:]
        records = [w.record.known_as(curves={}) for code in codes for w in walks[code]]
        try:
            compared = compare_walks(
                records,
                reference=reference,
                conditions={code: worn[code] for code in codes},
                affected=known,
                own_errors=source.own_errors,
                typical=typical,
                again=source.again,
                aims=aims,
            )
        except ComparisonError as error:
            person = walks[reference][0].person
            raise ComparisonError(error.what, where=person, action=error.action) from error
        yield from compared.rows


def _age_bands(source: CohortSource) -> dict[tuple[str, str], str]:
    """Return the age band at each visit: the export knows no age, and an age band tells enough."""
    names = ("person", "visit", "age_band")
    rows = zip(*(source.visits[name] for name in names), strict=True)
    return {(str(person), str(visit)): str(band or "") for person, visit, band in rows}


def _amount_worn(worn: Condition) -> tuple[bool, bool]:
    return worn.is_braced is not False, worn.is_barefoot is not True


def _plain_row(row: ComparisonRow, affected: str) -> dict[str, Any]:
    side: Side = row.side
    return {
        "side": side,
        "side_role": side_role(side, affected),
        "condition_code": row.condition,
        "reference_code": row.reference,
        "measure_id": row.measure,
        "unit": row.unit,
        **{name: getattr(row, name) for name in _KEPT},
        "interval_kind": packed(row.interval_kind),
        "no_interval_reason": packed(row.interval_reason),
        "measurement_error_source": packed(row.measurement_error_source),
        "verdict_reason": packed(row.verdict_reason),
        "labels": packed(*row.labels),
    }
