"""Of every problem it is decided what it spoils, or why it spoils nothing."""

import re
import tomllib
from pathlib import Path

import pytest

WORDS = Path(__file__).parents[2] / "gaittrack" / "words" / "en"
ROOMS = ("read", "kinematics", "events", "plausibility")

SPOILS = {
    # Code: what, as its Problem says in the code.
    "implausible": "the file's angle of that side",
    "lone_samples": "the file's angle of that side; of a marker it is smoothed away",
    "lone_points": "the file's angle of that side",
    "bytes_lost_or_added": "everything",
    "on_looking": "the file's angle of that side, unless a map tells its sign",
    "rates_differ": "all that has a time in it, until the rate is told",
    "foot_turned_round": "heel, forefoot and toe of that foot",
    "stretched_shank": "knee and ankle of that leg",
    "knee_flexes_otherwise": "nothing: beside hip, knee and ankle of that leg a doubt stands",
    "filled_before": "nothing: beside numbers of those strides a doubt stands",
    "distance_off": "that marker in those frames; beside a small deviation a doubt stands",
    "distance_creeps": "that marker; beside a small change a doubt stands",
    "marker_late": "that marker; beside a small delay a doubt stands",
    "stands_otherwise": "that marker; beside a small difference a doubt stands",
    "pelvis_tilt_changes": "the pelvis; beside a small change a doubt stands",
    "pelvis_obliquity_changes": "the pelvis; beside a small change a doubt stands",
    "sides_crossed": "all that is called of a side, and what lies across the way",
    "walks_in_standing": "the zero of both feet",
    "other_zero": "the zero of that foot",
    "cadence_of_no_walk": "lengths and times",
    "speed_of_no_walk": "lengths and times",
    "too_slow_for_steps": "lengths and times",
    "scales_differ": "lengths",
    "tilt_or_ramp": "what is told against the vertical",
    "floor_rises_across": "the pelvis against the vertical, past a slip of the calibration",
    "moves_in_standing": "the zero of both feet",
    "standing_of_another": "the zero of both feet",
    "segments_of_nobody": "lengths",
    "no_front": "contacts of that foot that come from markers",
    "contacts_unsure": "those contacts",
    "stretched": "everything; beside a slight stretch a doubt stands",
    "strides_rise": "heights, and what is told against the vertical",
    "angle_of_other_side": "the file's angle of both sides",
    "angles_out_of_step": "everything",
    "marks_of_no_walk": "everything",
    "marks_beside_steps": "everything",
}
ABSENT = "what it is about is not used, so there is no number of it"
MENDED = "it was put right, and there is one way to put it right"
CHOSEN = "the more trusted of two is used"
SURE = "taken as the format or the trade has it; told so that a person can say otherwise"
NO_BODY = "no number of the body comes from it"
SPOILS_NOTHING = {
    ABSENT: (
        *(
            "curves_without_cycle_time",
            "curves_without_toe_off",
            "same_angle_twice",
            "zero_samples",
        ),
        *("zeros_with_jump", "impossible_samples", "model_outputs", "angle_not_sure"),
        *("marks_of_nothing", "marks_outside", "points_for_one_angle", "still_points"),
        *("row_spells_no_angle", "fact_is_no_number", "no_such_cycle_time", "toe_off_not_clear"),
        *("toe_off_without_unit", "columns_left_out", "zeros_as_gaps", "samples_far_away"),
        "rows_of_other_length",
        *("events_without_side", "events_no_list", "events_fit_several", "events_fit_none"),
        *("event_names_nothing", "events_other_decimal_sign", "last_number_jumps"),
        *("cut_in_a_number", "columns_of_a_side"),
        *("frames_left_out", "columns_of_other_things", "columns_of_unclear_plane"),
        *("row_count_wrong", "other_tables"),
        *("columns_of_spread", "more_sheets", "plate_left_out", "plate_never_loaded"),
        "plates_not_counted",
        *("no_neutral", "markers_jump", "loose_marker", "landmark_left_out", "marker_never_seen"),
        *(
            "no_events",
            "no_events_with_angles",
            "not_a_clean_hit",
            "marks_shifted",
            "few_marks_fit",
            "events_of_other_foot",
        ),
        *("no_cycle_found", "no_cycle_kept", "event_counts_differ", "marker_jumps", "strides_lost"),
        *("events_outside", "events_given_with_curves", "strides_out_of_order"),
        *("labels_of_map_missing", "header_events_too_many"),
    ),
    MENDED: (
        *("radians_by_size", "knee_turned", "ankle_right_angle", "angles_in_radians"),
        *("angle_turned", "right_angle_taken_off", "plate_origin_turned", "moments_scaled"),
        *("unit_by_body_size", "unit_overruled", "no_unit_of_length", "force_turned"),
        *("floor_is_tilted", "counts_disagree", "rate_of_header", "marks_repeated"),
        *("event_times_from_first_frame", "all_marked_missing", "labels_numbered"),
    ),
    CHOSEN: (
        *("file_angle_is_another", "file_angle_is_used", "rival_labels", "labels_repeated"),
        *("events_far_apart", "told_rate_differs", "rate_as_told"),
        *("map_used", "no_map_fits", "map_fits_too_little", "parameters_repeated"),
    ),
    SURE: (
        *("percent_by_rows", "time_as_parts", "file_angles_taken", "cycles_not_numbered"),
        *("plain_hip", "plain_thigh", "plain_shank", "plain_foot", "several_joints"),
        *("plain_pelvic_tilt", "plain_pelvis", "letter_of_no_plane", "side_not_named"),
        *("event_times_odd", "event_times_unclear"),
    ),
    "held by studies of version 4 and older, whose results are measured again": (
        *("floor_rises", "ramp"),
    ),
    NO_BODY: (*("analog_does_not_fit", "plate_without_calibration", "plate_calibration_unused"),),
    "one person's points keep their distances: those of another are found by that": (
        "several_subjects",
    ),
    "contacts are of another end of the foot in both conditions, or are measured again so": (
        *("no_heel", "no_body"),
    ),
    "they err as contacts may: tests/golden/event_survey.csv": ("contacts_by_height",),
}


