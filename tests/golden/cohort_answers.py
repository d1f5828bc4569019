"""All that is answered of a drawn cohort: tables, models, what is shown of whom, what is said."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np
import pandas as pd

from gaittrack.cohort.asking.answering import CohortAnswer, answer_cohort
from gaittrack.cohort.asking.beside import beside
from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.asking.view import CohortView, choices, selected_statistics
from gaittrack.cohort.disclosure.counted_facts import counted_closed
from gaittrack.cohort.disclosure.lost_words import lost_lines
from gaittrack.cohort.disclosure.people_bits import Mask
from gaittrack.cohort.disclosure.protection import LEAST_ALIKE, Protection, protect
from gaittrack.cohort.inference.coverage import coverage_table, why_not_shown
from gaittrack.cohort.inference.mixed_model import mixed_effect
from gaittrack.cohort.inference.power import people_needed, power, scatter
from gaittrack.cohort.inference.statistics import statistics_table
from gaittrack.cohort.inference.suppression import without_small_groups
from gaittrack.cohort.kept.compared import Compared
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.repeated_visits import _values
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.release.error_words import error_words, errors_table
from gaittrack.cohort.tables import table as tables
from gaittrack.cohort.tables.everyday import outcomes_table
from gaittrack.cohort.tables.selection import EVERYBODY, Selection
from gaittrack.cohort.tables.tables_of_person import tables_of_person
from gaittrack.measures import MEASURES
from gaittrack.study.laboratory import OUTCOMES, set_setting
from gaittrack.study.store import Study, create_study
from tests.cohort.whole_source import select_source
from tests.compare.made_up_walks import CLEARANCE, SWING
from tests.golden.drawn_cohorts import drawn_source
from tests.golden.drawn_comparisons import Laboratory

SPEED: Final = "walking_speed_m_s"
N_PEOPLE, N_TOLD = 36, 5
"""All; those whose tables are told."""
SELECTIONS: Final = (
    EVERYBODY,
    Selection(cause=("stroke", "able-bodied"), visit_no=(1, 2)),
    Selection(affected_side=("left",)),
    Selection(condition_code=("no-orthosis_shod", "orthosis_shod")),
    Selection(people=tuple(f"P{number:02}" for number in range(0, 34, 2))),
)
DECLARED: Final = f"""
primary = "{SPEED}"
secondary = ["{SWING}", "{CLEARANCE}", "step_width_mm"]
[[important]]
measure = "{SPEED}"
difference = 0.05
source = "A"
[[important]]
measure = "{SWING}"
difference = -2.5
source = "B"
"""
OF_THE_PROGRAM: Final = ["software_version", "parameter_hash"]
"""Columns that another version or another wording changes."""


def of_cohorts(laboratory: Laboratory) -> Iterator[tuple[str, Any]]:
    """Yield all that is told of a cohort, by names."""
    source = drawn_source(np.random.default_rng(7), laboratory, N_PEOPLE)
    clean = closed(source, {code: f"x{code}" for code in source.people["person"]})
    yield "closed", (clean.conditions, clean.aims, clean.braces, clean.exclusions, clean.visits)
    yield "repeated visits", list(_values(source))
    changes = []
    for name, table in _tables(clean, laboratory):
        changes += [table] if name == "changes" else []
        if len(changes) < N_TOLD:
            yield f"table {name}", table.drop(columns=OF_THE_PROGRAM, errors="ignore")
    plain = closed(source, {code: code for code in source.people["person"]})
    found = pd.concat(changes)
    yield "table changes", found
    yield from _statistics(found)
    yield from _shown(plain, found)
    with TemporaryDirectory() as folder:
        yield from _answers(Path(folder), plain, found)
    yield from _models()


def _tables(clean: CohortSource, laboratory: Laboratory) -> Iterator[tuple[str, pd.DataFrame]]:
    for name in ("people", "visits", "legs", "conditions", "settings", "aims", "ratings"):
        yield name, getattr(tables, f"{name}_table")(clean)
    yield "exclusions", tables.exclusions_table(clean)
    yield "outcomes", outcomes_table(clean)
    yield "errors", errors_table(laboratory.own)
    for person in clean.people["person"]:
        own = select_source(clean, Selection(people=(person,)))
        if own.walks:
            yield from tables_of_person(own, None, person, with_curves=True)


def _statistics(changes: pd.DataFrame) -> Iterator[tuple[str, Any]]:
    found = statistics_table(changes, n_people=N_PEOPLE, measures=(SWING,))
    yield "statistics", found
    for least in LEAST_ALIKE.values():
        yield "without small groups", without_small_groups(found, least=least)


def _shown(plain: CohortSource, changes: pd.DataFrame) -> Iterator[tuple[str, Any]]:
    named = changes.assign(export_id=changes["export_id"].str.removeprefix("x"))
    for release in LEAST_ALIKE:
        for chosen in SELECTIONS[1::2] if release == "partner" else (EVERYBODY,):
            found = protect(counted_closed([plain]), release=release, selection=chosen)
            lost = found.lost()
            told = (found.people, _withheld(found), found.groups, lost, lost_lines(lost))
            yield "protection", told
        rows = found.rows_of(plain)  # of the last selection
        yield "told", [found.told(tables.people_table(rows)), found.told(tables.visits_table(rows))]
        yield "told", [found.told(tables.conditions_table(rows)), found.told(named)]


@dataclass(frozen=True)
class _Withheld:
    """What is withheld, by the names of people."""

    dropped: frozenset[str]
    n_visits: Mapping[str, int]
    step: Mapping[str, int]
    hidden: Mapping[str, frozenset[str]]


def _withheld(found: Protection) -> _Withheld:
    names, own = found.everybody.names, found.withheld

    def named(people: Mask) -> frozenset[str]:
        return frozenset(names[place] for place in np.flatnonzero(people))

    cut = {names[place]: int(own.n_visits[place]) for place in np.flatnonzero(own.n_visits)}
    hidden = {name: named(people) for name, people in own.hidden.items()}
    return _Withheld(named(own.dropped), cut, own.step, hidden)


def _answers(folder: Path, plain: CohortSource, changes: pd.DataFrame) -> Iterator[tuple[str, Any]]:
    (folder / "outcomes.toml").write_text(DECLARED)
    study = create_study(folder / "study")
    set_setting(study, OUTCOMES, folder / "outcomes.toml", who="A", why="B")
    view = _view(study, plain, changes)
    yield "choices", (choices(view), view.pairs, view.measures)
    for pair in view.pairs[:3]:
        for measure, role in ((SPEED, "affected"), (SWING, "affected"), (CLEARANCE, "other")):
            for chosen in SELECTIONS[:3]:
                answer = answer_cohort(view, CohortQuestion(chosen, measure, role, pair))
                yield "answer", _said(answer)
                if chosen == EVERYBODY:
                    found = beside(view, answer)
                    yield "beside", replace(found, declaration=found.declaration.outcomes)
    for chosen in SELECTIONS[1:4]:
        of_measure = {"measures": (CLEARANCE,), "side_roles": ("other",)}
        yield "selected", selected_statistics(view, chosen, **of_measure)
    study.close()


def _view(study: Study, plain: CohortSource, changes: pd.DataFrame) -> CohortView:
    """Return a view in which everybody was compared just now."""
    names, unkept = ["condition_code", "reference_code"], {}
    for person, own in changes.groupby("export_id"):
        cells = own.drop(columns="export_id")
        parts = {
            name: {"rows": len(each), "columns": each.to_dict("list")}
            for name, each in cells.groupby("measure_id")
        }
        about = {"problem": "", "damaged": "", "roles": [], "measures": list(parts)}
        about["pairs"] = own[names].drop_duplicates().to_numpy().tolist()
        unkept[person.removeprefix("x")] = {"about": about, **parts}
    people = tables.people_table(plain).rename(columns={"export_id": "person"})
    return CohortView(study, plain, people, Compared({}, {}), "", unkept)


def _said(answer: CohortAnswer) -> tuple[Any, ...]:
    said = (answer.say(), answer.warnings(), answer.figures(), answer.question.who)
    counted = (sorted(answer.counts.items()), sorted(answer.ways.items()), answer.n_missing)
    return (*said, *counted, answer.differences, answer.left_out, answer.other, answer.mean)


def _models() -> Iterator[tuple[str, Any]]:
    """Yield models of drawn differences, what covers, and how many people are needed."""
    rng = np.random.default_rng(5)
    for between in (0.0, 0.3, 2.0):
        for n in (4, 9, 30):
            people = np.repeat(np.arange(n), rng.integers(1, 5, n))
            term = rng.normal(size=len(people))
            values = 1 + between * rng.normal(size=n)[people] + rng.normal(size=len(people))
            yield "model", mixed_effect(values, people, terms={"hundred_days": term})
            yield "model", mixed_effect(np.round(values), people)
            yield "scatter", scatter(values)
    for difference in rng.uniform(0.05, 3, 12):
        needed = people_needed(difference, 1.7, wanted=0.9)
        yield "power", (power(difference, 1.7, 7), needed, people_needed(-difference, 0.4))
    for method in sorted(set(coverage_table()["method"])):
        for n_people in (2, 3, 5, 8, 12, 20, 40, 60):
            for visits in (1, 1.4, 2, 3, 6):
                people = np.arange(round(n_people * visits)) % n_people
                yield f"covers {method}", why_not_shown(method, people)
    yield "errors", [error_words(measure) for measure in MEASURES]
