"""Take out who a person is, and say how few look alike.

In comes a :class:`CohortSource` with the names of a study, out come one with random ids, closed
words, age bands and days since the first visit, and the map of the ids. All tables of an export are
made from the second source only, so nothing else can reach them; ``protection.py`` takes out what
would single somebody out. Walking itself tells people apart: this makes people harder to find,
never anonymous.
"""

from __future__ import annotations

import hashlib
import math
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.people.leaving import (
    OF_AIM,
    OF_BRACE,
    OF_CONDITION,
    OF_PERSON,
    OF_RATING,
    STORED,
    age_band,
    leaving,
)
from gaittrack.cohort.people.source import CohortSource, CohortWalk, PlaceKey
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.walked.same_points import Again
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.kinematics.shared import Shared
from gaittrack.record.aims import Aims
from gaittrack.record.braces import Brace, Braces, named_setting, with_described
from gaittrack.record.checking import ratings_of
from gaittrack.record.closed_lists import OTHER, level_of
from gaittrack.record.registry import FACTS
from gaittrack.record.wording import NOT_RECORDED

ID_BYTES: Final = 5
"""Length of a random id; two alike among 10 000 people happen once in 20 000 exports, and are drawn
again."""
_NAMES_OF_WALK: Final = ("walk_id", "sha256", "condition", "file_name", "part", "session")


def deidentify(source: CohortSource) -> tuple[CohortSource, dict[str, str]]:
    """Put random ids and closed words in the place of all that names a person.

    Returns
    -------
    source : CohortSource
        People by random id in random order; visits by number; conditions by what was worn.
    id_map : dict of person to random id
        To be kept away from the export.
    """
    ids = new_ids(str(person) for person in source.people["person"])
    return closed(source, ids), ids


def closed(source: CohortSource, ids: Mapping[str, str]) -> CohortSource:
    """Put closed words in the place of free text, and other ids in the place of people's codes.

    Parameters
    ----------
    ids : mapping of person to id
        The codes themselves for screens inside of the laboratory.

    Returns
    -------
    CohortSource
        As of :func:`deidentify`.
    """
    visits = _visits(source, ids)
    names = ("was_person", "was_visit", "visit")
    numbers = {(p, v): n for p, v, n in zip(*(visits[name] for name in names), strict=True)}
    codes = condition_codes(source.conditions)
    places = {
        key: (ids[key[0]], numbers[key[:2]], code)
        for key, code in codes.items()
        if key[:2] in numbers
    }
    walks = [_walk(walk, places[walk.place], number) for number, walk in enumerate(source.walks)]
    braces = whole_braces(source.conditions, source.braces)
    told = numbered(source.conditions, braces)
    worn = {places[key]: closed_condition(one) for key, one in told.items()}
    return CohortSource(
        people=_people(source.people, ids),
        visits=visits.drop(columns=["was_person", "was_visit"]),
        conditions={key: worn[key].known_as(key[2]) for key in sorted(worn)},
        walks=tuple(sorted(walks, key=lambda walk: walk.place)),
        rejected={
            places[key]: tuple(
                each._replace(original=original_hash(ids[key[0]], each.original)) for each in found
            )
            for key, found in source.rejected.items()
        },
        exclusions=_exclusions(source.exclusions, places),
        own_errors=source.own_errors,
        typical=source.typical,
        damaged={places[key]: count for key, count in source.damaged.items()},
        again=None if source.again is None else partial(_again, source.walks, source.again),
        aims={ids[person]: _closed_aims(aims) for person, aims in source.aims.items()},
        braces={ids[person]: _closed_braces(own) for person, own in braces.items()},
    )


def _closed_aims(aims: Aims) -> dict[str, dict[str, Any]]:
    """Return aims by number with nothing of their words; one in own words keeps its level."""
    return {
        str(number): {
            name: leaving(fact, facts[name]) for name, fact in OF_AIM.items() if name in facts
        }
        for number, facts in enumerate(aims.values(), 1)
    }


