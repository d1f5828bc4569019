"""What is asked of a cohort: one measure, one pair of conditions, one side, some people.

In come words that were chosen, out comes the question as a sentence has it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from gaittrack.cohort.tables.selection import Selection

SIDES: Final = {
    "affected": "affected side",
    "other": "other side",
    "not recorded": "side not recorded as affected or not",
}
"""What the sides of people may be called, and what that is in words."""
_CODE_WORDS: Final = {
    "orthosis": "with brace",
    "no-orthosis": "without brace",
    "orthosis-not-recorded": "brace not recorded",
    "shod": "in shoes",
    "barefoot": "barefoot",
    "footwear-not-recorded": "footwear not recorded",
    "aid": "with walking aid",
}
"""Parts of the codes of ``gaittrack.cohort.people.deidentify.condition_codes``."""
_CODE: Final = re.compile(
    r"(?<![\w-])(?:no-)?orthosis(?:-not-recorded)?_(?:shod|barefoot|footwear-not-recorded)"
    r"(?:_aid)?(?:_\d+)?(?![\w-])"
)


@dataclass(frozen=True, slots=True)
class CohortQuestion:
    """What was asked.

    Attributes
    ----------
    side_role : str
        One of :data:`SIDES`.
    pair : tuple
        Codes of condition and reference.
    """

    selection: Selection
    measure: str
    side_role: str
    pair: tuple[str, str]

    @property
    def shown(self) -> dict[str, Any]:
        """What ``selected_changes`` and ``selected_statistics`` are asked for."""
        return {
            "measures": (self.measure,),
            "side_roles": (self.side_role,),
            "pair": self.pair,
        }

    @property
    def names(self) -> tuple[str, str]:
        """What the two conditions of the pair are called."""
        return condition_words(self.pair[0]), condition_words(self.pair[1])

    @property
    def who(self) -> str:
        """Who and which visits are meant."""
        return who_words(self.selection, self.side_role)


def who_words(selection: Selection, side_role: str) -> str:
    """Return who and which visits are meant, in words.

    Examples
    --------
    >>> who_words(Selection(visit_no=(1,)), "affected")
    'everybody, affected side, visit 1'
    """
    people = (each for each in fields(selection) if each.name not in ("visit_no", "visit_kind"))
    named = [_either(getattr(selection, each.name)) for each in people]
    kinds = _either(selection.visit_kind)
    visits = (
        f"visit {_either(selection.visit_no)}" if selection.visit_no else "first visit there is"
    )
    parts = [", ".join(filter(None, named)) or "everybody", SIDES[side_role], visits]
    return ", ".join([*parts, *filter(None, [kinds])])


def _either(words: Sequence[Any]) -> str:
    return " or ".join(map(str, words))


def condition_words(code: str) -> str:
    """Return what a condition code of the export says, in plain words.

    Examples
    --------
    >>> condition_words("orthosis_barefoot_aid_2")
    'with brace, barefoot, with walking aid, kind 2'
    """
    return ", ".join(_CODE_WORDS.get(part, f"kind {part}") for part in code.split("_"))


def plain_codes(text: str) -> str:
    """Return a text with the condition codes in it in plain words."""
    return _CODE.sub(lambda found: condition_words(found[0]), text)
