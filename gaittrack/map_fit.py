"""Which of several maps a file takes, if any.

In come the names that a file holds (labels of markers, columns of a sheet) and the laboratory's
maps; out comes the map that fits best, with what to know of it. A map that names nothing of the
file is not used, whatever else it says; between maps that fit alike and say different things nobody
guesses.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Final, NamedTuple

from gaittrack.errors import LayoutError, Level, Problem
from gaittrack.lab_map import NO_COLUMN, LabMap, SheetMap, device_name, is_device
from gaittrack.part_names import plain_name
from gaittrack.reasons import Reason
from gaittrack.trial import Trial

LEAST_SHARE: Final = 0.5
"""Share of its names that a file must hold for a map to be used; own choice: one leg of two."""
NEAR: Final = 0.8
"""A map whose fit is within this share of the best one's may be meant as well; own choice."""
_COLUMN_KEYS: Final = (
    *("time_column", "frame_column", "percent_column", "cycle_column", "condition_column"),
    *("trial_column", "value_column"),
)


@dataclass(frozen=True, slots=True)
class TakenMap:
    """The map that a file takes: an empty one when none fits."""

    lab_map: LabMap = LabMap()
    problems: tuple[Problem, ...] = ()


class Fit(NamedTuple):
    """How well one map fits one file.

    Attributes
    ----------
    there, missing : tuple of str
        Names of the map that the file holds, and those it lacks.
    is_stated : bool
        The map says which files it is for, and this is one.
    """

    lab_map: LabMap
    there: tuple[str, ...]
    missing: tuple[str, ...]
    is_stated: bool

    @property
    def is_used(self) -> bool:
        """Whether it fits well enough to be used; a map that names nothing fits any file."""
        return len(self.there) >= LEAST_SHARE * (len(self.there) + len(self.missing))

    @property
    def score(self) -> tuple[bool, float]:
        """How well it fits: what is said goes before what is counted."""
        n = len(self.there)
        return self.is_stated, n * n / (n + len(self.missing)) if n else 0.0


def landmark_fits(labels: Collection[str], maps: Iterable[LabMap], file_name: str) -> list[Fit]:
    """Return how the maps that say something of landmarks fit, those that do not concern left out.

    A label that is worn only standing counts where it is there and is not missed where it is not.
    """
    said = [each for each in maps if each.landmarks or each.standing_only]
    return [
        Fit(each, *_split(each, labels), bool(each.fits.labels or each.fits.files))
        for each in said
        if concerns(each, labels, file_name)
    ]