def new_ids(people: Iterable[str]) -> dict[str, str]:
    """Return a random id for each person, drawn anew for every export."""
    ids: dict[str, str] = {}
    taken: set[str] = set()
    for person in people:
        new = secrets.token_hex(ID_BYTES)
        while new in taken:
            new = secrets.token_hex(ID_BYTES)
        taken.add(new)
        ids[person] = f"p{new}"
    return ids


def _people(people: pd.DataFrame, ids: Mapping[str, str]) -> pd.DataFrame:
    found = pd.DataFrame({"person": [ids[str(person)] for person in people["person"]]})
    for name, fact in OF_PERSON.items():
        found[name] = [leaving(fact, value) for value in people[name]]
    return found.sort_values("person", ignore_index=True)


def _visits(source: CohortSource, ids: Mapping[str, str]) -> pd.DataFrame:
    """Return the visits by number, with the names they had beside them."""
    own: dict[str, list[dict[Any, Any]]] = {}
    for record in source.visits.to_dict("records"):
        own.setdefault(str(record["person"]), []).append(record)
    rows = []
    for person, records in own.items():
        dates = [_date(row["date"]) for row in records]
        known = [each for each in dates if each is not None]
        for number, (row, day) in enumerate(zip(records, dates, strict=True), 1):
            since = (day - min(known)).days if day is not None else row["days_since_first_visit"]
            rows.append(
                {
                    "person": ids[person],
                    "visit": str(number),
                    "date": None,
                    "days_since_first_visit": _whole(since),
                    "age_years": math.nan,
                    **{name: leaving(FACTS["visit"][name], row[name]) for name in STORED},
                    **{name: _rated(row[name], source.aims.get(person, {})) for name in OF_RATING},
                    "age_band": age_band(row["age_years"], row["age_band"]),
                    "was_person": person,
                    "was_visit": str(row["visit"]),
                }
            )
    columns = [*source.visits.columns, "was_person", "was_visit"]
    table = pd.DataFrame(rows, columns=columns)
    return table.sort_values("person", kind="stable", ignore_index=True)


def _rated(levels: object, aims: Aims) -> str | None:
    """Return levels by the numbers of the aims in the place of their codes."""
    told = ratings_of(levels)
    known = {number: told[code] for number, code in enumerate(aims, 1) if code in told}
    return "; ".join(f"{number}: {level}" for number, level in known.items()) or None


def _date(value: object) -> date | None:
    return date.fromisoformat(value[:10]) if isinstance(value, str) and value else None


def _whole(value: Any) -> float:
    return float(round(value)) if value is not None and not pd.isna(value) else math.nan


def closed_condition(worn: Condition) -> Condition:
    """Return what was worn without any free text."""
    kept = {name: OF_CONDITION[name] for name in worn.facts if name in OF_CONDITION}
    facts = {name: leaving(fact, worn.facts[name]) for name, fact in kept.items()}
    return Condition("", **facts, brace=worn.brace, setting=worn.setting)


def whole_braces(
    conditions: Mapping[PlaceKey, Condition], braces: Mapping[str, Braces]
) -> dict[str, Braces]:
    """Return the braces of each person that are recorded, with those that conditions name."""
    worn: dict[str, list[Mapping[str, Any]]] = {person: [] for person in braces}
    for key, one in conditions.items():
        worn.setdefault(key[0], []).append(one.facts)
    return {person: with_described(braces.get(person, {}), own) for person, own in worn.items()}


def numbered(
    conditions: Mapping[PlaceKey, Condition], braces: Mapping[str, Braces]
) -> dict[PlaceKey, Condition]:
    """Return conditions with numbers in the place of the codes of braces and settings.

    A brace has the number in the order of its person's codes, a setting that among its brace's,
    walked in or not.

    Parameters
    ----------
    braces : mapping of person to braces
        From :func:`whole_braces`.
    """
    found = dict(conditions)
    for key, worn in conditions.items():
        named = named_setting(worn.facts)
        if named is not None:
            own = braces[key[0]]
            brace = sorted(own).index(named[0]) + 1
            setting = sorted(own[named[0]].settings).index(named[1]) + 1
            found[key] = worn.known_as(brace=str(brace), setting=str(setting))
    return found


