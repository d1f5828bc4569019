"""The able-bodied people of a study, and the laboratory's typical values from their walks.

In comes a study, out come its people whose cause is ``able-bodied``, each as their newest visit
shows them without a brace, and why somebody is left out; in come their typical values, and they
become the laboratory's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, NamedTuple

import numpy as np
from sqlalchemy import select

from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.people.source import CohortSource
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.pair import samples_of
from gaittrack.compare.typical_values.own_typical import (
    UNKNOWN_FEET,
    AbleBodied,
    feet_of_most,
    own_typical,
    write_own_typical,
)
from gaittrack.compare.typical_values.typical import (
    Feet,
    OwnRange,
    TypicalRange,
    ages_of,
    typical_ranges,
)
from gaittrack.compare.typical_values.typical_curves import OwnTypical
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.study.laboratory import TYPICAL, put_setting
from gaittrack.study.people.documents import unfolded
from gaittrack.study.store import Study
from gaittrack.study.tables import PERSON
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side

ABLE_BODIED: Final = "able-bodied"
FILE_NAME: Final = "own-typical.toml"
_AS_THEY_LIKED: Final = (None, "comfortable")
_OWN_LEGS: Final = (None, "none")


@dataclass(frozen=True, slots=True)
class AbleBodiedGroup:
    """Who the typical values are of.

    Attributes
    ----------
    people : tuple of AbleBodied
        On the same feet.
    left_out : dict of str to str
        Code of each other able-bodied person, and why they are not among them.
    """

    people: tuple[AbleBodied, ...]
    left_out: dict[str, str]


def able_bodied_source(study: Study) -> CohortSource:
    """Return all that is stored of the able-bodied people of a study."""
    with study.read() as connection:
        rows = connection.execute(select(PERSON)).mappings()
        people = [unfolded("person", row) for row in rows]
    return cohort_source(
        study, people=[each["code"] for each in people if each["cause"] == ABLE_BODIED]
    )


def able_bodied_group(source: CohortSource) -> AbleBodiedGroup:
    """Return of the people of a source those on whose feet most of them stood."""
    found = list(_people(source))
    feet = feet_of_most(found)
    left_out = {str(code): "no walk without brace and aid" for code in source.people["person"]}
    for each in found:
        left_out[each.code] = f"walked {each.feet or UNKNOWN_FEET}"
    taken = tuple(each for each in found if each.feet == feet)
    for each in taken:
        del left_out[each.code]
    return AbleBodiedGroup(taken, left_out)


def typical_of_group(group: AbleBodiedGroup) -> OwnTypical:
    """Return typical values of a group as of today; see :func:`own_typical`."""
    return own_typical(group.people, made_on=date.today().isoformat())


class TypicalRow(NamedTuple):
    """One measure: its own range, and the published one of adults or None."""

    own: OwnRange
    published: TypicalRange | None


def typical_rows(own: OwnTypical) -> list[TypicalRow]:
    """Return the own ranges beside the published ones, to look at before they are taken."""
    published = typical_ranges("adult_18_59")
    return [TypicalRow(each, published.get(name)) for name, each in own.ranges.items()]


def take_typical(study: Study, own: OwnTypical, *, who: str, why: str) -> None:
    """Let typical values be the laboratory's, in place of those it had."""
    row = {"file_name": FILE_NAME, "content": write_own_typical(own)}
    with study.write() as connection:
        put_setting(connection, TYPICAL, row, who=who, why=why)


def _people(source: CohortSource) -> Iterator[AbleBodied]:
    ages = {
        (row["person"], row["visit"]): ages_of(str(row["age_band"] or ""), row["age_years"])
        for row in source.visits.to_dict("records")
    }
    walks: dict[str, dict[str, dict[Feet, list[WalkRecord]]]] = {}
    for walk in source.walks:
        worn = source.conditions[walk.place]
        if _counts(worn):
            of_visit = walks.setdefault(walk.person, {}).setdefault(walk.visit, {})
            of_visit.setdefault(_feet(worn), []).append(walk.record)
    for person, visits in walks.items():
        newest = [visit for at, visit in ages if at == person and visit in visits][-1]
        own = visits[newest]
        feet: Feet = next(each for each in ("in shoes", "barefoot", "") if each in own)
        yield _person(person, feet, own[feet], ages[person, newest])


def _counts(worn: Condition) -> bool:
    """Tell whether somebody walked without a brace and aid, and as fast as they liked."""
    is_own = worn.walking_aid in _OWN_LEGS and worn.hand_support in _OWN_LEGS
    return not worn.is_braced and is_own and worn.speed_instruction in _AS_THEY_LIKED


def _feet(worn: Condition) -> Feet:
    if worn.is_barefoot is None:
        return ""
    return "barefoot" if worn.is_barefoot else "in shoes"


def _person(
    code: str, feet: Feet, walks: Sequence[WalkRecord], ages: tuple[float, float] | None
) -> AbleBodied:
    curves: dict[tuple[Joint, Side], list[FloatArray]] = {}
    for walk in walks:
        for (side, joint), own in walk.curves.items():
            curves.setdefault((joint, side), []).append(own.mean(axis=0))
    values = {key: each.value for key, each in samples_of(walks).items() if each.n_walks}
    speeds = [each.mean_speed_m_s for each in walks if not math.isnan(each.mean_speed_m_s)]
    return AbleBodied(
        code=code,
        feet=feet,
        speed_m_s=sum(speeds) / len(speeds) if speeds else math.nan,
        ages=ages,
        values=values,
        curves={key: np.mean(own, axis=0) for key, own in curves.items()},
    )
