"""Which label is which anatomical landmark.

In come the labels of a trial and, if there is one, the laboratory's map; out goes landmark → label.
A label is read by what it spells: a side (word, letter, before or after) and an anatomical word,
its beginning of at least three letters, or an abbreviation of the ISB recommendations (Wu 2002) or
of the palpation literature (van Sint Jan 2007); else by the words of other languages
(``label_languages.py``). What does not spell a landmark needs the map.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from gaittrack.errors import Problem
from gaittrack.kinematics.label_languages import (
    PIECES,
    plain_letters,
    sides_abroad,
    sides_by_letter,
    spelt_abroad,
)
from gaittrack.kinematics.shared_words import without_shared_words
from gaittrack.lab_map import LabMap
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side


def _word(word: str, shortest: int = 3) -> str:
    """Return a pattern for ``word`` or any beginning of it of at least ``shortest`` letters."""
    pattern = ""
    for letter in reversed(word[shortest:]):
        pattern = f"(?:{letter}{pattern})?"
    return word[:shortest] + pattern


_PELVIS = f"(?:{_word('pelvis')}|waist)"
_LATERAL = f"(?:{_word('lateral')}|outer|outside|out)"
_MEDIAL = f"(?:{_word('medial')}|inner|inside|in)"
_KNEE = (
    f"(?:{_word('knee')}|{_word('epicondyle')}|{_word('condyle')}"
    f"|{_word('femoral')}{_word('epicondyle')})"
)
_HEEL = f"(?:{_word('heel')}|{_word('calcaneus')})"
_PLACE = (
    f"(?:{_word('posterior')}|back|bottom|b|low|lower|{_word('inferior')}|{_word('distal')}"
    f"|mid|middle|centre|center)"
)
_ANKLE = f"(?:{_word('ankle')}|{_word('malleolus')})"
_METATARSAL = f"(?:{_word('metatarsal')}(?:head|h)?|{_word('metatarsus')}|mt|mth|mtp|mh|meta)"


def _metatarsal(numbers: str, ordinal: str) -> str:
    numbered = f"(?:{_METATARSAL}|fm)(?:{numbers})|(?:{numbers})(?:st|nd|rd|th)?{_METATARSAL}"
    return f"(?:{numbered}|{ordinal}(?:{_METATARSAL})?)"


SPELLINGS: dict[str, tuple[str, ...]] = {
    # Patterns of the label without its side, best first; ISB and palpation abbreviations last.
    "asis": (
        f"{_word('asis')}",
        f"{_word('anterior')}sup.*{_word('spine')}?",
        f"{_word('front')}{_PELVIS}|{_PELVIS}{_word('front')}",
        "ias|sias",
    ),
    "psis": (
        f"{_word('psis')}",
        f"{_word('posterior')}sup.*{_word('spine')}?",
        f"{_word('back')}{_PELVIS}|{_PELVIS}{_word('back')}",
        "ips|sips",
    ),
    "hip": (
        f"hjc|{_word('hip')}(?:joint)?{_word('centre')}|{_word('hip')}(?:joint)?{_word('center')}|hipjc",
        f"{_word('hip')}(?:joint)?",
        f"(?:{_word('greater', 1)})?{_word('trochanter')}(?:major)?|gtr?o?c?h?",
        f"{_word('femoral')}head|fh|ftc",
    ),
    "knee": (
        f"{_KNEE}{_LATERAL}|{_LATERAL}{_KNEE}|{_word('tibial')}{_word('epicondyle')}",
        f"{_word('knee')}(?:joint)?(?:{_word('centre')}|{_word('center')})?|kjc",
        "lknee?|knee?l|lkn|knl",
        f"fle|le|lek?|lfe|lfc|l(?:ep|epi)|l{_word('condyle')}|lc",
    ),
    "knee_medial": (
        f"{_KNEE}{_MEDIAL}|{_MEDIAL}{_KNEE}|{_MEDIAL}{_word('femoral')}{_KNEE}",
        "mknee?|knee?m|mkn|knm",
        f"fme|mek?|mfe|mfc|m(?:ep|epi)|m{_word('condyle')}|mc",
    ),
    "fibula_head": (f"{_word('fibular')}(?:head)?", f"head{_word('fibular')}", "fax|hf"),
    "tibial_tuberosity": (
        f"{_word('tibial')}{_word('tuberosity')}|{_word('tuberosity')}",
        "ttc|tt",
    ),
    "ankle": (
        f"{_ANKLE}{_LATERAL}|{_LATERAL}{_ANKLE}",
        f"{_word('ankle')}(?:joint)?(?:{_word('centre')}|{_word('center')})?|ajc",
        f"{_word('malleolus')}|lmal+|mall?l|lank(?:le)?",
        "fal|lm",
    ),
    "ankle_medial": (
        f"{_ANKLE}{_MEDIAL}|{_MEDIAL}{_ANKLE}",
        "mank(?:le)?|ank(?:le)?m|mmal+|mall?m",
        "tam|mm",
    ),
    "heel": (
        f"{_word('heel')}",
        f"{_word('calcaneus')}|{_word('calcaneal')}(?:{_word('tuberosity')})?",
        f"(?:{_PLACE}|foot|shoe){_HEEL}|{_HEEL}(?:{_PLACE}|marker|top|upper|high)",
        "fcc|ca|hee?l?1",
    ),
    "metatarsal_1": (_metatarsal("1|i", "(?:first|1st)(?:ray)?"), f"{_METATARSAL}{_MEDIAL}", "fm"),
    "metatarsal_2": (
        _metatarsal("2|3|ii|iii|23", "(?:second|third|2nd|3rd)(?:ray)?"),
        f"ball|{_word('forefoot', 4)}|{_METATARSAL}",
        "sm",
    ),
    "metatarsal_5": (
        _metatarsal("5|v", "(?:fifth|5th)(?:ray)?"),
        f"{_METATARSAL}{_LATERAL}",
        "vm",
    ),
    "toe": (
        f"{_word('toe')}s?",
        f"{_word('hallux')}|(?:big|great){_word('toe')}|{_word('toe')}(?:tip|end|1|2)|tiptoe",
        f"{_word('toe')}[a-z]?",
    ),
    "sacrum": (f"[a-z]?{_word('sacrum')}|[a-z]?{_word('sacral')}|sacr", "s[12]|l5s1"),
}
_COMPILED = {
    landmark: tuple(re.compile(f"(?:{pattern})") for pattern in patterns)
    for landmark, patterns in SPELLINGS.items()
}
_NOT_A_LANDMARK = re.compile(r"angle|force|moment|power|torque|velocity|progress|[#*]|^unnamed")
_SIDE_WORDS: dict[str, Side] = {
    "left": "left",
    "l": "left",
    "lt": "left",
    "lft": "left",
    "right": "right",
    "r": "right",
    "rt": "right",
    "rgt": "right",
}
_ABROAD = 8
"""Rank of a label of another language."""
_FIRST_OF_SEVERAL = 9
"""Rank of a label that ends in 1, such as ``r knee 1``: used where no better one is there."""
_SHORTEST_WORD = 3


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a label: side (None when it names none), landmark and rank (0 = best)."""

    side: Side | None
    landmark: str
    rank: int


