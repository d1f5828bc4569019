"""Hold of a whole study what disclosure control counts, and no more, however large it is.

In come sources of some people at a time, by the study's names, out comes one closed source of all
of them: without walks, aims and results of tests; what several wore alike is held once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from gaittrack.cohort.disclosure.known_facts import EXAMINED, SEEN
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.source import CohortSource, together
from gaittrack.compare.fair.condition import Condition
from gaittrack.record.braces import Brace

_COUNTED: Final = frozenset((*SEEN, *EXAMINED))
_TELLS_A_BRACE: Final = ("orthosis", "brace", "setting")
"""So begin the facts by which it is known that one was worn, and which."""


def counted(parts: Iterable[CohortSource]) -> CohortSource:
    """Return what is counted of people.

    Parameters
    ----------
    parts : iterable of CohortSource
        At least one, as a study gives them, each of other people than the one before; in the order
        of their names.
    """
    shared: dict[Condition, Condition] = {}
    return together([_counted_of(part, shared) for part in parts])


def _counted_of(part: CohortSource, shared: dict[Condition, Condition]) -> CohortSource:
    bare = replace(
        part,
        walks=(),
        rejected={},
        damaged={},
        exclusions=part.exclusions.iloc[:0],
        again=None,
        aims={},
    )
    own = closed(bare, {str(person): str(person) for person in part.people["person"]})
    worn = {key: Condition(one.name, **_kept(one.facts)) for key, one in own.conditions.items()}
    return replace(
        own,
        conditions={key: shared.setdefault(one, one) for key, one in worn.items()},
        braces={
            person: {code: _counted_brace(brace) for code, brace in braces.items()}
            for person, braces in own.braces.items()
        },
    )


def _counted_brace(brace: Brace) -> Brace:
    settings = {code: _kept(facts) for code, facts in brace.settings.items()}
    return Brace(_kept(brace.facts), settings)


def _kept(facts: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: value
        for name, value in facts.items()
        if name in _COUNTED or name.startswith(_TELLS_A_BRACE)
    }
