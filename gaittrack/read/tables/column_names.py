"""What the name of a column spells.

In comes a column's name, out goes a :class:`ColumnName`: time, frame, per cent, event, joint angle
with side and sign, or something that is not used. Names are cut into words wherever they change
case, digits or separators, and glued words (``leftkneeangle``) are taken apart; no list of
ready-made names is kept. The words stand in ``column_words``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from gaittrack.read.tables.column_words import CLASS_OF, OTHER_QUANTITIES
from gaittrack.reasons import Reason
from gaittrack.vocabulary import EventKind, Joint, Side

Role = Literal[
    "time", "frame", "percent", "angle", "event", "event_text", "cycle_time", "cycle", "condition",
    "side", "joint", "value", "spread", "other_plane", "unclear", "unknown",
]  # fmt: skip

_EDGE_ONLY = frozenset("lrxyz")
"""Single letters that count as words only alone, or first or last in a glued word."""
_GLUED_SHORT = "winkel angle angles ang joint df pf sd ic hs fs fc"
_GLUED = frozenset(
    (
        *(
            word
            for word, name in CLASS_OF.items()
            if len(word) > 2 and name not in ("angle", "frame", "event", "gait")
        ),
        *_GLUED_SHORT.split(),
        *_EDGE_ONLY,
    )
)
_BELONGS_TO_NEXT = frozenset(("with", "no", "in", "at", "and", "to", "the", "of", "vs"))
"""Words that are part of a condition when an unknown word follows (``no brace``)."""
_SHORT_TOE_OFF = re.compile(
    r"(?:left|right|l|r|lt|rt)?(?:to|fo)(?:left|right|l|r)?(?:s|ms|frame|pct)?"
)
_TOKEN = re.compile(
    r"[^\W\d_]*[^\x00-\x7f\W\d_][^\W\d_]*|[A-Z]+s?(?![a-z])|[A-Z]?[a-z]+"
    r"|\d+(?:\.\d+)?|[%\u00b0#]"
)
_PLACED = r"(?:[\s_.:\-]+(?:[Pp]os(?:ition)?|[Cc]oord(?:inate)?s?))?"
"""Says of a column what all coordinates are."""
_AXIS_LAST = re.compile(
    rf"(.*?){_PLACED}[\s_.:\-]*\(?([XYZxyz])(\d*)\)?{_PLACED}"
    r"(?:\s*[\[(][^\])]*[\])])?(?:[\s_](?:mm|cm|m|N))?"
)
_AXIS_FIRST = re.compile(r"([XYZ])[\s_.:\-]+([^\W\d].+)")
_RECORDED_AT = re.compile(
    r"\s*(?:@\s*|(?=[\[(]\s*\d))[\[(]?\s*\d+(?:[.,]\d+)?\s*(?:hz|fps)\s*[\])]?", re.I
)
"""Behind a name: how often the column was recorded, which says nothing of what it is."""
_SEGMENTS = ("ankle", "knee", "hip", "pelvis", "thigh", "foot", "shank", "elsewhere")
_OTHER_QUANTITY = re.compile("|".join(OTHER_QUANTITIES["parts"]))
"""What a column of a joint holds when it is no angle; on the name in lower case."""
_OTHER_QUANTITY_WORDS = frozenset(OTHER_QUANTITIES["words"])
_MUSCLE = re.compile("|".join(OTHER_QUANTITIES["muscles"]))
_OF_OTHER_PEOPLE = re.compile(r"(?<![a-z])norm(?:s|ative|ativ|daten|werte|band|bereich)?(?![a-z])")
"""A band of typical values beside the person's own; on the name in lower case."""
_MEAN_AND_SPREAD = re.compile(r"\w\W*(?:\u00b1|\+/-)\W*\w")
"""A column of means, each with its spread in the same cell."""
_SAGITTAL = frozenset("flexion dorsiflexion plantarflexion extension sagittal tilt".split())
_PLANTAR_UP = re.compile(
    r"plantar[a-z\- ]*\W*(?:\+|pos)|dors(?:i|al)[a-z\- ]*\(\s*-\s*\)|dors(?:i|al)[a-z\- ]*neg"
    r"|(?<![a-z])pf\s*[(\[]?\s*(?:\+|pos)|(?<![a-z])df\s*(?:[(\[]\s*(?:-|neg)|neg)"
    r"|(?:\+|positive)\s*(?:=|:|is )\s*(?:plantar|pf(?![a-z]))"
)
"""Plantarflexion counts as positive; on the words in lower case."""
_FLIPPED = re.compile(rf"{_PLANTAR_UP.pattern}|(?<!dorsal)(?<!dorsi)ext[a-z]*\W*(?:\+|pos)")
LONGEST_CONVENTION = 12
"""Words of a line that may say which way is positive; our choice."""


