"""What an import adds to measuring, whether it stays so, and what a second process saves.

Processor time is compared, in one run: other programs hardly change it. Sixty recordings by
default; GAITTRACK_BENCHMARK_RECORDINGS=2000 makes an archive of that many. Run with
``pytest -m benchmark -s``.
"""

import os
import resource
import shutil
import time
from pathlib import Path

import pytest

from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.pattern_doubts import doubts_of
from gaittrack.study.archives.planning_pattern import plan_tree, told_of_conditions, try_tree
from gaittrack.study.archives.tried_paths import ToldBesides
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.recordings.together import AT_ONCE
from gaittrack.study.results.processes import in_processes
from gaittrack.study.store import create_study
from tests.made_up_files import write_walk

N_RECORDINGS = int(os.environ.get("GAITTRACK_BENCHMARK_RECORDINGS", "60"))
MOST_TO_MEASURING = 1.3
MOST_LATER_TO_EARLIER = 1.1
LEAST_SAVED = 1.7
MOST_GROWN_BYTES = 30_000_000
FEW = 1.15
"""Of sixty recordings a fifth is measured too quickly to compare more closely than this."""


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    """Give an archive of twenty walks a person, laid out by day, as it is planned by a pattern."""
    folder = tmp_path_factory.mktemp("archive")
    for seed in range(N_RECORDINGS):
        person, walk = divmod(seed, 20)
        day, worn = ("2024-03-05", "2024-05-17")[walk // 10], ("ohne", "mit")[walk // 5 % 2]
        path = folder / f"P{person:03}" / day / worn / f"{walk % 5}.c3d"
        path.parent.mkdir(parents=True, exist_ok=True)
        write_walk(path, seed=seed)
    patterns = [PathPattern("{person}/{date}/{condition}/{trial}.c3d")]
    told = ToldBesides(told_of_conditions(["mit=with brace left"]))
    tree = try_tree([folder], patterns, told)
    assert list(doubts_of(tree, patterns, told)) == []
    return plan_tree(tree)


def own_s():
    return time.process_time()


def all_s():
    """Return the time of this process and of all below it that run, readers among them."""
    ticks, parents = {}, {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has ended
        pid = int(stat.parent.name)
        parents[pid], ticks[pid] = int(words[1]), int(words[11]) + int(words[12])
    found = {os.getpid()}
    while below := {pid for pid, parent in parents.items() if parent in found} - found:
        found |= below
    return sum(ticks[pid] for pid in found) / os.sysconf("SC_CLK_TCK")


def held_bytes():
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()


def imported(plan, folder, measure_all=None):
    """Import all, and return the time and the memory after each file."""
    study = create_study(folder)
    given = {"at_once": AT_ONCE} | ({} if measure_all is None else {"measure_all": measure_all})
    after = []
    for row in import_files(study, plan, who="bench", new_people=True, **given):
        assert row.state == "added", row
        after.append((own_s(), held_bytes()))
    study.close()
    shutil.rmtree(folder)
    return after


@pytest.mark.benchmark
def test_an_import_costs_little_more_than_measuring_and_stays_so(plan, tmp_path):
    """At most 1.3 times; later recordings cost what earlier ones did; memory stays."""
    walks = [Recording(InputFile(file.path), condition=file.condition) for file in plan.files]
    imported(Plan(plan.files[:10]), tmp_path / "warm")
    start_s = all_s()
    for walk in walks:
        measure_recording(walk)
    measuring_s, start_s = all_s() - start_s, all_s()
    after = imported(plan, tmp_path / "study")
    importing_s = all_s() - start_s
    n = min(100, len(after) // 3)
    earlier_s, later_s = after[n][0] - after[0][0], after[-1][0] - after[-1 - n][0]
    grown = after[-1][1] - after[n][1]
    print(
        f"\nimport {1000 * importing_s / len(after):.1f} ms, measuring "
        f"{1000 * measuring_s / len(walks):.1f} ms, ratio {importing_s / measuring_s:.2f}; last "
        f"{n} to first {n}: {later_s / earlier_s:.2f}; memory grew by {grown / 1e6:.1f} MB"
    )
    assert importing_s / measuring_s <= MOST_TO_MEASURING
    assert later_s / earlier_s <= (MOST_LATER_TO_EARLIER if n == 100 else FEW)
    assert grown <= MOST_GROWN_BYTES


@pytest.mark.benchmark
def test_two_processes_save_nearly_half_of_the_time(plan, tmp_path):
    """By the time that each needs: the one that writes, and both together on two processors."""
    start_s = all_s()
    imported(plan, tmp_path / "one")
    alone_s = all_s() - start_s
    with in_processes(2) as measure_all:
        list(measure_all([Recording(InputFile(file.path)) for file in plan.files[:8]]))
        begun_s = all_s()
        start_s = own_s()
        imported(plan, tmp_path / "two", measure_all)
        writing_s = own_s() - start_s
        together_s = all_s() - begun_s
    saved = alone_s / max(writing_s, together_s / 2)
    print(
        f"\nalone {alone_s:.1f} s; in two processes {together_s:.1f} s, of which "
        f"{writing_s:.1f} s write; on two processors {saved:.2f} times as quick"
    )
    assert saved >= LEAST_SAVED
