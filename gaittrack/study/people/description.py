"""Who was recorded when, and what was worn: the words beside the files of one visit.

In comes a conditions file (TOML) or the words of a sheet, out comes a checked :class:`Visit`.
A brace without a side, or on the sound side, is refused before any file is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from gaittrack.compare.fair.condition import Condition, parse_conditions
from gaittrack.errors import DiffersError, LayoutError, StudyError, UntoldFactError
from gaittrack.lab_files import read_toml, refuse_unknown
from gaittrack.record.aims import Aims, Rated, parse_aims, rated_at, refuse_alike
from gaittrack.record.braces import (
    Brace,
    Braces,
    Worn,
    named_setting,
    parse_braces,
    refuse_impossible,
    whole_facts,
    with_described,
)
from gaittrack.record.checking import check_all, refuse_contradictions
from gaittrack.record.legs import onto_legs, with_legs
from gaittrack.record.registry import FACTS, LEG
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.vocabulary import CODE_LENGTH

AT_THE_VISIT: Final = ("age_years", "age_band", "height_cm", "mass_kg", "months_since_onset")
"""Facts of a person that change: written under [person], kept with the visit."""
UNDER_VISIT: Final = tuple(name for name in (*FACTS["visit"], *LEG) if name not in AT_THE_VISIT)
"""What may stand under [visit]: also what was examined of the affected leg, by its plain name."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit of one person as it is described beside the files.

    Attributes
    ----------
    person_facts, facts : dict of str to value
        Of the person and of the visit, as they are stored.
    conditions : dict of str to Condition
        Empty when nothing describes them.
    braces : dict of str to Brace
        Also those that conditions name, with what these say of them.
    aims : dict of str to dict
        Facts by code.
    is_described : bool
        A [person] table vouches for the code.
    """

    person: str
    code: str
    person_facts: dict[str, Any] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)
    conditions: dict[str, Condition] = field(default_factory=dict)
    is_described: bool = False
    braces: dict[str, Brace] = field(default_factory=dict)
    aims: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def things(self) -> tuple[Braces, Aims]:
        """Its braces and aims."""
        return self.braces, self.aims

    @property
    def worn(self) -> list[Worn]:
        """When each brace was worn."""
        place, day = f"{self.person}/{self.code}", self.facts.get("date")
        named = {name: named_setting(one.facts) for name, one in self.conditions.items()}
        return [Worn(*each, day, f"{place}/{n}") for n, each in named.items() if each is not None]

    @property
    def rated(self) -> Rated:
        """Which aims were rated at it."""
        return rated_at(self.facts, f"{self.person}/{self.code}")


def read_visit(path: Path) -> Visit:
    """Read the conditions file of a visit folder ``PERSON/VISIT``.

    Parameters
    ----------
    path : Path
        TOML with ``[person]``, ``[visit]`` and ``[conditions.NAME]``.

    Raises
    ------
    LayoutError
        Not readable, an unknown key or a value of the wrong kind.
    StudyError
        The person's code is not that of the folder.
    """
    folder, where = path.resolve().parent, path.name
    action = "Give a TOML file with [person], [visit] and [conditions.NAME]."
    table = read_toml(path, "conditions file", action)
    conditions = parse_conditions(table, where=where)
    person = dict(table.get("person", {}))
    code = str(person.pop("code", folder.parent.name))
    if code != folder.parent.name:
        raise StudyError.of(
            "code_differs_from_folder",
            where=f"{where} [person] code",
            code=code,
            name=folder.parent.name,
        )
    visit = dict(table.get("visit", {}))
    things = parse_braces(table, where), parse_aims(table, where)
    described = "person" in table
    return make_visit(
        code, folder.name, person, visit, conditions, where, is_described=described, things=things
    )


def described_facts(path: Path) -> VisitFacts:
    """Return what a conditions file says of its visit, whatever folder it lies in.

    Raises
    ------
    LayoutError
        Not readable, an unknown key or a value of the wrong kind.
    """
    table = read_toml(path, "conditions file", "Give a TOML file with [person] and [visit].")
    told = table.get("person", {}).get("affected_side")
    person = {"affected_side": told} if told in FACTS["person"]["affected_side"].words else {}
    code = path.resolve().parent.name
    found = make_visit("person", code, person, table.get("visit", {}), {}, path.name)
    facts = {name: found.facts.get(name) for name in FACTS["visit"]}
    return VisitFacts(0, code, facts, person.get("affected_side"))


def make_visit(
    person: str,
    code: str,
    about_person: Mapping[str, Any],
    about_visit: Mapping[str, Any],
    conditions: Mapping[str, Condition],
    where: str,
    *,
    is_described: bool = False,
    things: tuple[Braces, Aims] = ({}, {}),
) -> Visit:
    """Check the words about a visit and sort them into its tables.

    Parameters
    ----------
    about_person, about_visit : mapping
        As under [person] and [visit].
    where : str
        What to call the source in an error.
    things : (braces, aims)
        As they are stored, beside those that conditions name.

    Raises
    ------
    LayoutError
        An unknown key, a value of the wrong kind, or facts that cannot be.
    """
    braces = with_described(things[0], [one.facts for one in conditions.values()])
    for name in (person, code, *conditions, *_codes(braces), *things[1]):
        check_code(name, where)
    refuse_unknown(about_person, (*FACTS["person"], *AT_THE_VISIT), f"{where} [person]")
    laid_open = with_legs(about_visit, f"{where} [visit]")
    refuse_unknown(laid_open, UNDER_VISIT, f"{where} [visit]")
    own = {key: about_person[key] for key in FACTS["person"] if key in about_person}
    own = check_all(FACTS["person"], own, f"{where} [person]")
    facts = {key: value for key, value in about_person.items() if key in AT_THE_VISIT}
    of_visit = onto_legs(laid_open, own.get("affected_side"), f"{where} [visit]")
    checked = check_all(FACTS["visit"], facts | of_visit, f"{where} [visit]")
    refuse_contradictions(checked, f"{where} [visit]")
    whole = {
        name: Condition(name, **whole_facts(one.facts, braces, f"{where} [conditions.{name}]"))
        for name, one in conditions.items()
    }
    aims = {name: dict(facts) for name, facts in things[1].items()}
    visit = Visit(person, code, own, checked, whole, is_described, braces, aims)
    refuse_impossible(braces, visit.worn, person)
    refuse_alike(aims, person)
    return visit


def _codes(braces: Braces) -> list[str]:
    return [name for code, brace in braces.items() for name in (code, *brace.settings)]


def check_code(name: str, where: str) -> None:
    """Refuse a code that cannot name a person, visit, condition or trial."""
    if not name.strip() or len(name) > CODE_LENGTH or not name.isprintable():
        raise LayoutError.of("not_a_code", where=where, name=name[:40], code_length=CODE_LENGTH)


def check_brace(
    condition: Condition | None, affected_side: str | None, place: str, *, is_whole: bool = True
) -> None:
    """Refuse a brace whose side is missing, or is not the affected one.

    Parameters
    ----------
    is_whole : bool
        Whether everything is told here of a brace that is named: a study may know its side.

    Raises
    ------
    StudyError
    """
    if condition is None or not condition.is_braced:
        return
    side = condition.orthosis_side
    if side is None and not is_whole and condition.brace is not None:
        return
    if side is None:
        raise UntoldFactError.about("orthosis_side", "brace_without_side", where=place)
    if affected_side in ("left", "right") and side not in (affected_side, "both"):
        raise DiffersError.about(
            "orthosis_side",
            "brace_on_other_side",
            where=place,
            side=side,
            affected_side=affected_side,
        )
