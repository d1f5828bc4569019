"""The words of the trade, each defined once.

Closed lists only: whatever is named in a file, a table or on a screen is one of these. Angles are
in degrees, positive for dorsiflexion, knee flexion, hip flexion, foot pointing up, segment leaning
forward and pelvis up. Lab axes inside the package are forward, left, up in metres.
"""

from __future__ import annotations

from typing import Final, Literal, get_args

CODE_LENGTH: Final = 200
"""Longest code of a person, visit, condition or trial."""

Side = Literal["left", "right"]
SIDES: Final[tuple[Side, ...]] = get_args(Side)
"""Anatomical sides."""

EventKind = Literal["initial_contact", "toe_off"]
EVENT_KINDS: Final[tuple[EventKind, ...]] = get_args(EventKind)
"""First instant any part of the foot touches the floor; last instant any part of it does."""

EventSource = Literal["corrected", "force", "file", "markers"]
EVENT_SOURCES: Final[tuple[EventSource, ...]] = get_args(EventSource)
"""Where an event comes from, in order of trust: a person, a clean plate hit, marks in the file
(or an events table given with it), marker movement."""

ContactType = Literal["heel", "flat", "forefoot", "uncertain", "unknown"]
CONTACT_TYPES: Final[tuple[ContactType, ...]] = get_args(ContactType)
"""Part of the foot that touches first. ``uncertain``: two signs of it contradict each other;
``unknown``: no foot markers to tell it from."""

Joint = Literal[
    "ankle",
    "knee",
    "hip_pelvis_thigh",
    "hip_thigh_vertical",
    "foot_pitch",
    "shank_lean",
    "pelvic_tilt",
    "pelvic_obliquity",
]
JOINTS: Final[tuple[Joint, ...]] = get_args(Joint)

JOINT_MEANING: Final[dict[Joint, str]] = {
    "ankle": "shank lean plus foot pitch; 0 with a vertical shank on a flat foot; dorsiflexion +",
    "knee": "thigh against shank in the sagittal plane; 0 straight; flexion +",
    "hip_pelvis_thigh": "thigh against the pelvis in the sagittal plane; flexion +",
    "hip_thigh_vertical": "thigh against the vertical in the sagittal plane; flexion +",
    "foot_pitch": "heel-to-forefoot line against the floor; 0 at foot-flat; forefoot up +",
    "shank_lean": "ankle-to-knee line against the vertical; knee ahead of the ankle +",
    "pelvic_tilt": "back-to-front pelvis line against the floor; front down +",
    "pelvic_obliquity": "line between the sides of the pelvis against the floor; own side up +",
}

SIDED_LANDMARKS: Final[dict[str, str]] = {
    "asis": "anterior superior iliac spine",
    "psis": "posterior superior iliac spine",
    "hip": "greater trochanter, femoral head or hip joint centre",
    "knee": "lateral femoral epicondyle or knee joint centre",
    "knee_medial": "medial femoral epicondyle",
    "fibula_head": "head of the fibula",
    "tibial_tuberosity": "tuberosity of the tibia",
    "ankle": "lateral malleolus or ankle joint centre",
    "ankle_medial": "medial malleolus",
    "heel": "back of the calcaneus",
    "metatarsal_1": "head of the first metatarsal",
    "metatarsal_2": "head of the second or third metatarsal",
    "metatarsal_5": "head of the fifth metatarsal",
    "toe": "toe, or the toe end of the shoe",
}
MIDLINE_LANDMARKS: Final[dict[str, str]] = {
    "sacrum": "sacrum, midway between the posterior iliac spines",
}
LANDMARKS: Final[dict[str, str]] = {
    **{
        f"{side}_{name}": f"{side} {text}"
        for side in SIDES
        for name, text in SIDED_LANDMARKS.items()
    },
    **MIDLINE_LANDMARKS,
}
"""Every landmark key, as used in map files (``left_heel``), with its anatomical meaning."""


def opposite(side: Side) -> Side:
    """Return the other side."""
    return "right" if side == "left" else "left"
