"""What is known of the error of everyday outcomes, as published: by outcome and by people.

Nothing comes in but ``outcomes.toml``, out go :class:`OutcomeLine` objects by the name of the fact.
Which figure a person is judged by: one of people with the same cause, else one of anybody, else the
largest there is; whose it is, is always said.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Final


@dataclass(frozen=True, slots=True)
class PublishedError:
    """One figure.

    Attributes
    ----------
    causes : tuple of str or None
        Of the list ``cause``, whose it is; None for anybody.
    least, percent : float
        Smallest change past error in the unit of the outcome, and in per cent of the mean of both;
        the larger one counts.
    people, source : str
        How many of whom, and where from.
    """

    causes: tuple[str, ...] | None
    least: float
    percent: float
    people: str
    source: str

    def of_values(self, value: float, reference_value: float) -> float:
        """Return the smallest change past error between two values."""
        return max(self.least, self.percent / 100 * abs(value + reference_value) / 2)

    def is_of(self, cause: object) -> bool:
        """Tell whether it was measured in people with a cause."""
        return self.causes is None or cause in self.causes


@dataclass(frozen=True, slots=True)
class OutcomeLine:
    """How one outcome is told.

    Attributes
    ----------
    unit : str
        Where it is not that of the fact.
    over_m : float
        Metres over which seconds are told as a speed; 0 where they are not.
    """

    unit: str
    over_m: float
    decimals: int
    errors: tuple[PublishedError, ...]

    def error_for(
        self, cause: object, value: float, reference_value: float
    ) -> PublishedError | None:
        """Return the figure that a change of somebody is judged by; None where none is known."""
        known = [each for each in self.errors if each.causes is not None and each.is_of(cause)]
        known = known or [each for each in self.errors if each.causes is None] or [*self.errors]
        return max(known, key=lambda each: each.of_values(value, reference_value), default=None)


def _error(row: Mapping[str, Any]) -> PublishedError:
    causes = tuple(row["causes"]) if "causes" in row else None
    least, percent = float(row.get("least", 0)), float(row.get("percent", 0))
    return PublishedError(causes, least, percent, row["people"], row["source"])


def _line(row: Mapping[str, Any]) -> OutcomeLine:
    return OutcomeLine(
        unit=row.get("unit", ""),
        over_m=float(row.get("over_m", 0)),
        decimals=row.get("decimals", 0),
        errors=tuple(map(_error, row.get("errors", ()))),
    )


def _lines() -> dict[str, OutcomeLine]:
    text = (files("gaittrack.record") / "outcomes.toml").read_text(encoding="utf-8")
    return {name: _line(row) for name, row in tomllib.loads(text).items()}


OUTCOMES: Final = _lines()
"""Facts that are everyday outcomes, by name, in the order in which they are told."""


def told_errors(name: str, unit: str) -> str:
    """Return every figure of a fact in words; empty without any.

    Parameters
    ----------
    unit : str
        Of the fact.
    """
    line = OUTCOMES.get(name)
    if line is None:
        return ""
    own = line.unit or unit.removeprefix("1")
    return "; ".join(f"{_figure(e, own)} in {e.people} ({e.source})" for e in line.errors)


def _figure(error: PublishedError, unit: str) -> str:
    parts = [f"{error.least:g} {unit}".rstrip()] if error.least else []
    parts += [f"{error.percent:g} %"] if error.percent else []
    return " or ".join(parts)
