"""What a recording is known to be wrong about never becomes a number, a verdict or a sentence."""

import json
from pathlib import Path

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks, comparison_dict
from gaittrack.compare.intervals.verdict import LARGER, NOT_COMPARABLE, NOT_TRUSTED
from gaittrack.compare.judged.watch import LIMIT_SIGNS
from gaittrack.compare_files import compare_files
from gaittrack.corrected import ExcludeStride, MapLandmark, SwapSides
from gaittrack.measures.recording import NOT_TRUSTED as NO_TRUST
from gaittrack.pipeline import InputFile, MeasureOptions, Recording, measure_file, measure_recording
from gaittrack.read import read_trial
from gaittrack.report.comparison_page import comparison_page
from gaittrack.report.language import language
from gaittrack.report.patient import person_page
from gaittrack.report.person_words import Called
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.walk_records import walk_records

SAMPLES = Path(__file__).parents[1] / "sample_trials"
VISIT = SAMPLES / "P01" / "visit-1"
N_WALKS = 3
SWING, MID_SWING = "peak_swing_dorsiflexion_deg", "mid_swing_dorsiflexion_deg"
CLEARANCE, UNDER_HIP = "minimum_toe_clearance_mm", "toe_height_under_hip_mm"
HIP, THIGH = "peak_hip_flexion_pelvis_thigh_deg", "peak_hip_flexion_thigh_vertical_deg"
KNEE, SPEED = "loading_knee_flexion_peak_deg", "walking_speed_m_s"


def written(folder, condition, change):
    """Write the first walks of a condition, their markers changed; return the files."""
    files = []
    for path in sorted((VISIT / condition).glob("walk-*.c3d"))[:N_WALKS]:
        trial = read_trial(path)
        markers = change({label: xyz.copy() for label, xyz in trial.markers.items()})
        files.append(folder / f"{condition}-{path.name}")
        write_c3d(files[-1], rate_hz=trial.rate_hz, markers=markers)
    return files


def as_recorded(markers):
    return markers


def without_toes(markers):
    return {label: xyz for label, xyz in markers.items() if not label.endswith("toe")}


def with_sacrum(markers):
    middle = (markers["left psis"] + markers["right psis"]) / 2
    return markers | {"sacrum": middle + np.array([0.0, 0.0, 0.04])}


def pelvis_of_front_and_sacrum(markers):
    return {label: xyz for label, xyz in with_sacrum(markers).items() if "psis" not in label}


def pelvis_of_front(markers):
    return {label: xyz for label, xyz in markers.items() if "psis" not in label}


def exchanged_sides(markers):
    other = {"left": "right", "right": "left"}
    return {
        " ".join(other.get(word, word) for word in label.split()): xyz
        for label, xyz in markers.items()
    }


def left_foot_back_to_front(markers):
    return (
        markers
        | {"left heel": markers["left toe"], "left toe": markers["left heel"]}
        | {"left metatarsal 5": markers["left heel"] - np.array([0.0, 0.0, 0.01])}
    )


def heel_and_toe_exchanged_half_way(markers):
    half = len(markers["left heel"]) // 2
    heel, toe = markers["left heel"].copy(), markers["left toe"].copy()
    markers["left heel"][half:], markers["left toe"][half:] = toe[half:], heel[half:]
    return markers


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    """Compare walks without the brace as recorded with walks in the brace that were changed."""
    made = {}

    def compare(own, reference=as_recorded, standing=None):
        key = own, reference, standing
        if key not in made:
            folder = tmp_path_factory.mktemp("changed")
            files = {
                "bare": written(folder, "without-brace", reference),
                "brace": written(folder, "with-brace", own),
            }
            given = {"brace": standing} if standing else None
            made[key] = compare_files(files, reference="bare", affected="left", standing=given)
        return made[key]

    return compare


def row_of(found, measure, side="left"):
    return next(r for r in found.comparison.rows if (r.measure, r.side) == (measure, side))


def person_text(found):
    called = Called("brace", "without the brace", "with the brace")
    return repr(person_page(found.comparison, found.records, called, language("en")))


def assert_nothing_is_made_of(found, measure, why, side="left"):
    """No number, verdict or sign; the reason stands in the table, the JSON and the page."""
    row = row_of(found, measure, side)
    assert row.verdict == NOT_TRUSTED
    assert np.isnan([row.value, row.difference, row.low, row.high]).all()
    assert (row.n_strides, row.n_not_trusted > 0) == (0, True)
    assert row.verdict_reason["condition"] == "brace"
    assert row.verdict_reason["reason"].code == why
    assert row.matched is None or np.isnan(row.matched.difference)
    plain = next(
        each
        for each in comparison_dict(found.comparison)["rows"]
        if (each["measure"], each["side"]) == (measure, side)
    )
    assert (plain["value"], plain["verdict"]) == (None, NOT_TRUSTED)
    assert str(row.verdict_reason["reason"]) in plain["words"]
    assert str(row.verdict_reason["reason"]) in comparison_page(found).replace("&#x27;", "'")
    json.dumps(plain)


