"""What an export costs of twice as many people; run with ``pytest -m benchmark -s``."""

import os
import shutil

import pytest

from tests.benchmarks.large_study import copy_person, write_template
from tests.benchmarks.measure_large_study import run_step

N_PEOPLE = int(os.environ.get("GAITTRACK_BENCHMARK_PEOPLE", "40"))
MOST_TIME, MOST_MEMORY, MOST_MB = 2.1, 1.1, 500


@pytest.mark.benchmark
def test_an_export_of_twice_as_many_takes_twice_the_time_and_no_more_memory(tmp_path):
    """At most 2.1 times the processor time and 1.1 times the memory, which stays under 500 MB."""
    write_template(tmp_path / "one")
    found = []
    for name, n_people in (("few", N_PEOPLE), ("many", 2 * N_PEOPLE)):
        shutil.copytree(tmp_path / "one" / "study", tmp_path / name / "study")
        copy_person(tmp_path / name / "study", n_people)
        found.append(run_step("export", tmp_path / name))
        assert found[-1].n_people == n_people
    few, many = found
    time, memory = many.own_s / few.own_s, many.memory_mb / few.memory_mb
    print(
        f"\n{N_PEOPLE} people {few.own_s:.1f} s, {few.memory_mb:.0f} MB; twice as many: "
        f"{time:.2f} times the time, {memory:.2f} times the memory"
    )
    assert time <= MOST_TIME
    assert memory <= MOST_MEMORY
    assert many.memory_mb <= MOST_MB
