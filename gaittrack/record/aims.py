"""What a fitting is for: one of the eight questions, or own words, and how far it was reached.

In come facts by code, out come the same, checked; two aims alike, and one that says nothing, are
refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from gaittrack.errors import FactError, LayoutError
from gaittrack.lab_files import refuse_unknown
from gaittrack.record.checking import check_all
from gaittrack.record.meant_words import folded_word
from gaittrack.record.registry import FACTS

Aims = Mapping[str, Mapping[str, Any]]


def parse_aims(table: Mapping[str, Any], where: str) -> dict[str, dict[str, Any]]:
    """Return the aims of a conditions file, ``[aims.A1]``, by code.

    Raises
    ------
    LayoutError
        No tables, an unknown key or a value of the wrong kind.
    """
    own = table.get("aims", {})
    if not isinstance(own, Mapping) or not all(isinstance(each, Mapping) for each in own.values()):
        raise LayoutError.of("no_table", where=f"{where} [aims]")
    return {code: checked_aim(facts, f"{where} [aims.{code}]") for code, facts in own.items()}


def checked_aim(facts: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return the facts of an aim as they are stored."""
    refuse_unknown(facts, FACTS["aim"], where)
    return check_all(FACTS["aim"], facts, where)


def refuse_alike(aims: Aims, where: str) -> None:
    """Refuse two aims alike, an aim that says nothing, and a rating before the aim was set.

    Raises
    ------
    FactError
    """
    seen: dict[str, str] = {}
    for code, facts in aims.items():
        place = f"{where}/{code}"
        said = [facts[n] for n in ("aim_question", "aim_words") if str(facts.get(n) or "").strip()]
        if not said:
            raise FactError.about("aim_question", "aim_says_nothing", where=place)
        for each in map(folded_word, said):
            if each in seen:
                name = "aim_question" if "aim_question" in facts else "aim_words"
                raise FactError.about(name, "two_aims_alike", where=place, other=seen[each])
            seen[each] = code
        since, rated = facts.get("aim_set_on"), facts.get("aim_rated_on")
        if since is not None and rated is not None and rated < since:
            raise FactError.about(
                "aim_rated_on", "rated_before_set", where=place, day=rated, other=since
            )
