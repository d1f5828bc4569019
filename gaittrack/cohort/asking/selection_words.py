"""The words that a selection may name in a study.

In come the closed tables of a study, out come the words that occur, or a refusal of one that cannot
occur: whoever mistypes one of two words would miss people.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import pandas as pd

from gaittrack.cohort.release.dictionary import TABLES
from gaittrack.cohort.tables.selection import Selection
from gaittrack.errors import StudyError

_LEVELS: Final = {field.name: field.levels for field in TABLES["people"]} | {
    "visit_kind": next(field.levels for field in TABLES["visits"] if field.name == "kind")
}
"""Words that a field of a selection could have in an export, whether anybody has them or not."""


def words_there(
    people: pd.DataFrame, *, kinds: Iterable[str], numbers: Iterable[int], codes: Iterable[str]
) -> dict[str, list[str]]:
    """Return for each field of a :class:`Selection` the words that occur, sorted.

    Parameters
    ----------
    people : DataFrame
        From ``table.people_table``.
    kinds, numbers : iterables
        Of the visits.
    codes : iterable of str
        Of the conditions.
    """
    names = ("sex", "cause", "affected_side", "age_band")
    classes = {word for worn in people["brace_classes"] for word in worn.split("; ")}
    return {name: sorted(set(people[name])) for name in names} | {
        "brace_classes": sorted(classes),
        "visit_kind": sorted(set(kinds)),
        "visit_no": [str(number) for number in sorted(set(numbers))],
        "condition_code": sorted(set(codes)),
    }


def refuse_unknown(selection: Selection, there: Mapping[str, Sequence[str]]) -> None:
    """Refuse a word that neither occurs nor could.

    Parameters
    ----------
    there : mapping of field to words
        From :func:`words_there`; of fields that are not in it any word may be chosen.

    Raises
    ------
    StudyError
        The message names the words that there are.
    """
    for name, words in there.items():
        known = {*words, *_LEVELS.get(name, ())}
        strange = [str(word) for word in getattr(selection, name) if str(word) not in known]
        if strange:
            raise StudyError.of(
                "no_such_word_in_study",
                where=name.replace("_", " "),
                strange=", ".join(strange),
                words=", ".join(words) or "none",
            )
