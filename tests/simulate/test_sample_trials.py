"""The files in sample_trials are what their command makes."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
import python_calamine

from gaittrack.simulate.sample_trials import walks_of, write_visit
from gaittrack.simulate.scenario import PATIENTS, WEARS, WITHOUT
from tests.broken_files import BROKEN

FOLDER = Path(__file__).parents[2] / "sample_trials"
LARGEST_BYTES = 100_000
ALL_BYTES = 15_000_000


@pytest.mark.parametrize("patient", PATIENTS, ids=lambda patient: patient.code)
def test_remade_visit_is_byte_for_byte_the_same(patient, tmp_path):
    """The last visit of each person, made anew, equals the stored one."""
    write_visit(patient, patient.n_visits - 1, tmp_path)
    made = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file())
    stored = FOLDER / patient.code / f"visit-{patient.n_visits}"
    assert made == sorted(p.relative_to(stored) for p in stored.rglob("*") if p.is_file())
    for path in made:
        assert (tmp_path / path).read_bytes() == (stored / path).read_bytes(), path


@pytest.mark.parametrize("broken", BROKEN, ids=lambda broken: broken.name)
def test_remade_broken_file_is_the_same_and_is_listed(broken, tmp_path):
    """Each broken file can be made anew and stands in its README, with what is wrong and to say."""
    broken.write(tmp_path / broken.name)
    assert (tmp_path / broken.name).read_bytes() == (FOLDER / "broken" / broken.name).read_bytes()
    told = (FOLDER / "broken" / "README.md").read_text(encoding="utf-8")
    assert re.search(rf"^\| `{re.escape(broken.name)}` \| [^|]+ \| [^|]+ \|$", told, re.MULTILINE)


def test_files_are_small():
    """No file over 100 kB, all together well under 15 MB."""
    sizes = [path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()]
    assert max(sizes) <= LARGEST_BYTES and sum(sizes) < ALL_BYTES


def test_every_condition_has_at_least_three_walks_and_says_what_was_worn():
    """Two conditions or more at each visit, in the same shoes, each in its order."""
    for patient in PATIENTS:
        for visit in range(1, patient.n_visits + 1):
            wears = patient.wears(visit - 1)
            folder = FOLDER / patient.code / f"visit-{visit}"
            worn = tomllib.loads((folder / "conditions.toml").read_text(encoding="utf-8"))
            conditions = worn["conditions"]
            assert set(conditions) == set(wears) and wears[0] == WITHOUT
            assert len({conditions[wear]["footwear"] for wear in wears}) == 1
            assert sorted(conditions[wear]["order"] for wear in wears) == [
                number + 1 for number in range(len(wears))
            ]
            for wear in wears:
                assert len(list((folder / wear).glob("walk-*"))) == patient.n_walks[visit - 1] >= 3
                standing = conditions[wear].get("standing_trial")
                assert standing is None or (folder / standing).is_file()


def test_workbook_opens_in_another_reader_and_holds_the_curves():
    """A spreadsheet library reads header, timing and 101 rows; cycle times fit the truth."""
    child = PATIENTS[3]
    book = python_calamine.load_workbook(FOLDER / "P04/visit-1/with-brace/walk-1.xlsx")
    rows = book.get_sheet_by_index(0).to_python()
    walk = next(walks_of(child, 0, "with-brace"))
    first = walk.truth.of("left")[0]
    assert len(rows) == 3 + 101
    assert rows[1][1] == pytest.approx(first.end_s - first.start_s, abs=0.001)
    assert [rows[3][0], rows[-1][0]] == [0, 100]


def test_time_series_has_decimal_commas_and_event_marks():
    """Each event is marked once, within half a frame of the truth."""
    text = (FOLDER / "P03/visit-1/without-brace/walk-1.csv").read_text(encoding="utf-8")
    header, *lines = text.splitlines()
    names = header.split(";")
    table = np.array([[float(c.replace(",", ".")) for c in line.split(";")] for line in lines])
    truth = next(walks_of(PATIENTS[2], 0, "without-brace")).truth
    marked = table[table[:, names.index("left initial contact")] == 1, 0]
    true = [e.time_s for e in truth.events if (e.side, e.kind) == ("left", "initial_contact")]
    assert np.allclose(marked, true, atol=0.0051)


@pytest.mark.parametrize("code", ["P01", "P02", "P03"])
def test_effects_of_the_brace_have_the_intended_direction(code):
    """More swing dorsiflexion and clearance in P01–P03; P02's knee bends more in loading."""
    patient = next(patient for patient in PATIENTS if patient.code == code)
    side = "right" if code == "P02" else "left"
    means = {}
    for wear in WEARS:
        cycles = [c for walk in walks_of(patient, 0, wear) for c in walk.truth.of(side)]
        means[wear] = {
            name: np.nanmean([getattr(cycle, name) for cycle in cycles])
            for name in (
                "middle_swing_dorsiflexion_deg",
                "toe_clearance_m",
                "peak_loading_knee_flexion_deg",
            )
        }
    gain = {key: means["with-brace"][key] - value for key, value in means[WEARS[0]].items()}
    assert gain["middle_swing_dorsiflexion_deg"] > 4
    assert gain["toe_clearance_m"] > 0.001
    assert (gain["peak_loading_knee_flexion_deg"] > 8) == (code == "P02")