def test_a_toe_marker_absent_in_one_condition_puts_both_on_the_forefoot(compared):
    """As if nobody had had a toe marker; without that, clearance would rise by a shoe's height."""
    found, forefoot = compared(without_toes), compared(without_toes, without_toes)
    for measure in (CLEARANCE, UNDER_HIP):
        row, expected = row_of(found, measure), row_of(forefoot, measure)
        assert row.value == pytest.approx(expected.value, abs=1e-6)
        assert row.reference_value == pytest.approx(expected.reference_value, abs=1e-6)
        assert row.verdict == expected.verdict != LARGER
        (label,) = (label for label in row.labels if label.code == "measured_again")
        assert "toe point from left metatarsal 5" in str(label)
        assert str(label) in comparison_page(found)
    assert "measured_again" not in {label.code for label in row_of(found, HIP).labels}


def test_a_sacrum_absent_in_one_condition_leaves_both_the_pelvis_that_both_have(compared):
    """The hip's change is that of recordings that never had it."""
    found, plain = compared(as_recorded, with_sacrum), compared(as_recorded)
    row, expected = row_of(found, HIP), row_of(plain, HIP)
    assert row.difference == pytest.approx(expected.difference, abs=0.01)
    assert "measured_again" in {label.code for label in row.labels}
    assert "measured_again" not in {label.code for label in expected.labels}


def test_where_no_points_serve_both_nothing_is_compared(compared):
    """A pelvis without a back has no tilt: no hip of it beside one that has."""
    found = compared(pelvis_of_front, pelvis_of_front_and_sacrum)
    row = row_of(found, HIP)
    assert row.verdict not in (LARGER, "within")
    assert np.isnan([row.difference, row.low, row.high]).all()
    hike = row_of(found, "peak_pelvic_hike_deg")
    assert "measured_again" in {label.code for label in hike.labels}


def test_exchanged_sides_give_no_number_of_a_side(compared):
    """Neither to the laboratory nor to the person; no sign is cleared or fires of them."""
    found = compared(exchanged_sides)
    for measure in (HIP, SWING, CLEARANCE, KNEE, "step_length_m", "stance_percent"):
        for side in ("left", "right"):
            assert_nothing_is_made_of(found, measure, "sides_crossed", side)
    assert {item.status for item in found.comparison.watch} == {"not_assessed"}
    text = person_text(found)
    assert "something went wrong in the recording" in text
    assert "PagePoint(" not in text


def test_a_standing_trial_of_another_moment_spoils_ankle_foot_and_clearance(compared, tmp_path):
    """What has the foot's zero in it is lost, knee and hip are not."""
    still = read_trial(VISIT / "standing" / "with-brace.c3d")
    up = np.array([0.0, 0.0, 0.08])
    lifted = {label: xyz + up * label.endswith("heel") for label, xyz in still.markers.items()}
    write_c3d(tmp_path / "other.c3d", rate_hz=still.rate_hz, markers=lifted)
    found = compared(as_recorded, standing=tmp_path / "other.c3d")
    for measure in (SWING, MID_SWING, "foot_pitch_at_contact_deg", CLEARANCE):
        assert_nothing_is_made_of(found, measure, "other_zero")
    for measure in (HIP, THIGH, KNEE):
        assert np.isfinite(row_of(found, measure).difference)
    signs = {item.sign: item for item in found.comparison.watch if item.side == "left"}
    lost = signs["lost_push_off_range"]
    assert (lost.status, lost.reason.code) == ("not_assessed", NO_TRUST)
    assert signs[LIMIT_SIGNS[0].code].status != "not_assessed"


def test_the_right_standing_trial_frees_the_values(compared):
    """Given in place of the other, all is trusted again, on one zero for both."""
    found = compared(as_recorded, standing=VISIT / "standing" / "with-brace.c3d")
    row = row_of(found, SWING)
    assert row.n_not_trusted == 0
    (label,) = (label for label in row.labels if label.code == "measured_again")
    assert "foot's zero from foot-flat" in str(label)
    assert row.difference == pytest.approx(row_of(compared(as_recorded), SWING).difference)


def test_a_foot_named_back_to_front_gives_nothing_of_that_foot(compared):
    """The other foot keeps its numbers."""
    found = compared(left_foot_back_to_front)
    row = row_of(found, CLEARANCE)
    assert row.verdict != LARGER
    assert np.isnan(row.difference)
    assert np.isfinite(row_of(found, CLEARANCE, "right").difference)


def test_names_exchanged_half_way_make_no_verdict(compared):
    """Heel and toe change names in the middle of each walk."""
    found = compared(heel_and_toe_exchanged_half_way)
    for measure in (SWING, MID_SWING, CLEARANCE):
        assert row_of(found, measure).verdict not in (LARGER, "within")
    assert "PagePoint(topic='lift'" not in person_text(found)


def values_of(path, **given):
    result = measure_recording(Recording(InputFile(path), **given))
    return {
        (row.measure, row.side, row.cycle): row.reason.code if row.reason else row.value
        for row in result.rows
    }


