"""Tell a C3D file's points apart by their labels.

In come the labels as stored; out go clean, unique names without any person's, and which points are
markers, which are joint angles and which are other outputs of a model. A label is read by what it
spells (side, joint, quantity), never by a table of codes.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from gaittrack.errors import Problem
from gaittrack.read.c3d_files.c3d_records import ParameterSet
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Joint, Side

OUTPUT_LISTS = ("FORCES", "MOMENTS", "POWERS", "SCALARS", "REACTIONS")
"""Lists under POINT that some writers keep of points that are no positions; hints only."""
QUANTITIES = {
    "angle": "angle",
    "force": "force",
    "moment": "moment",
    "torque": "moment",
    "power": "power",
    "velocity": "velocity",
    "acceleration": "acceleration",
}
SHAPES = ("rectangle", "triangle")
"""Words that end like a quantity and are none."""
JOINT_WORDS: dict[str, Joint] = {
    "ankle": "ankle",
    "knee": "knee",
    "hip": "hip_pelvis_thigh",
    "pelvis": "pelvic_tilt",
    "pelvic": "pelvic_tilt",
}
SIDE_WORDS: dict[str, Side] = {"left": "left", "l": "left", "right": "right", "r": "right"}
_SAGITTAL = re.compile(
    r"(?:left|right|joint|angles?|flexion|flex|extension|ext|dorsiflexion|plantarflexion|dorsi"
    r"|plantar|sagittal|tilt|degrees|degree|deg|ankle|knee|hip|pelvis|pelvic|[lrx])*"
)
"""What the label of a sagittal joint angle may be made of. Other words may mean another plane
(varus, rotation) or another reference (absolute)."""
_PIECES = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
_UNNAMED = re.compile(r"[\s*#\d_.?-]*|(?:uname|unnamed|unlabell?ed)\W*\d*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PointNames:
    """What each point is called and what it is.

    Attributes
    ----------
    markers : dict of int to str
        Index of the point to its unique label.
    others : tuple of str
        Labels of outputs that are not used.
    """

    markers: dict[int, str]
    angles: dict[int, tuple[Side, Joint]]
    others: tuple[str, ...]
    problems: tuple[Problem, ...]


def name_points(parameters: ParameterSet, n_points: int) -> PointNames:
    """Name and sort the points of a file.

    Parameters
    ----------
    n_points : int
        Points in each frame, however many labels there are.
    """
    stored = parameters.texts("POINT", "LABELS")[:n_points]
    prefixes = {text.split(":", 1)[0].strip() for text in stored if ":" in text}
    people = personal_texts(parameters)
    bare = [_without_person(text, people) for text in stored]
    bare += [""] * (n_points - len(bare))
    hinted = _hinted(parameters, people)
    markers: dict[int, str] = {}
    angles: dict[int, tuple[Side, Joint]] = {}
    others: list[str] = []
    for index, label in enumerate(bare):
        kind = hinted.get(label) or quantity_of(label)
        joint = joint_angle_of(label) if kind == "angle" else None
        if joint is not None:
            angles[index] = joint
        elif kind:
            others.append(label)
        else:
            markers[index] = label
    unique, problems = _unique(markers)
    problems += _leave_out_rivals(angles, others, bare)
    if len(prefixes) > 1:
        problems.append(
            Problem("warning", Reason("several_subjects", n=len(prefixes)), "POINT:LABELS")
        )
    return PointNames(unique, angles, tuple(others), tuple(problems))


def _leave_out_rivals(
    angles: dict[int, tuple[Side, Joint]], others: list[str], labels: Sequence[str]
) -> list[Problem]:
    """Move angles that several points claim to the others: which one is meant cannot be known."""
    problems = []
    counts = Counter(angles.values())
    for (side, joint), count in counts.items():
        if count == 1:
            continue
        rivals = [index for index, key in angles.items() if key == (side, joint)]
        names = [labels[index] for index in rivals]
        others.extend(names)
        for index in rivals:
            del angles[index]
        problems.append(
            Problem(
                "warning",
                Reason("points_for_one_angle", n=count, names=tuple(names)),
                f"{side} {joint.replace('_', ' ')}",
            )
        )
    return problems


def pieces_of(label: str) -> list[str]:
    """Return the words a label is made of, in lower case: ``LAnkleAngles`` → l, ankle, angles."""
    return [piece.lower() for piece in _PIECES.findall(label)]


def side_of(pieces: Sequence[str]) -> Side | None:
    """Return the side that words or letters name."""
    for piece in pieces:
        if piece in SIDE_WORDS:
            return SIDE_WORDS[piece]
        if piece[1:] in JOINT_WORDS and piece[0] in SIDE_WORDS:
            return SIDE_WORDS[piece[0]]
    joined = "".join(pieces)
    for word in ("left", "right"):
        if joined.startswith(word):
            return SIDE_WORDS[word]
    return SIDE_WORDS.get(joined[:1]) if len(pieces) == 1 else None


def quantity_of(label: str) -> str:
    """Return the quantity a label spells (``angle``, ``force`` …), or "" for a place."""
    for piece in pieces_of(label):
        for word, quantity in QUANTITIES.items():
            if piece.removesuffix("s").endswith(word) and not piece.startswith(SHAPES):
                return quantity
    return ""


def joint_angle_of(label: str) -> tuple[Side, Joint] | None:
    """Return side and joint of an angle's label, or None when it spells no used joint."""
    pieces = pieces_of(label)
    joined = "".join(pieces)
    found = [joint for word, joint in JOINT_WORDS.items() if word in joined]
    side = side_of(pieces)
    is_rate = any(word in joined for word in ("velocity", "accel", "progress"))
    if side is None or len(set(found)) != 1 or is_rate or not _SAGITTAL.fullmatch(joined):
        return None
    return side, found[0]


