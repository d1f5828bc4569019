"""A map while it is made: which label is which place, and what an act makes of it.

In come the labels of files and the laboratory's maps, out come plain values that a browser keeps;
what comes back from there is only words, and is checked as any map when it is kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from dashboards.add_walks.look_and_store import Looked
from gaittrack.errors import GaitTrackError, LayoutError
from gaittrack.kinematics.by_place import ByPlace, by_place
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import LabMap, device_name, is_device
from gaittrack.map_fit import map_for_landmarks
from gaittrack.read import read_trial
from gaittrack.vocabulary import LANDMARKS

MapDraft = dict[str, Any]
"""``sets`` (labels and device, how many files), ``file``, ``moment``, ``at_s``, ``guesses``; and
once a map is chosen ``name``, ``is_new``, ``labels`` (landmark to label), ``by`` (landmark to
how it was found), ``place`` (looked at), ``left_out`` (guesses that were not wanted), ``only``
(label that tells the files of this map from others, or ""), ``standing_only`` (landmarks worn
only while standing)."""
_NEW: Final = "new map"


def draft_of_looks(looks: Sequence[Looked]) -> MapDraft:
    """Return the labels of the files that were looked at, and where their markers lie.

    Files that lack something come first; the largest group of one set of labels is shown.
    """
    with_labels = [one for one in looks if one.labels]
    lacking = [one for one in with_labels if one.contents is None or one.contents.missing]
    asked = lacking or with_labels
    sets = Counter(map(_names, asked))
    most = [labels for labels, _ in sets.most_common()]
    others = Counter(names for names in map(_names, with_labels) if names not in sets)
    shown = next((one for one in asked if _names(one) == most[0]), None) if most else None
    found = _lying(shown.row.path) if shown else ByPlace({}, {}, 0.0)
    return {
        "sets": [[list(labels), n] for labels, n in [*sets.most_common(), *others.most_common()]],
        "file": shown.name if shown else "",
        "moment": dict(found.moment),
        "at_s": found.at_s,
        "guesses": dict(found.guesses),
    }


def _names(one: Looked) -> tuple[str, ...]:
    """Return what a map may know a file by: its labels, and the device that it names."""
    return (*one.labels, *map(device_name, one.device))


def _lying(path: Path) -> ByPlace:
    try:
        trial = read_trial(path)
    except (GaitTrackError, OSError):
        return ByPlace({}, {}, 0.0)
    return by_place(trial.markers, trial.rate_hz)


def labels_of(draft: MapDraft) -> list[str]:
    """Return the labels that are mapped."""
    return [name for name in names_in(draft) if not is_device(name)]


def names_in(draft: MapDraft) -> list[str]:
    """Return what may tell files of a map from others: labels, and the device that recorded."""
    return list(draft["sets"][0][0]) if draft["sets"] else []


def begun(draft: MapDraft, maps: Sequence[LabMap], name: str | None = None) -> MapDraft:
    """Return the draft with a map chosen: the one named, the one that fits, or a new one."""
    labels = labels_of(draft)
    if name is None:
        try:
            name = map_for_landmarks(names_in(draft), maps, file_name="").lab_map.name
        except LayoutError:
            name = ""
    own = next((each for each in maps if each.name == name), LabMap())
    found = find_landmarks(labels, own).labels
    how = {
        key: "map" if own.landmarks.get(key) == label else "name" for key, label in found.items()
    }
    return draft | {
        "name": own.name or free_name(maps, _NEW),
        "is_new": not own.name,
        "labels": dict(found),
        "by": how,
        "place": draft.get("place", "heel"),
        "left_out": [],
        "only": next(iter(own.fits.labels), ""),
        "standing_only": sorted(own.standing_only),
    }


def free_name(maps: Sequence[LabMap], wanted: str) -> str:
    """Return a name that no map has yet: the one that is wanted, or with a number."""
    taken = {each.name for each in maps}
    names = (wanted, *(f"{wanted} {n}" for n in range(2, len(taken) + 3)))
    return next(name for name in names if name not in taken)


def after(draft: MapDraft, press: Mapping[str, Any], maps: Sequence[LabMap]) -> MapDraft:
    """Return the draft after what was pressed or chosen."""
    act = press.get("act")
    if act == "map":
        return begun(draft, maps, str(press.get("chosen") or press.get("name") or ""))
    if act == "name":
        return draft | {"name": str(press.get("chosen", "")).strip()}
    if act == "only":
        given = str(press.get("chosen", ""))
        return draft | {"only": given if given in names_in(draft) else ""}
    if act == "look":
        return draft | {"place": str(press.get("place", ""))}
    if act == "set":
        key, label = str(press.get("landmark")), str(press.get("chosen", ""))
        return _with(draft, {key: label}, "you") | {"place": _place_of(key)}
    if act == "worn":
        return draft | {"standing_only": _worn_otherwise(draft, str(press.get("place", "")))}
    if act == "swap":
        return draft | {key: _swapped(draft[key]) for key in ("labels", "by", "guesses")}
    wanted = {key: label for key, label in offered(draft).items() if _is_meant(key, press)}
    if act == "take":
        return _with(draft, wanted, "place")
    if act == "leave out":
        return draft | {"left_out": [*draft["left_out"], *wanted]}
    return draft


def _worn_otherwise(draft: MapDraft, place: str) -> list[str]:
    """Return the landmarks worn only standing after a place was pressed that is, or is not."""
    mine = {key for key in LANDMARKS if _place_of(key) == place}
    now = set(draft["standing_only"])
    return sorted(now - mine if mine & now else now | mine)


def _is_meant(key: str, press: Mapping[str, Any]) -> bool:
    return press.get("place") in (None, _place_of(key))


def _place_of(key: str) -> str:
    return key.removeprefix("left_").removeprefix("right_")


def _with(draft: MapDraft, chosen: Mapping[str, str], how: str) -> MapDraft:
    """Return the draft with labels in places; a label is in one place only."""
    known = labels_of(draft)
    wanted = {key: label for key, label in chosen.items() if key in LANDMARKS}
    labels = {
        key: label
        for key, label in draft["labels"].items()
        if key not in wanted and label not in wanted.values()
    }
    labels |= {key: label for key, label in wanted.items() if label in known}
    by = {key: draft["by"][key] for key in labels if key not in wanted}
    return draft | {"labels": labels, "by": by | {key: how for key in wanted if key in labels}}


def _swapped(found: Mapping[str, str]) -> dict[str, str]:
    other = {"left": "right", "right": "left"}
    return {
        "_".join((other.get(side, side), *rest)): value
        for side, *rest, value in ((*key.split("_", 1), value) for key, value in found.items())
    }


def offered(draft: MapDraft) -> dict[str, str]:
    """Return the guesses by place for what is empty, of labels that have no place."""
    taken = set(draft["labels"].values())
    return {
        key: label
        for key, label in draft["guesses"].items()
        if key not in draft["labels"] and label not in taken and key not in draft["left_out"]
    }


def files_that_take(draft: MapDraft, maps: Sequence[LabMap]) -> tuple[int, str]:
    """Return how many of the files would take the map as it is now, and what stands in the way."""
    own = next((each for each in maps if each.name == draft["name"]), LabMap())
    fits = replace(own.fits, labels=(draft["only"],)) if draft["only"] else own.fits
    worn = frozenset(draft["standing_only"])
    mine = LabMap(kept_landmarks(draft, own), own.sheet, "", draft["name"], fits, worn)
    rivals = [each for each in maps if each.name != draft["name"]]
    n_files, why = 0, ""
    for labels, n in draft["sets"]:
        try:
            found = map_for_landmarks(labels, [mine, *rivals], file_name="")
        except LayoutError as error:
            why = why or error.what
            continue
        n_files += n * (found.lab_map.name == mine.name)
    return n_files, why


def kept_landmarks(draft: MapDraft, own: LabMap) -> dict[str, str]:
    """Return all landmarks of the map: those chosen, and its own of labels these files lack."""
    here = set(labels_of(draft))
    lacking = {key: label for key, label in own.landmarks.items() if label not in here}
    return {**{k: v for k, v in lacking.items() if k not in draft["labels"]}, **draft["labels"]}