def test_sides_that_a_person_exchanges_back_are_trusted(tmp_path):
    """What the recording with the right names gives, rounding apart."""
    (right,) = written(tmp_path, "with-brace", as_recorded)[:1]
    plain = values_of(right)
    (wrong,) = written(tmp_path, "with-brace", exchanged_sides)[:1]
    assert NO_TRUST in values_of(wrong).values()
    corrected = values_of(wrong, corrections=(SwapSides(),))
    assert corrected.keys() == plain.keys()
    for key, value in corrected.items():
        if isinstance(value, float):
            assert value == pytest.approx(plain[key], rel=1e-9, abs=1e-9), key
        else:
            assert value == plain[key], key


def test_a_foot_that_a_person_names_anew_is_trusted(tmp_path):
    """Once heel and toe are mapped as they are, its numbers are there."""

    def exchanged(markers):
        swapped = {"left heel": markers["left toe"], "left toe": markers["left heel"]}
        kept = {k: v for k, v in markers.items() if "metatarsal" not in k}
        return kept | swapped

    (path,) = written(tmp_path, "with-brace", exchanged)[:1]
    names = (("left_heel", "left toe"), ("left_toe", "left heel"))
    mapped = tuple(MapLandmark(*name) for name in names)
    before, after = values_of(path), values_of(path, corrections=mapped)
    feet = [key for key in after if key[:2] == (SWING, "left")]
    assert feet
    assert all(isinstance(after[key], float) for key in feet)
    assert not [key for key in before if key[:2] == (SWING, "left") and before[key] != NO_TRUST]


def left_foot_that_hangs_once(markers):
    """Let the left foot of a walk of three strides stop 8 mm high and fall before it stands."""
    landing, down, stands, n_frames = 315, 336, slice(350, 360), 460
    for label in ("left heel", "left toe", "left metatarsal 5"):
        height = markers[label][:, 2]
        level = np.median(height[stands])
        height[landing:down] = np.maximum(height[landing:down], level + 0.008)
    return {label: xyz[:n_frames] for label, xyz in markers.items()}


def swing_change(own, reference):
    """Compare one walk with one; return the row of the left ankle in swing."""
    records = [*walk_records(own, "brace"), *walk_records(reference, "bare")]
    rows = compare_walks(records, reference="bare").rows
    return next(row for row in rows if (row.measure, row.side) == (SWING, "left"))


def test_a_walk_is_trusted_once_its_spoiled_strides_are_excluded(tmp_path):
    """Most strides rest on an unsure contact; without those the walk is what the others say."""
    (path,) = written(tmp_path, "with-brace", left_foot_that_hangs_once)[:1]
    reference = measure_file(written(tmp_path, "without-brace", as_recorded)[0])
    before = measure_file(path)
    own = [row for row in before.rows if (row.measure, row.side) == (SWING, "left")]
    spoiled = {row.cycle for row in own if row.reason is not None}
    (sound,) = [row.value for row in own if row.reason is None]
    assert len(spoiled) == 2
    lost = swing_change(before, reference)
    assert (lost.verdict, lost.verdict_reason["reason"].code) == (NOT_TRUSTED, "contacts_unsure")
    assert np.isnan([lost.value, lost.difference]).all()
    excluded = tuple(
        ExcludeStride("left", cycle.start_s, reason="it hung")
        for cycle in before.cycles
        if cycle.id in spoiled
    )
    after = measure_recording(Recording(InputFile(path), corrections=excluded))
    freed = swing_change(after, reference)
    assert (freed.n_strides, freed.n_not_trusted) == (1, 0)
    assert freed.value == sound
    assert freed.difference == pytest.approx(sound - freed.reference_value)
    assert freed.verdict not in (NOT_TRUSTED, NOT_COMPARABLE, "not_defined")


OTHER_SIDES = "walk_from_standing_150hz"
"""A recorded walk, and the table of its plates, in which left and right are exchanged."""


def shipped_walks():
    for path in sorted(SAMPLES.rglob("walk-*")):
        if "broken" in path.parts:
            continue
        still = path.parent.parent / "standing" / f"{path.parent.name}.c3d"
        yield path, still if path.suffix == ".c3d" and still.exists() else None


def test_good_recordings_keep_their_numbers():
    """At least 99 % of what is defined in the shipped and the recorded walks is trusted."""
    n_told = n_lost = 0
    recorded = Path(__file__).parent / "reference"
    walks = sorted(set(recorded.glob("walk_*")) - set(recorded.glob(f"{OTHER_SIDES}*")))
    files = [*shipped_walks(), *((path, None) for path in walks)]
    for path, standing in files[::3]:
        result = measure_file(path, MeasureOptions(standing=standing))
        for row in result.rows:
            n_told += row.reason is None
            n_lost += row.reason is not None and row.reason.code == NO_TRUST
    assert n_told > 5000
    assert n_lost <= 0.01 * (n_told + n_lost)