@dataclass(frozen=True, slots=True)
class ColumnName:
    """What a name spells.

    Attributes
    ----------
    sign : float
        -1 when the name counts plantarflexion or extension as positive.
    unit : str
        ``deg``, ``rad``, ``s``, ``ms``, ``%``, ``frame`` or "".
    cycle : str
        Number or word that names the cycle, or "".
    rest : str
        Words that spell nothing known, as written: a condition, perhaps.
    note : Reason or None
        What was taken for granted; None when nothing.
    axis : str
        ``x``, ``y``, ``z`` or "".
    says_sign : bool
        The name of an ankle angle says which way is positive, by one word for one direction.
    """

    role: Role
    side: Side | None = None
    joint: Joint | None = None
    sign: float = 1.0
    event: EventKind | None = None
    unit: str = ""
    is_mean: bool = False
    cycle: str = ""
    rest: str = ""
    note: Reason | None = None
    axis: str = ""
    says_sign: bool = False


@lru_cache(maxsize=8192)
def read_column_name(name: str) -> ColumnName:
    """Return what ``name`` spells.

    Parameters
    ----------
    name : str
        As in the file.

    Returns
    -------
    ColumnName
        Its role is ``unknown`` when nothing is spelt, ``unclear`` when a joint is spelt but not
        one sagittal angle of it.
    """
    name = _RECORDED_AT.sub("", name)
    words, cycle, rest = _words_and_rest(name)
    known = frozenset(words)
    parts = {
        "side": _side(known),
        "unit": _unit(known),
        "is_mean": "mean" in known,
        "cycle": cycle,
        "rest": rest,
    }
    role, extra = _role(name, words, known, parts)
    return ColumnName(role, **(parts | extra))  # type: ignore[arg-type]  # keys are fields


def _words_and_rest(name: str) -> tuple[list[str], str, str]:
    """Return classes of the known words, digits that number a cycle, and the unknown words."""
    words: list[str] = []
    numbers: list[str] = []
    rest: list[str] = []
    pending: list[str] = []
    end_of_unknown = -1
    for match in _TOKEN.finditer(name):
        token = match.group()
        pieces = _pieces(token.lower())
        if token[0].isdigit():
            if match.start() == end_of_unknown:
                rest[-1] += token
            else:
                numbers.append(token)
        elif pieces is None:
            rest.extend((*pending, token))
            pending, end_of_unknown = [], match.end()
        elif token.lower() in ("on", "off") and rest:
            rest.append(token)
        elif token.lower() in _BELONGS_TO_NEXT:
            pending.append(token)
        else:
            pending = []
            words.extend(CLASS_OF[piece] for piece in pieces)
    return words, "-".join(numbers), " ".join(rest)


def _pieces(token: str) -> list[str] | None:
    """Split a token into known words, or return None."""
    if token in CLASS_OF:
        return [token]
    for start in range(len(token) - 1, 0, -1):
        head, tail = token[:start], token[start:]
        if head in _GLUED and (len(head) > 1 or head in "lr"):
            rest = [tail] if tail in _GLUED else None if len(tail) < 3 else _pieces(tail)
            if rest is not None:
                return [head, *rest]
    return None


