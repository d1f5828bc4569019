"""A brace as a thing with a history: made, fitted, changed from setting to setting, ended.

In come facts by code, out come the facts of what was worn, whole; what cannot have been, such as a
change before the fitting, is refused with the fact that says so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from gaittrack.errors import FactError, LayoutError
from gaittrack.lab_files import refuse_unknown
from gaittrack.record.checking import check_all
from gaittrack.record.registry import CONDITION, FACTS
from gaittrack.record.wording import fact_label

FIRST_SETTING: Final = "a"
"""What the setting of a brace is called where nobody names it."""
_SETTINGS: Final = "settings"
_MADE, _FITTED, _ENDED = "orthosis_made_on", "orthosis_fitted_on", "orthosis_ended_on"
_ADJUSTED: Final = "orthosis_adjusted_on"

FactsByCode = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Brace:
    """A brace of a person.

    Attributes
    ----------
    facts : mapping of str to value
        Of the brace, whatever its setting.
    settings : mapping of str to mapping
        Facts of each setting by its code.
    """

    facts: Mapping[str, Any] = field(default_factory=dict)
    settings: FactsByCode = field(default_factory=dict)


Braces = Mapping[str, Brace]


@dataclass(frozen=True, slots=True)
class Worn:
    """When a brace was worn in which setting."""

    brace: str
    setting: str
    day: str | None
    place: str


def parse_braces(table: Mapping[str, Any], where: str) -> dict[str, Brace]:
    """Return the braces of a conditions file: ``[braces.B1]``, ``[braces.B1.settings.a]``.

    Raises
    ------
    LayoutError
        No tables, an unknown key or a value of the wrong kind.
    """
    return {
        code: _parsed(dict(row), f"{where} [braces.{code}]")
        for code, row in _tables(table.get("braces", {}), f"{where} [braces]")
    }


def _parsed(row: dict[str, Any], where: str) -> Brace:
    settings = _tables(row.pop(_SETTINGS, {}), f"{where} {_SETTINGS}")
    return Brace(
        _checked("brace", row, where),
        {code: _checked("setting", own, f"{where} {_SETTINGS}.{code}") for code, own in settings},
    )


def _tables(value: Any, where: str) -> list[tuple[str, Mapping[str, Any]]]:
    if not isinstance(value, Mapping) or not all(isinstance(v, Mapping) for v in value.values()):
        raise LayoutError.of("no_table", where=where)
    return list(value.items())


def _checked(part: str, row: Mapping[str, Any], where: str) -> dict[str, Any]:
    refuse_unknown(row, FACTS[part], where)
    return check_all(FACTS[part], row, where)


def of_part(facts: Mapping[str, Any], *parts: str) -> dict[str, Any]:
    """Return those facts of a condition that are of the condition itself, a brace or a setting."""
    return {name: value for name, value in facts.items() if CONDITION[name].of in parts}


def named_setting(facts: Mapping[str, Any]) -> tuple[str, str] | None:
    """Return brace and setting that a condition names; None where it names no brace."""
    brace = facts.get("brace")
    return None if brace is None else (brace, facts.get("setting") or FIRST_SETTING)


def whole_facts(facts: Mapping[str, Any], braces: Braces, where: str) -> dict[str, Any]:
    """Return the facts of a condition with those of the brace and setting that it names.

    Raises
    ------
    FactError
        The condition says otherwise than its brace, or names a setting and no brace.
    """
    named = named_setting(facts)
    if named is None:
        if "setting" in facts:
            raise FactError.about("setting", "setting_of_no_brace", where=where)
        return dict(facts)
    found = dict(facts) | {"setting": named[1]}
    brace = braces.get(named[0], Brace())
    for name, value in {**brace.facts, **brace.settings.get(named[1], {})}.items():
        if found.setdefault(name, value) != value:
            raise FactError.about(
                name,
                "brace_says_otherwise",
                where=where,
                said=found[name],
                there=value,
                brace=named[0],
                setting=named[1],
            )
    return found


def with_described(braces: Braces, conditions: Iterable[Mapping[str, Any]]) -> dict[str, Brace]:
    """Return braces with what conditions say of those that they name.

    Parameters
    ----------
    conditions : iterable of mapping
        Facts, from :func:`whole_facts`.
    """
    found = {code: Brace(dict(b.facts), dict(b.settings)) for code, b in braces.items()}
    for facts in conditions:
        named = named_setting(facts)
        if named is None:
            continue
        before = found.get(named[0], Brace())
        setting = {**before.settings.get(named[1], {}), **of_part(facts, "setting")}
        own = {**before.facts, **of_part(facts, "brace")}
        found[named[0]] = Brace(own, {**before.settings, named[1]: setting})
    return found


def refuse_impossible(braces: Braces, worn: Collection[Worn], where: str) -> None:
    """Refuse days that cannot be: a change before the fitting, a brace worn before it was made.

    Raises
    ------
    FactError
    """
    for code, brace in braces.items():
        place = f"{where}/{code}"
        known = [
            (name, brace.facts[name]) for name in (_MADE, _FITTED, _ENDED) if name in brace.facts
        ]
        _refuse_disorder(known, place)
        for setting, facts in brace.settings.items():
            _check_setting(brace, setting, facts, place)
        for each in (one for one in worn if one.brace == code and one.day is not None):
            _check_worn(brace, each)


def _refuse_disorder(known: list[tuple[str, str]], place: str) -> None:
    """Refuse days that are not in order; the later fact is the one that is told."""
    for (first, day), (name, later) in zip(known, known[1:], strict=False):
        if later < day:
            raise FactError.about(
                name,
                "day_before_other",
                where=place,
                day=later,
                first=fact_label(CONDITION[first]),
                other=day,
            )


def _check_setting(brace: Brace, setting: str, facts: Mapping[str, Any], place: str) -> None:
    day = facts.get(_ADJUSTED)
    for name in (_MADE, _FITTED):
        known = [(name, brace.facts[name]), (_ADJUSTED, day)] if name in brace.facts else []
        _refuse_disorder(known if day is not None else [], f"{place}/{setting}")
    if day is not None and _ENDED in brace.facts:
        _refuse_disorder([(_ADJUSTED, day), (_ENDED, brace.facts[_ENDED])], place)


def _check_worn(brace: Brace, worn: Worn) -> None:
    day = str(worn.day)
    setting = brace.settings.get(worn.setting, {})
    for name, known in ((_MADE, brace.facts.get(_MADE)), (_ADJUSTED, setting.get(_ADJUSTED))):
        if known is not None and day < known:
            raise FactError.about(name, "worn_before", where=worn.place, day=day, known=known)
    ended = brace.facts.get(_ENDED)
    if ended is not None and ended < day:
        raise FactError.about(_ENDED, "worn_after", where=worn.place, day=day, known=ended)
