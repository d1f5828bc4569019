"""A laboratory's measurement error from people of its study who were measured again, unchanged.

In come the codes of people in whom nothing had changed between their visits, out come the errors;
in come errors, and they become the laboratory's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Final, NamedTuple

import pandas as pd

from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.people.source import CohortSource
from gaittrack.compare.fair.pair import samples_of
from gaittrack.compare.measurement_error.marker_errors import How
from gaittrack.compare.measurement_error.repeat_visits import (
    LEAST_PERSONS,
    RepeatError,
    errors_text,
    laboratory_errors,
    walk_error,
    with_enough_persons,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, WalkRecord
from gaittrack.errors import ComparisonError
from gaittrack.study.laboratory import ERRORS, put_setting
from gaittrack.study.store import Study
from gaittrack.vocabulary import Side

FILE_NAME: Final = "own-errors.toml"
N_VISITS: Final = 2
"""Of each person, the first two: so that everybody counts who came twice."""
_COLUMNS: Final = ("person", "visit", "measure", "side", "value", "walk_error")


class RepeatedVisits(NamedTuple):
    """Errors of the measures that enough people have; the titles of those that too few have."""

    errors: list[RepeatError]
    left_out: list[str]


def errors_of_people(study: Study, people: Sequence[str], *, how: How) -> RepeatedVisits:
    """Return the errors that the first two visits of people show.

    Parameters
    ----------
    people : sequence of str
        Codes of those in whom nothing had changed.
    how : How
        What was done to the markers between the visits.

    Raises
    ------
    ComparisonError
        Too few people with a condition of the same name at both visits.
    """
    source = cohort_source(study, people=list(people))
    repeats = pd.DataFrame(list(_values(source)), columns=list(_COLUMNS))
    usable, left_out = with_enough_persons(repeats)
    if usable.empty:
        raise ComparisonError.of(
            "too_few_came_twice",
            where="measurement errors",
            n=repeats["person"].nunique(),
            least=LEAST_PERSONS,
        )
    found = laboratory_errors(usable, how=how, made_on=date.today().isoformat())
    return RepeatedVisits(found, [MEASURE_BY_NAME[name].title for name in left_out])


def take_errors(study: Study, errors: Sequence[RepeatError], *, who: str, why: str) -> None:
    """Let errors be the laboratory's, in place of those it had."""
    row = {"file_name": FILE_NAME, "content": errors_text(errors)}
    with study.write() as connection:
        put_setting(connection, ERRORS, row, who=who, why=why)


def _values(source: CohortSource) -> Iterator[tuple[str, int, str, Side, float, float]]:
    """Yield the values of the condition that a person walked most at both visits."""
    walks: dict[str, dict[str, dict[str, list[WalkRecord]]]] = {}
    for walk in source.walks:
        own = walks.setdefault(walk.person, {}).setdefault(walk.visit, {})
        own.setdefault(walk.record.condition, []).append(walk.record)
    in_time = list(zip(source.visits["person"], source.visits["visit"], strict=True))
    for person, visits in walks.items():
        both = [visits[at] for who, at in in_time if who == person and at in visits][:N_VISITS]
        shared = [name for name in both[0] if all(name in each for each in both)]
        if len(both) < N_VISITS or not shared:
            continue
        most = max(shared, key=lambda name: min(len(each[name]) for each in both))
        for number, visit in enumerate(both, 1):
            for (measure, side), sample in samples_of(visit[most]).items():
                if sample.n_walks:
                    values = sample.value, walk_error(sample.walk_values)
                    yield person, number, measure, side, *values
