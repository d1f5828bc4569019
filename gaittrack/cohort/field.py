"""What the data dictionary says of one column.

Nothing comes in but words, out go :class:`Field` objects.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from gaittrack.cohort.closed_words import OTHER
from gaittrack.compare.condition import NOT_RECORDED

FieldType = Literal["string", "number", "integer", "boolean"]


@dataclass(frozen=True, slots=True)
class Field:
    """One column.

    Attributes
    ----------
    unit : str
        UCUM code; empty where there is none.
    source : str
        Where the definition comes from; empty for plain facts.
    measurement_error : str
        Smallest difference that exceeds measurement error, with its source.
    levels : tuple of str
        All values a text can have; empty when it is not a closed list.
    is_reasons : bool
        Whether the text is codes that the table ``reasons`` explains.
    """

    name: str
    type: FieldType
    definition: str
    unit: str = ""
    source: str = ""
    measurement_error: str = ""
    levels: tuple[str, ...] = ()
    is_reasons: bool = False


def reasons_field(name: str, definition: str) -> Field:
    """Return a column that holds codes of reasons."""
    codes = "codes, explained in the table reasons; in brackets those of the reasons within"
    return Field(name, "string", f"{definition}: {codes}", is_reasons=True)


def words_of(levels: Mapping[str, object]) -> tuple[str, ...]:
    """Return the words of a closed list, with ``other`` and "not recorded"."""
    return (*levels, OTHER, NOT_RECORDED)