def codes_of_problems(room):
    """Return the codes that have an action beside what was found: those of problems."""
    table = tomllib.loads((WORDS / f"{room}.toml").read_text(encoding="utf-8"))
    return {code for code, found in table.items() if isinstance(found, dict) and "action" in found}


@pytest.mark.parametrize("room", ROOMS)
def test_of_every_problem_it_is_decided_what_it_spoils(room):
    """A new problem needs its line here, and its ``spoils`` in the code or a reason for none."""
    harmless = {code for codes in SPOILS_NOTHING.values() for code in codes}
    assert not harmless & SPOILS.keys()
    undecided = codes_of_problems(room) - harmless - SPOILS.keys()
    assert not undecided, f"what do these spoil? {sorted(undecided)}"


def test_nothing_is_decided_of_a_problem_that_is_gone():
    """The list is that of the words."""
    known = {code for room in ROOMS for code in codes_of_problems(room)}
    decided = {code for codes in SPOILS_NOTHING.values() for code in codes} | SPOILS.keys()
    assert decided <= known, sorted(decided - known)


WAYS = re.compile(r"gaittrack correct|map file|--\w+|[Gg]ive|export|[Ll]eave|[Cc]orrect|calibrate")


@pytest.mark.parametrize("code", SPOILS)
def test_what_is_not_trusted_names_a_way_on(code):
    """Whoever reads only the message knows what to do: correct, map, give, export, leave out."""
    tables = [tomllib.loads((WORDS / f"{room}.toml").read_text(encoding="utf-8")) for room in ROOMS]
    (action,) = (table[code]["action"] for table in tables if code in table)
    assert WAYS.search(action), action