def personal_texts(parameters: ParameterSet) -> list[str]:
    """Return texts that may hold a person's name, longest first."""
    names: set[str] = set()
    for group in ("SUBJECTS", "SUBJECT"):
        for name in ("NAMES", "NAME", "LABEL_PREFIXES"):
            names |= set(parameters.texts(group, name))
    names |= set(parameters.texts("EVENT", "SUBJECTS"))
    return sorted((name for name in names if len(name) > 1), key=len, reverse=True)


def _without_person(label: str, people: Sequence[str]) -> str:
    """Return a label without its subject: what stands before a colon, or a known prefix."""
    bare = label.rsplit(":", 1)[-1].strip()
    for name in people:
        if len(name) > 2 and bare.lower().startswith(name.lower()) and len(bare) > len(name):
            return bare[len(name) :].strip(" _-.")
    return bare


def _hinted(parameters: ParameterSet, people: Sequence[str]) -> dict[str, str]:
    """Return label → quantity from the lists that some writers keep under POINT."""
    lists = {"ANGLES": "angle", **{name: name.lower() for name in OUTPUT_LISTS}}
    return {
        _without_person(text, people): quantity
        for name, quantity in lists.items()
        for text in parameters.texts("POINT", name)
        if text
    }


def _unique(labels: dict[int, str]) -> tuple[dict[int, str], list[Problem]]:
    """Return labels with repeats numbered and the nameless named by their place."""
    unique: dict[int, str] = {}
    seen: Counter[str] = Counter()
    for index, label in labels.items():
        if _UNNAMED.fullmatch(label):
            unique[index] = f"unnamed-{index + 1}"
            continue
        seen[label] += 1
        unique[index] = label if seen[label] == 1 else f"{label} ({seen[label]})"
    repeated = [label for label, count in seen.items() if count > 1]
    if not repeated:
        return unique, []
    problem = Problem(
        "warning",
        Reason("labels_repeated", labels=tuple(repeated), first=repeated[0]),
        "POINT:LABELS",
    )
    return unique, [problem]