@lru_cache(maxsize=4096)
def read_label(label: str) -> Reading | None:
    """Return what a label spells.

    Parameters
    ----------
    label : str
        As in the file; a number in brackets for a repeated label is ignored here.

    Returns
    -------
    Reading or None
        None when it spells no landmark of ``vocabulary.LANDMARKS``.
    """
    bare = re.sub(r" \(\d+\)$", "", label)
    if _NOT_A_LANDMARK.search(bare.lower()):
        return None
    for side, rest in _sides_and_rests(plain_letters(bare)):
        reading = _read_rest(side, rest)
        if reading is not None:
            return reading
    return _read_abroad(bare)


def _read_abroad(label: str) -> Reading | None:
    """Read a label in other languages; a part of the body may be called as in English."""
    spelt = spelt_abroad(label)
    if spelt is not None:
        return Reading(spelt.side, spelt.landmark, _ABROAD)
    ways = (_read_rest(*way) for way in sides_abroad(label) if len(way[1]) >= _SHORTEST_WORD)
    found = {each for each in ways if each is not None}
    return found.pop() if len(found) == 1 else None


def read_labels(labels: Iterable[str]) -> dict[str, Reading]:
    """Return what the labels of one file spell; those that spell no landmark are left out.

    Words before or behind most of them are of none where the rest spells more, and nothing else.
    """
    known = tuple(labels)
    found = _read_together(known)
    whole = found
    for bare in without_shared_words(known) if len(found) < len(known) else ():
        read = _read_together(tuple(dict.fromkeys(bare.values())))
        told = {label: read[rest] for label, rest in bare.items() if rest in read}
        is_same = all(label in told and _key(told[label], None) == _key(each, None)
                      for label, each in whole.items())  # fmt: skip
        if is_same and _n_placed(told) > _n_placed(found):
            found = told
    return found


def _n_placed(read: Mapping[str, Reading]) -> int:
    return sum(_key(each, None) is not None for each in read.values())


