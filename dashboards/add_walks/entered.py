"""What stands in the fields of the screen Add walks when something is pressed.

In come the values that a browser sends with each press, out come person, visit, what was worn and
the form as a conditions file would hold it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from dash import State

from dashboards.add_walks.step_strip import About
from dashboards.add_walks.visit_form import EVERY_FIELD, worn_of, worn_words
from dashboards.parts.fact_fields import NAME, Form, read_fields

FIELDS: Final = (
    State("add-walks-basket", "data"),
    State("add-walks-known", "data"),
    State("add-walks-person", "value"),
    State("add-walks-visit-code", "value"),
    State(EVERY_FIELD, "id"),
    State(EVERY_FIELD, "value"),
)
"""What each callback asks for, in the order of :class:`Entered`."""


@dataclass(frozen=True, slots=True)
class Entered:
    """What stands in the fields.

    Attributes
    ----------
    basket : str
        Its secret number.
    known : mapping or None
        What the study knows of the person; see ``screen.py``.
    keys, values : sequence
        Of the fields of the form.
    """

    basket: str
    known: Mapping[str, Any] | None
    person: str | None
    visit: str | None
    keys: Sequence[Mapping[str, Any]]
    values: Sequence[Any]

    @property
    def about(self) -> About:
        """Who and which visit."""
        return About((self.person or "").strip(), (self.visit or "").strip(), self.known or {})

    @property
    def form(self) -> Form:
        """What was filled in."""
        return read_fields(self.keys, self.values)

    @property
    def worn(self) -> dict[str, dict[str, Any]]:
        """What was worn, by the name of the condition; one without a name is not there yet."""
        return {str(one[NAME]): one for one in worn_of(self.form) if one.get(NAME)}

    @property
    def worn_words(self) -> dict[str, str]:
        """What was worn in a few words, by the name of the condition."""
        return {name: worn_words(one) for name, one in self.worn.items()}

    @property
    def affected(self) -> str | None:
        """The affected side; None where it is not said."""
        said = self.form.get(("person", 0), {}).get("affected_side")
        found: str | None = said or (self.known or {}).get("affected_side")
        return found