def _closed_braces(braces: Braces) -> dict[str, Brace]:
    """Return braces and settings by number, with nothing of their words."""
    return {
        str(n): Brace(
            _left("brace", braces[code].facts),
            {
                str(m): _left("setting", braces[code].settings[setting])
                for m, setting in enumerate(sorted(braces[code].settings), 1)
            },
        )
        for n, code in enumerate(sorted(braces), 1)
    }


def _left(part: str, facts: Mapping[str, Any]) -> dict[str, Any]:
    return {n: leaving(OF_BRACE[part][n], v) for n, v in facts.items() if n in OF_BRACE[part]}


def condition_codes(conditions: Mapping[PlaceKey, Condition]) -> dict[PlaceKey, str]:
    """Return a code for each condition that says what was worn and nothing else.

    Returns
    -------
    dict of (person, visit, condition) to str
        ``no-orthosis_shod``, ``orthosis_shod``, ``orthosis_barefoot_aid``; a further one of the
        same person with the same parts and another name ends in ``_2``.
    """
    names: dict[tuple[str, str], dict[str, None]] = {}
    parts = {key: _parts(worn) for key, worn in conditions.items()}
    for key in sorted(parts):
        names.setdefault((key[0], parts[key]), {})[key[2]] = None
    codes = {}
    for key, code in parts.items():
        place = list(names[key[0], code]).index(key[2])
        codes[key] = code if place == 0 else f"{code}_{place + 1}"
    return codes


def _parts(worn: Condition) -> str:
    orthosis = {None: "orthosis-not-recorded", True: "orthosis", False: "no-orthosis"}
    footwear = {None: "footwear-not-recorded", True: "barefoot", False: "shod"}
    aid = level_of(worn.walking_aid, "walking_aid")
    words = [orthosis[worn.is_braced], footwear[worn.is_barefoot]]
    words += ["aid-not-told"] if aid == OTHER else [] if aid in (None, "none") else ["aid"]
    return "_".join(words)


def _walk(walk: CohortWalk, place: PlaceKey, number: int) -> CohortWalk:
    """Return a walk under its new names; what names its file is left out."""
    record = walk.record.known_as(
        walk_id=str(number),
        sha256=f"{number:064d}",
        condition=place[2],
        file_name="",
        part="",
        session=place[1],
    )
    own = original_hash(place[0], walk.record.sha256)
    return replace(walk, person=place[0], visit=place[1], record=record, original_hash=own)


def original_hash(new_id: str, sha256: str) -> str:
    """Return what names an original in an export.

    Whoever holds the file can make it again; two exports, with other ids, have none in common.
    """
    return hashlib.sha256(f"{new_id}:{sha256}".encode()).hexdigest()


def _again(
    known: Sequence[CohortWalk], again: Again, walks: Sequence[WalkRecord], shared: Shared
) -> list[WalkRecord]:
    """Measure walks again that go by their places among those that were known."""
    own = {known[int(walk.walk_id)].record.walk_id: walk for walk in walks}
    found = again([known[int(walk.walk_id)].record for walk in walks], shared)
    return [new.known_as(**_names_of(own[new.walk_id])) for new in found]


def _names_of(walk: WalkRecord) -> dict[str, Any]:
    return {name: getattr(walk, name) for name in _NAMES_OF_WALK}


def _exclusions(exclusions: pd.DataFrame, places: Mapping[PlaceKey, PlaceKey]) -> pd.DataFrame:
    rows = []
    for row in exclusions.to_dict("records"):
        key = (str(row["person"]), str(row["visit"]), str(row["condition"]))
        if key not in places:
            continue
        person, visit, code = places[key]
        rows.append(
            {
                "person": person,
                "visit": visit,
                "condition": code,
                "side": level_of(row["side"], "side") or NOT_RECORDED,
                "kind": level_of(row["kind"], "correction") or OTHER,
                "is_undone": bool(row["is_undone"]),
            }
        )
    table = pd.DataFrame(rows, columns=list(exclusions.columns))
    return table.sort_values(["person", "visit", "condition"], kind="stable", ignore_index=True)
