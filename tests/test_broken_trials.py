"""What the program says of each recording that is broken on purpose, in its own words."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from gaittrack.commands import main
from tests.broken_files import BROKEN

FOLDER = Path(__file__).parent.parent / "sample_trials" / "broken"
REFUSED = {
    "empty.c3d": "The file is empty",
    "text.c3d": "none of the kinds of file read here",
    "cut_in_parameters.c3d": "ends at byte 1124, inside its parameters",
    "cut_in_data.c3d": "cut short: 206 of 350 frames",
    "mips.c3d": "MIPS",
    "unclear_sheet.csv": r"Not sure how to read this sheet.*layout = \"\?\"",
    "no_feet.c3d": "landmarks of the foot .* are needed",
    "two_frames.c3d": "2 frames are too few",
}
NOTHING_MEASURED = {
    "half_missing.c3d": "No gait cycle was kept",
    "standing.c3d": "No gait cycle was found",
    "turning_only.c3d": "No gait cycle was kept.*turning",
}

WARNED = {
    "analog_rate_zero.c3d": "ANALOG:RATE",
    "no_heel.c3d": "No heel was seen",
    "duplicate_labels.c3d": r"more than once: left knee, right knee.*'left knee \(2\)'",
    "no_toe_off.xlsx": "12 of 12 curves have no cycle time.",
    "radians.csv": "Taken as radians",
    "metres_called_cm.c3d": "The coordinates are read as m",
    "long_gap.c3d": "gap longer than 0.1 s",
}
NOT_TRUSTED = {"wrong_rate.c3d": "too slow for its steps.*--rate"}


def measured(name):
    result = CliRunner().invoke(main, ["measure", str(FOLDER / name), "--json"])
    said = " ".join(result.stderr.split())
    return result.exit_code, said, json.loads(result.stdout or "[]")


def test_every_broken_file_is_spoken_of():
    """No broken sample without its words here."""
    assert {broken.name for broken in BROKEN} == {
        *REFUSED,
        *NOTHING_MEASURED,
        *WARNED,
        *NOT_TRUSTED,
    }


@pytest.mark.parametrize("name", REFUSED)
def test_unreadable_file_is_refused_with_its_fault(name):
    """Exit code 1, the reason on stderr, no measure."""
    code, said, found = measured(name)
    assert code == 1
    assert re.search(REFUSED[name], said)
    assert not [one for file in found for one in file.get("measures", [])]


@pytest.mark.parametrize("name", NOTHING_MEASURED)
def test_recording_without_a_whole_straight_cycle_gives_no_number(name):
    """A person who stands, turns or is half hidden: said, and nothing measured."""
    code, said, [file] = measured(name)
    assert code == 0
    assert re.search(NOTHING_MEASURED[name], said)
    assert not [one for one in file["measures"] if one["value"] is not None]


@pytest.mark.parametrize("name", NOT_TRUSTED)
def test_file_that_is_known_to_be_wrong_gives_reasons_for_numbers(name):
    """Not one number of it is printed; each says what is wrong."""
    code, said, [file] = measured(name)
    assert code == 0
    assert re.search(NOT_TRUSTED[name], said + json.dumps(file))
    assert not [one for one in file["measures"] if one["value"] is not None]
    assert "not_trusted" in {one["reason"]["code"] for one in file["measures"]}
    assert not [one for one in file["cycles"] if one["speed_m_s"] is not None]


@pytest.mark.parametrize("name", WARNED)
def test_doubtful_file_is_measured_with_a_warning(name):
    """What can be measured is; what was taken for granted is said."""
    code, said, [file] = measured(name)
    assert code == 0
    assert re.search(WARNED[name], said + json.dumps(file))
    assert [one for one in file["measures"] if one["value"] is not None]


def test_gap_rejects_the_cycle_it_touches_and_no_other():
    """The left foot is lost for 0.7 s: one left cycle goes, with the gap as its reason."""
    cycles = measured("long_gap.c3d")[2][0]["cycles"]
    hidden = {c["id"]: c["reject_reasons"] for c in cycles if "gap" in str(c["reject_reasons"])}
    assert list(hidden) == ["left-01"]
    said = [reason["words"] for reason in hidden["left-01"]]
    assert "gap longer than 0.1 s: heel, forefoot, toe point" in said
