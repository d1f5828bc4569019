"""The eight questions that every comparison answers, each by a fixed ladder of measures.

Nothing comes in, out goes the visible list. The first measure of a ladder that is defined and
comparable in both conditions stands for its question, so that nobody picks what looks well. The
questions are one family: a change in them is called larger than measurement error only by weighted
Holm over all of them, on both legs (``family.py``). Every other row is judged by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.record.aims import Aims

QuestionCode = Literal[
    "how_the_foot_meets_the_floor",
    "how_fast_it_comes_down",
    "how_it_is_lifted_in_swing",
    "how_the_toe_clears_the_floor",
    "how_far_the_leg_must_lift",
    "whether_the_knee_holds",
    "whether_the_ankle_keeps_its_freedom",
    "how_the_person_walks",
]
QUESTION_CODES: Final[tuple[QuestionCode, ...]] = get_args(QuestionCode)


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes
    ----------
    code : QuestionCode
        Key of its words; also the name of an aim.
    marks : tuple of tuple of str
        A ladder of measures for each of its marks; several marks share the question's part of the
        error.
    beside : tuple of str
        Measures that stand beside it and are judged with the rows outside of the questions.
    is_of_both_legs : bool
        Whether its values are the same for both legs: it then counts once.
    """

    code: QuestionCode
    marks: tuple[tuple[str, ...], ...]
    beside: tuple[str, ...] = ()
    is_of_both_legs: bool = False


QUESTIONS: Final = (
    Question(
        "how_the_foot_meets_the_floor",
        (("foot_pitch_at_contact_deg", "dorsiflexion_at_contact_deg"),),
        ("heel_contact_share_percent",),
    ),
    Question(
        "how_fast_it_comes_down",
        (("loading_response_plantarflexion_rate_deg_s",), ("foot_to_floor_rate_deg_s",)),
        ("foot_lowering_time_ms", "foot_lowering_angle_deg"),
    ),
    Question(
        "how_it_is_lifted_in_swing",
        (("mid_swing_dorsiflexion_deg",),),
        ("peak_swing_dorsiflexion_deg",),
    ),
    Question(
        "how_the_toe_clears_the_floor",
        (("minimum_toe_clearance_mm", "toe_height_under_hip_mm"),),
    ),
    Question(
        "how_far_the_leg_must_lift",
        (("peak_hip_flexion_pelvis_thigh_deg", "peak_hip_flexion_thigh_vertical_deg"),),
        ("peak_pelvic_hike_deg", "circumduction_mm"),
    ),
    Question(
        "whether_the_knee_holds",
        (("knee_yield_in_loading_deg",), ("stance_knee_flexion_minimum_deg",)),
    ),
    Question(
        "whether_the_ankle_keeps_its_freedom",
        (("push_off_range_deg",),),
        ("peak_stance_dorsiflexion_deg",),
    ),
    Question(
        "how_the_person_walks",
        (("walking_speed_m_s",),),
        ("stride_length_m", "step_time_asymmetry_percent", "step_length_asymmetry_percent"),
        is_of_both_legs=True,
    ),
)
QUESTION_MEASURES: Final = frozenset(
    measure
    for question in QUESTIONS
    for ladder in question.marks
    for measure in ladder
    if measure in MEASURE_BY_NAME
)
"""All that a comparison has to know for the same verdicts everywhere."""


def aimed_questions(aims: Aims) -> list[QuestionCode]:
    """Return the questions that are aims; one in own words only is none."""
    said = [facts.get("aim_question") for facts in aims.values()]
    return [code for code in QUESTION_CODES if code.replace("_", " ") in said]