def _side(known: frozenset[str]) -> Side | None:
    if ("left" in known) == ("right" in known):
        return None
    return "left" if "left" in known else "right"


def _unit(known: frozenset[str]) -> str:
    for word, unit in (
        ("degree", "deg"),
        ("radian", "rad"),
        ("millisecond", "ms"),
        ("percent", "%"),
        ("second", "s"),
    ):
        if word in known:
            return unit
    return ""


def _role(
    name: str, words: list[str], known: frozenset[str], parts: Mapping[str, object]
) -> tuple[Role, dict[str, object]]:
    joints = [word for word in words if word in _SEGMENTS]
    if "leg" in known and not joints and known != {"leg"}:
        joints = ["shank"]
    if not joints and known & {"dorsiflexion", "plantarflexion"}:
        joints = ["ankle"]
    if ("spread" in known and not _MEAN_AND_SPREAD.search(name)) or (
        "standard" in name.lower() and "deviation" in known
    ):
        return "spread", {}
    bare = re.sub(r"[^a-z]", "", name.lower())
    if _SHORT_TOE_OFF.fullmatch(bare) and not known & {"time", "frame", "angle"}:
        side = "left" if bare[0] == "l" or bare[2:3] == "l" else None
        side = "right" if bare[0] == "r" or bare[2:3] == "r" else side
        return "event", {"event": "toe_off", "side": parts["side"] or side, "rest": ""}
    kind = _event_kind(known, joints)
    if kind is not None:
        return "event", {
            "event": kind,
            "unit": parts["unit"] or ("frame" if "frame" in known else ""),
        }
    if joints:
        return _angle_role(name, words, known, set(joints))
    return _plain_role(name, known, str(parts["rest"])), {}


def _event_kind(known: frozenset[str], joints: list[str]) -> EventKind | None:
    limb = not set(joints) - {"foot", "elsewhere"}
    if not limb or known & {"angle", "flexion", "dorsiflexion", "plantarflexion"}:
        return None
    if "off" in known:
        return "toe_off"
    if "contact" in known or ("on" in known and known & {"foot", "heel"}):
        return "initial_contact"
    return None


def _plain_role(name: str, known: frozenset[str], rest: str) -> Role:
    bare = re.sub(r"[^a-z]", "", name.lower())
    if known & {"cycle", "gait"} and known & {"time", "duration"} and "percent" not in known:
        return "cycle_time"
    if "percent" in known:
        return "percent"
    if is_other_quantity(name):
        return "other_plane"
    if rest:
        return "unknown"
    for word, role in _PLAIN:
        if word in known:
            return role
    if bare in ("value", "values", "angle", "angles", "angledeg", "anglerad"):
        return "value"
    if bare in ("joint", "joints"):
        return "joint"
    return "unknown"


_PLAIN: tuple[tuple[str, Role], ...] = (
    ("time", "time"),
    ("cycle", "cycle"),
    ("gait", "percent"),
    ("condition", "condition"),
    ("side", "side"),
    ("leg", "side"),
    ("event", "event_text"),
    ("frame", "frame"),
    ("second", "time"),
    ("millisecond", "time"),
)


def _angle_role(
    name: str, words: list[str], known: frozenset[str], joints: set[str]
) -> tuple[Role, dict[str, object]]:
    axis = _axis(name, known)
    if "elsewhere" in joints or is_other_quantity(name):
        return "other_plane", {}
    if _OF_OTHER_PEOPLE.search(name.lower()):
        return "other_plane", {}
    joint, note = _joint(known, joints)
    if known & {"plane"} and joint != "pelvic_obliquity" and "sagittal" not in known:
        return "other_plane", {"axis": axis}
    if joint is None:
        return "unclear", {"note": note, "axis": axis}
    sagittal = known & _SAGITTAL
    if axis and not sagittal:
        return "unclear", {
            "joint": joint,
            "axis": axis,
            "note": Reason("letter_of_no_plane", letter=axis),
        }
    says = len(known & {"dorsiflexion", "plantarflexion"}) == 1
    sign = _sign(name, known, joint)
    return "angle", {"joint": joint, "sign": sign, "note": note, "says_sign": says}