def _read_together(labels: tuple[str, ...]) -> dict[str, Reading]:
    told = {label: read_label(label) for label in labels}
    is_english = any(
        each is not None and each.side and each.rank < _ABROAD for each in told.values()
    )
    unsided = tuple(label for label, each in told.items() if each is None or not each.side)
    by_letter = {
        label: Reading(way.side, way.landmark, _ABROAD)
        for label, way in sides_by_letter(unsided, is_english=is_english).items()
    }
    return {label: each for label, each in (told | by_letter).items() if each is not None}


def _sides_and_rests(label: str) -> list[tuple[Side | None, str]]:
    """Return the ways to split a label into a side and the rest, in order of preference."""
    pieces = [piece.lower() for piece in PIECES.findall(label)]
    for position, piece in enumerate(pieces):
        if piece in _SIDE_WORDS and len(pieces) > 1:
            rest = pieces[:position] + pieces[position + 1 :]
            return [(_SIDE_WORDS[piece], "".join(rest))]
    joined = "".join(pieces)
    for word in ("left", "right"):
        if joined.startswith(word):
            return [(_SIDE_WORDS[word], joined[len(word) :])]
        if joined.endswith(word):
            return [(_SIDE_WORDS[word], joined[: -len(word)])]
    splits: list[tuple[Side | None, str]] = [(None, joined)]
    if joined[:1] in ("l", "r"):
        splits.insert(0, (_SIDE_WORDS[joined[0]], joined[1:]))
    if joined[-1:] in ("l", "r") and len(joined) > _SHORTEST_WORD:
        splits.append((_SIDE_WORDS[joined[-1]], joined[:-1]))
    return splits


def _read_rest(side: Side | None, rest: str) -> Reading | None:
    found = _matches(side, rest)
    if not found and rest.endswith("1") and len(rest) > _SHORTEST_WORD:
        found = [
            Reading(side, one.landmark, _FIRST_OF_SEVERAL) for one in _matches(side, rest[:-1])
        ]
    if not found:
        return None
    best = min(found, key=lambda reading: reading.rank)
    return Reading(None, "sacrum", best.rank) if best.landmark == "sacrum" else best


def _matches(side: Side | None, rest: str) -> list[Reading]:
    return [
        Reading(side, landmark, rank)
        for landmark, patterns in _COMPILED.items()
        for rank, pattern in enumerate(patterns)
        if pattern.fullmatch(rest) and not (side and landmark == "sacrum" and rank)
    ]


@dataclass(frozen=True, slots=True)
class LandmarkFit:
    """Landmarks found: landmark key → label, and what a person should know about it."""

    labels: Mapping[str, str]
    problems: tuple[Problem, ...]


def find_landmarks(
    labels: Iterable[str], lab_map: LabMap, *, lone_side: Side | None = None
) -> LandmarkFit:
    """Match labels with landmarks.

    Parameters
    ----------
    labels : iterable of str
        Marker labels in the order of the file.
    lab_map : LabMap
        Its ``landmarks`` come first, as far as their labels are there; the rest is found by
        spelling.
    lone_side : {"left", "right"}, optional
        Side of landmarks whose labels name none.
    """
    known = list(labels)
    chosen = {key: label for key, label in lab_map.landmarks.items() if label in known}
    taken = set(chosen.values())
    ranks: dict[str, int] = {}
    rivals: dict[str, list[str]] = {}
    for label, reading in read_labels(known).items():
        if label in taken:
            continue
        key = _key(reading, lone_side)
        if key is None or (key in chosen and key not in ranks):
            continue
        rivals.setdefault(key, []).append(label)
        if reading.rank < ranks.get(key, 99):
            chosen[key], ranks[key] = label, reading.rank
    return LandmarkFit(chosen, tuple(_rival_problems(chosen, rivals)))


def _key(reading: Reading, lone_side: Side | None) -> str | None:
    if reading.landmark == "sacrum":
        return "sacrum"
    side = reading.side or lone_side
    return f"{side}_{reading.landmark}" if side else None


def _rival_problems(chosen: Mapping[str, str], rivals: Mapping[str, list[str]]) -> list[Problem]:
    return [
        Problem(
            "info",
            Reason("rival_labels", n=len(labels), labels=tuple(labels), used=chosen[key]),
            key,
        )
        for key, labels in rivals.items()
        if len(labels) > 1
    ]


def unsided_landmarks(labels: Iterable[str]) -> dict[str, str]:
    """Return landmark → label for labels that spell a sided landmark but no side."""
    found: dict[str, str] = {}
    for label, reading in read_labels(labels).items():
        if reading.side is None and reading.landmark != "sacrum":
            found.setdefault(reading.landmark, label)
    return found


def has_sides(labels: Iterable[str]) -> bool:
    """Whether any label names a side and a landmark."""
    return any(reading.side in SIDES for reading in read_labels(labels).values())
