"""What makes screens quick, as ratios: of many at once to one by one, and of reading once.

No seconds: processor time of two ways side by side, or statements that a database was asked.
Run with ``pytest -m benchmark -s -n0 tests/benchmarks/test_ratios.py``.
"""

import shutil
import subprocess
import sys
import time
from contextlib import closing, contextmanager

import numpy as np
import pytest
from sqlalchemy import event

from dashboards.parts.last_comparisons import CompareMemory
from gaittrack.compare.intervals.certainty import certainties, certainty
from gaittrack.compare.measurement_error.placement import Placement
from gaittrack.study.recordings.overview import waiting_of_all
from gaittrack.study.results.compared_trials import compared_trials
from gaittrack.study.results.comparing import conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import open_study
from tests.benchmarks.large_study import copy_person, write_template

N_ROWS, MOST_OF_ONE_BY_ONE = 92, 0.4
FEW, MANY = 20, 200


def worked_s(function):
    """Return the least processor time of several calls."""
    times = []
    for _ in range(5):
        start_s = time.thread_time()
        function()
        times.append(time.thread_time() - start_s)
    return min(times)


@contextmanager
def statements(study):
    """Collect what the study's database is asked."""
    asked = []

    def note(_connection, _cursor, statement, *_):
        asked.append(statement)

    event.listen(study.engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(study.engine, "before_cursor_execute", note)


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """Make a study of one measured person."""
    return write_template(tmp_path_factory.mktemp("ratios"))


@pytest.mark.benchmark
def test_all_rows_at_once_cost_less_than_half_of_one_by_one():
    """The intervals of a comparison's rows, of 5 walks in each condition."""
    rng = np.random.default_rng(1)
    cases = [
        (rng.normal(size=5), rng.normal(1, size=5), Placement(0.5, 0.5)) for _ in range(N_ROWS)
    ]
    ratio = worked_s(lambda: certainties(cases)) / worked_s(
        lambda: [certainty(*case) for case in cases]
    )
    print(f"\n{N_ROWS} rows at once against one by one: {ratio:.2f} (limit {MOST_OF_ONE_BY_ONE})")
    assert ratio <= MOST_OF_ONE_BY_ONE


@pytest.mark.benchmark
def test_counting_what_waits_asks_less_than_half_a_question_per_person(template, tmp_path):
    """People are counted some at a time: one more costs a share of a statement."""
    asked = {}
    for n_people in (FEW, MANY):
        folder = shutil.copytree(template, tmp_path / str(n_people))
        copy_person(folder, n_people)
        with closing(open_study(folder)) as study, statements(study) as found:
            assert len(dict(waiting_of_all(study))) == n_people
            asked[n_people] = len(found)
    more = (asked[MANY] - asked[FEW]) / (MANY - FEW)
    print(f"\nstatements per further person: {more:.2f}; {asked}")
    assert more <= 0.5


@pytest.mark.benchmark
def test_compare_reads_the_numbers_of_results_once(template):
    """Once for the comparison and all that stands beside it; once more to find it still sound."""
    with closing(open_study(template)) as study:
        choice, memory = first_choice(conditions_of(study, 1)), CompareMemory()
        for _ in range(2):
            with statements(study) as found:
                compared_trials(study, memory.compared(study, choice))
            n_read = sum("result.numbers" in each for each in found)
            print(f"\nnumbers read {n_read} times")
            assert 1 <= n_read <= 2  # the second says that there are no more


@pytest.mark.benchmark
@pytest.mark.parametrize("room", ["batch", "compare_run"])
def test_measuring_and_comparing_load_nothing_that_they_do_not_use(room):
    """Database, tables, pages and the packages around a filter would be half of a start."""
    looks = f"import sys, gaittrack.commands.{room}; print(*sys.modules)"
    run = subprocess.run([sys.executable, "-c", looks], capture_output=True, text=True, check=True)
    unused = {"sqlalchemy", "pandas", "jinja2", "scipy.stats"}
    unused |= {f"scipy.{package}" for package in ("signal", "optimize", "special", "linalg")}
    assert unused.isdisjoint(run.stdout.split())