def _split(lab_map: LabMap, labels: Collection[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    there = tuple(label for label in lab_map.landmarks.values() if label in labels)
    missing = absent_landmarks(lab_map, labels)
    return there, tuple(missing.values())


def absent_landmarks(lab_map: LabMap, labels: Collection[str]) -> dict[str, str]:
    """Return landmark → label for what a map names and a file lacks, though it should hold it."""
    return {
        key: label
        for key, label in lab_map.landmarks.items()
        if label not in labels and key not in lab_map.standing_only
    }


def sheet_fit(lab_map: LabMap, names: Collection[str], file_name: str) -> Fit | None:
    """Return how a map's sheet fits a table with these names; None where it does not concern it."""
    if lab_map.sheet == SheetMap() or not concerns(lab_map, names, file_name):
        return None
    is_stated = bool(lab_map.fits.labels or lab_map.fits.files)
    wanted = column_names(lab_map.sheet)
    if not wanted:
        held = [label for label in lab_map.landmarks.values() if _is_held(label, names)]
        return Fit(lab_map, *_split(lab_map, held), is_stated)
    plain = set(map(_plain, names))
    there = tuple(name for name in wanted if _plain(name) in plain)
    return Fit(lab_map, there, tuple(name for name in wanted if name not in there), is_stated)


def _is_held(label: str, names: Collection[str]) -> bool:
    """Tell whether a marker is among columns, which may be one per coordinate."""
    return label in names or any(
        name.startswith(label) and name[len(label) :].strip(" _.:-[]()").lower() in ("x", "y", "z")
        for name in names
    )


def _plain(name: str) -> str:
    return " ".join(name.split()).lower()


def column_names(sheet: SheetMap) -> list[str]:
    """Return the columns that a map names."""
    named = [each.name for each in sheet.columns] + [each.name for each in sheet.event_columns]
    keys = (getattr(sheet, key) for key in _COLUMN_KEYS)
    return [*named, *(name for name in keys if name not in (None, NO_COLUMN))]


def concerns(lab_map: LabMap, names: Collection[str], file_name: str) -> bool:
    """Tell whether what a map says of the files it is for holds of one."""
    fits = lab_map.fits
    named = {file_name.lower(), plain_name(file_name).lower()}
    is_file = any(fnmatchcase(name, each.lower()) for name in named for each in fits.files)
    return all(_holds(names, each) for each in fits.labels) and (is_file or not fits.files)


def _holds(names: Collection[str], name: str) -> bool:
    """Tell whether a file holds a label; the words of a device are the same in any capitals."""
    is_same = name.casefold().__eq__
    return name in names or (is_device(name) and any(is_same(each.casefold()) for each in names))


def taken(fits: Sequence[Fit], file_name: str, differ: Callable[[LabMap, LabMap], str]) -> TakenMap:
    """Choose the map that fits best.

    Parameters
    ----------
    fits : sequence of Fit
        Of the maps that say something of such a file.
    differ : callable
        Says in what two maps contradict each other for this file; "" where they do not.

    Raises
    ------
    LayoutError
        Two maps fit alike and contradict each other.
    """
    usable = sorted((each for each in fits if each.is_used), key=_order)
    if not usable:
        return TakenMap(problems=_told_of_none(fits, file_name))
    best = usable[0]
    for other in usable[1:]:
        stated, score = other.score
        is_near = (stated, score) >= (best.score[0], NEAR * best.score[1])
        if is_near and (what := differ(best.lab_map, other.lab_map)):
            raise LayoutError.of(
                "maps_fit_alike",
                where=file_name,
                maps=f"{best.lab_map.title} and {other.lab_map.title}",
                what=what,
            )
    told = Problem("info", Reason("map_used", map=best.lab_map.title), file_name)
    return TakenMap(best.lab_map, (told,))


def _order(fit: Fit) -> tuple[bool, float, str]:
    is_stated, score = fit.score
    return not is_stated, -score, fit.lab_map.title


def _told_of_none(fits: Sequence[Fit], file_name: str) -> tuple[Problem, ...]:
    """Tell of maps that name something of the file, or were given for it, and are not used."""
    told = [_not_used(each, file_name) for each in fits if each.there]
    if told or not fits:
        return tuple(told)
    level: Level = "info" if all(each.lab_map.name for each in fits) else "warning"
    titles = ", ".join(sorted(each.lab_map.title for each in fits))
    return (Problem(level, Reason("no_map_fits", maps=titles), file_name),)


def _not_used(fit: Fit, file_name: str) -> Problem:
    n = len(fit.there)
    reason = Reason(
        "map_fits_too_little",
        map=fit.lab_map.title,
        n=n,
        of=n + len(fit.missing),
        missing=", ".join(map(repr, fit.missing)),
    )
    return Problem("warning", reason, file_name)


def map_for_landmarks(labels: Sequence[str], maps: Iterable[LabMap], *, file_name: str) -> TakenMap:
    """Choose the map for the markers of a file.

    Raises
    ------
    LayoutError
        Two maps fit alike and put a label or a landmark into different places.
    """
    known = frozenset(labels)

    def differ(one: LabMap, other: LabMap) -> str:
        return _contradiction(_present(one, known), _present(other, known))

    found = taken(landmark_fits(known, maps, file_name), file_name, differ)
    absent = absent_landmarks(found.lab_map, known)
    if not absent:
        return found
    names = ", ".join(f"{key} = {label!r}" for key, label in sorted(absent.items()))
    keys = json.dumps(sorted({*absent, *found.lab_map.standing_only}))
    reason = Reason("labels_of_map_missing", map=found.lab_map.title, names=names, keys=keys)
    return TakenMap(found.lab_map, (*found.problems, Problem("warning", reason, file_name)))


def _present(lab_map: LabMap, labels: Collection[str]) -> dict[str, str]:
    return {key: label for key, label in lab_map.landmarks.items() if label in labels}


def _contradiction(one: Mapping[str, str], other: Mapping[str, str]) -> str:
    for key, label in one.items():
        if other.get(key, label) != label:
            return f"{key} is {label!r} or {other[key]!r}"
    places = {label: key for key, label in other.items()}
    for key, label in one.items():
        if places.get(label, key) != key:
            return f"{label!r} is {key} or {places[label]}"
    return ""


def names_of(trial: Trial) -> tuple[str, ...]:
    """Return the names in a trial that a map may know: of markers or columns, and of the device."""
    named = tuple(trial.markers) or trial.provenance.columns
    return (*named, *map(device_name, trial.provenance.device))


def map_for_sheet(fits: Iterable[Fit | None], *, file_name: str) -> TakenMap:
    """Choose the map that says how a table is read, from :func:`sheet_fit` of each.

    Raises
    ------
    LayoutError
        Two maps fit alike and tell different things.
    """
    return taken([each for each in fits if each is not None], file_name, _sheets_differ)


def _sheets_differ(one: LabMap, other: LabMap) -> str:
    keys = [
        key for key in SheetMap.__slots__ if getattr(one.sheet, key) != getattr(other.sheet, key)
    ]
    return f"[sheet] or [[columns]]: {', '.join(keys)}" if keys else ""