def says_plantarflexion_positive(line: str) -> bool:
    """Whether a line beside the table says so of its ankles: ``plantarflexion positive``."""
    is_short = len(line.split()) <= LONGEST_CONVENTION
    return is_short and _PLANTAR_UP.search(line.lower()) is not None


def is_other_quantity(name: str) -> bool:
    """Tell a moment, power, velocity, force or muscle from an angle."""
    tokens = {token.lower() for token in _TOKEN.findall(name)}
    lower = name.lower()
    found = tokens & _OTHER_QUANTITY_WORDS or _OTHER_QUANTITY.search(lower)
    return bool(found or _MUSCLE.search(lower))


def _axis(name: str, known: frozenset[str]) -> str:
    """Return the letter of an axis that stands alone, or ends a glued word; else ""."""
    match = re.search(r"(?<![A-Za-z])([XYZxyz])(?![A-Za-z])|(?<=[a-z])([XYZ])(?![a-z])", name)
    if match:
        return (match.group(1) or match.group(2)).lower()
    return name.strip()[-1].lower() if "axis" in known else ""


def _joint(known: frozenset[str], joints: set[str]) -> tuple[Joint | None, Reason | None]:
    """Return the joint, and what was taken for granted about it."""
    if joints in ({"pelvis", "thigh"}, {"hip", "pelvis"}, {"hip", "pelvis", "thigh"}):
        return "hip_pelvis_thigh", None
    if joints == {"ankle"} or joints == {"ankle", "foot"}:
        return "ankle", None
    if joints == {"knee"}:
        return "knee", None
    if joints == {"hip"} and known & {"vertical"} or joints == {"hip", "thigh"}:
        return "hip_thigh_vertical", None
    if joints == {"hip"}:
        return "hip_pelvis_thigh", Reason("plain_hip")
    if joints == {"thigh"}:
        return "hip_thigh_vertical", Reason("plain_thigh")
    if joints == {"shank"}:
        return "shank_lean", Reason("plain_shank")
    if joints == {"pelvis"}:
        return _pelvis(known)
    if joints == {"foot"} and known & {"floor", "sagittal", "vertical"}:
        return "foot_pitch", None
    if joints == {"foot"}:
        return None, Reason("plain_foot")
    return None, Reason("several_joints")


def _pelvis(known: frozenset[str]) -> tuple[Joint | None, Reason | None]:
    if known & {"tilt", "sagittal", "anterior", "posterior"}:
        return "pelvic_tilt", Reason("plain_pelvic_tilt")
    return None, Reason("plain_pelvis")


def _sign(name: str, known: frozenset[str], joint: Joint) -> float:
    if _FLIPPED.search(name.lower()):
        return -1.0
    if joint == "ankle":
        reverse = "plantarflexion" in known and "dorsiflexion" not in known
    elif joint == "pelvic_tilt":
        reverse = "posterior" in known and "anterior" not in known
    else:
        reverse = "extension" in known and "flexion" not in known
    return -1.0 if reverse else 1.0


def axis_and_stem(name: str) -> tuple[str, str]:
    """Split a name such as ``FHx`` or ``Mark01 X`` into its axis letter and the rest.

    Returns
    -------
    tuple of (axis, stem)
        ("", name) when the name does not end in an axis letter.
    """
    name = _RECORDED_AT.sub("", name)
    match = _AXIS_LAST.fullmatch(name.strip())
    if match is None:
        first = _AXIS_FIRST.fullmatch(name.strip())
        return (first.group(1).lower(), first.group(2)) if first else ("", name)
    stem, axis, number = match.groups()
    return axis.lower(), stem.strip() + (number if stem else "")
