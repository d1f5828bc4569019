"""The answer of a visit as it was kept, in the place of a comparison of its conditions.

In come the conditions of a person and which of them are chosen, out comes what is said first of
their comparison: the answers, what is fair, and no row besides. Only the pair that each visit is
compared by is kept, and only what holds is given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import bindparam, select

from gaittrack import __version__
from gaittrack.answer import Answer, from_stored, to_stored
from gaittrack.cohort.kept.kept_changes import kept_parts
from gaittrack.cohort.kept.person_stamps import person_stamps
from gaittrack.compare.comparison import Comparison, described
from gaittrack.compare.fair.fairness import FairnessNote
from gaittrack.compare.judged.watch import CAUTION
from gaittrack.study.people.documents import unfolded
from gaittrack.study.results.comparing import StoredComparison, StoredCondition, damaged_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import Study
from gaittrack.study.tables import PERSON

ANSWERS: Final = "answers"
FAIR: Final = "fair"
_PERSON: Final = select(PERSON.c.id, PERSON.c.code, PERSON.c.facts).where(
    PERSON.c.id == bindparam("person")
)


@dataclass(frozen=True, eq=False, slots=True)
class KeptAnswer:
    """What is said first of a comparison.

    Attributes
    ----------
    found : StoredComparison
        Without rows, signs, curves and walks.
    told : tuple of Answer
        Of each condition against the reference.
    """

    found: StoredComparison
    told: tuple[Answer, ...]


def fair_part(found: StoredComparison) -> dict[str, Any]:
    """Return as plain values what is kept of a comparison beside its answers."""
    walks = Counter(walk["condition"] for walk in found.comparison.settings["walks"])
    return {"notes": list(map(to_stored, found.comparison.fairness)), "walks": dict(walks)}


def kept_answer(
    study: Study, conditions: Sequence[StoredCondition], choice: ComparisonChoice
) -> KeptAnswer | None:
    """Return the answer of what is chosen, as it was kept and still holds.

    Parameters
    ----------
    conditions : sequence of StoredCondition
        Of the person, all of them.

    Returns
    -------
    KeptAnswer or None
        None where it has to be compared: nothing is kept that holds, another pair is chosen, or a
        stored result is damaged.
    """
    own = [each for each in conditions if each.id in choice.conditions]
    visits = {each.visit_id for each in own}
    if len(visits) != 1 or choice != first_choice(conditions, visits=visits):
        return None
    if damaged_of(study, choice.conditions):
        return None
    person = own[0].person_id
    with study.read() as connection:
        stamps = person_stamps(connection, [person])
        kept, _ = kept_parts(connection, [ANSWERS, FAIR], stamps, [person])
        row = connection.execute(_PERSON, {"person": person}).mappings().first()
    if row is None:
        return None
    parts = kept.get(row["code"], {})
    told, fair = (parts.get(name, {}).get(own[0].visit) for name in (ANSWERS, FAIR))
    if not told or isinstance(told, str) or fair is None:
        return None
    about = unfolded("person", row)
    found = _comparison(own, choice, fair, about["cause"])
    names = {each.id: each.code for each in own}
    stored = StoredComparison(found, (), names, about["code"], {}, frozenset())
    return KeptAnswer(stored, tuple(from_stored(Answer, one) for one in told))


def _comparison(
    own: Sequence[StoredCondition],
    choice: ComparisonChoice,
    fair: Mapping[str, Any],
    cause: object,
) -> Comparison:
    worn = {each.code: described(each.worn) for each in own}
    reference = next(each.code for each in own if each.id == choice.reference)
    settings = {
        "gaittrack_version": __version__,
        "reference": reference,
        "conditions": {reference: worn.pop(reference), **worn},
        "caution": CAUTION,
        "walks": [{"condition": name} for name, n in fair["walks"].items() for _ in range(n)],
        "cause": cause,
    }
    notes = tuple(from_stored(FairnessNote, note) for note in fair["notes"])
    return Comparison((), (), (), notes, (), settings)
