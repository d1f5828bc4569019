"""A small drawing of each of the eight questions, as the page for the person draws them.

In comes a question, out comes SVG. The values are examples, so that each shows what is asked.
"""

from __future__ import annotations

from typing import Final

from markupsafe import Markup

from gaittrack.compare.walked.questions import QuestionCode
from gaittrack.report import leg_drawing
from gaittrack.report.person_pictures import Drawing, draw

_TOPICS: Final[dict[QuestionCode, tuple[str, str, float]]] = {
    "how_fast_it_comes_down": ("falling", "", 150.0),
    "how_it_is_lifted_in_swing": ("lift", "", 4.0),
    "how_the_toe_clears_the_floor": ("toe", "", 30.0),
    "how_far_the_leg_must_lift": ("thigh", "peak_hip_flexion_thigh_vertical_deg", 28.0),
    "whether_the_knee_holds": ("knee_straight", "", 24.0),
    "whether_the_ankle_keeps_its_freedom": ("push_off", "", 20.0),
    "how_the_person_walks": ("speed", "", 1.1),
}
"""What is drawn of each: its topic, the measure where that matters, an example."""
_CONTACT_PITCH_DEG: Final = 14.0


def question_picture(question: QuestionCode, label: str) -> Markup:
    """Return the drawing of a question, with what it shows in words."""
    if question not in _TOPICS:
        foot = leg_drawing.foot_over_floor(_CONTACT_PITCH_DEG, -_CONTACT_PITCH_DEG, 0.0, 0.9)
        leg = [leg_drawing.lower_leg(foot), leg_drawing.shoe(foot)]
        parts = [leg_drawing.floor(), *leg, leg_drawing.touch(foot.lowest())]
        return leg_drawing.svg(parts, label, "plain")
    topic, measure, value = _TOPICS[question]
    example = Drawing({}, (), "", "left", True, "", measure or topic, value, "")
    parts, _ = draw(topic, example)
    return leg_drawing.svg(parts, label, "plain")
