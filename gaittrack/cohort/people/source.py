"""What a cohort is made of: people, visits, what was worn, walks, exclusions.

Nothing comes in but plain tables and walks; out go :class:`CohortSource` objects, first with the
names a study knows, then (``deidentify.py``) with those an export may show.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Final, NamedTuple, TypeVar

import pandas as pd

from gaittrack.cohort.people.leaving import OF_PERSON, STORED
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.measurement_error.marker_errors import OwnErrors
from gaittrack.compare.typical_values.typical import OwnRange
from gaittrack.compare.walked.same_points import Again
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.notebook_view import Shown
from gaittrack.reasons import Reason
from gaittrack.record.aims import Aims
from gaittrack.record.braces import Braces
from gaittrack.vocabulary import Side

PEOPLE_COLUMNS: Final = ("person", *OF_PERSON)
VISIT_COLUMNS: Final = (
    "person",
    "visit",
    "date",
    "days_since_first_visit",
    "age_years",
    *STORED,
)
EXCLUSION_COLUMNS: Final = ("person", "visit", "condition", "side", "kind", "is_undone")

Key = TypeVar("Key")
Value = TypeVar("Value")
PlaceKey = tuple[str, str, str]
"""Person, visit and condition."""


class LeftOut(NamedTuple):
    """A stride that was not kept, or a whole recording, and why.

    Attributes
    ----------
    side : Side or None
        None for a recording.
    original : str
        Of a study the SHA-256 of the file, else its hash in an export.
    number : int
        Of the stride among all of the recording and side, from 1; 0 for a recording.
    """

    side: Side | None
    reasons: tuple[Reason, ...]
    original: str = ""
    number: int = 0


@dataclass(frozen=True, eq=False, slots=True)
class CohortWalk:
    """One walk of a person.

    Attributes
    ----------
    record : WalkRecord
        Carries the condition, the stride values and the curves.
    software_version : str
        What measured it.
    original_hash : str
        Of the file, as an export shows it; empty before.
    """

    person: str
    visit: str
    record: WalkRecord
    software_version: str
    original_hash: str = ""

    @property
    def place(self) -> PlaceKey:
        """Person, visit and condition."""
        return self.person, self.visit, self.record.condition


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class CohortSource(Shown):
    """Everything an export is made from.

    Attributes
    ----------
    people : DataFrame
        ``PEOPLE_COLUMNS``; text, missing where not recorded.
    visits : DataFrame
        ``VISIT_COLUMNS``, in the order of the visits; ``date`` as ISO 8601 text.
    rejected : mapping of (person, visit, condition) to LeftOut objects
        Also of recordings of which no stride was kept, and recordings without a walk.
    exclusions : DataFrame
        ``EXCLUSION_COLUMNS``: every correction of events and strides a person made.
    damaged : mapping of (person, visit, condition) to int
        Walks that are left out because their stored result is damaged.
    own_errors : OwnErrors or None
        The laboratory's own.
    aims : mapping of person to aims
        In the order in which they were recorded.
    braces : mapping of person to braces
        Each with its settings, whether they were walked in or not.
    typical : mapping of measure name to OwnRange or None
        Likewise: reference values.
    again : Again or None
        Measures walks of the source again on what they share.
    """

    people: pd.DataFrame
    visits: pd.DataFrame
    conditions: Mapping[PlaceKey, Condition]
    walks: tuple[CohortWalk, ...]
    rejected: Mapping[PlaceKey, tuple[LeftOut, ...]]
    exclusions: pd.DataFrame
    own_errors: OwnErrors | None = None
    typical: Mapping[str, OwnRange] | None = None
    damaged: Mapping[PlaceKey, int] = field(default_factory=dict)
    again: Again | None = None
    aims: Mapping[str, Aims] = field(default_factory=dict)
    braces: Mapping[str, Braces] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse tables that lack a column."""
        for name, table, columns in (
            ("people", self.people, PEOPLE_COLUMNS),
            ("visits", self.visits, VISIT_COLUMNS),
            ("exclusions", self.exclusions, EXCLUSION_COLUMNS),
        ):
            missing = [column for column in columns if column not in table.columns]
            if missing:
                raise ValueError(f"{name} lack the columns: {', '.join(missing)}")


def together(parts: Sequence[CohortSource]) -> CohortSource:
    """Return what is known of some people, each part of other ones, as one source without walks."""
    return replace(
        parts[0],
        people=_joined([part.people for part in parts]),
        visits=_joined([part.visits for part in parts]),
        conditions=_merged(part.conditions for part in parts),
        walks=(),
        rejected={},
        exclusions=_joined([part.exclusions for part in parts]),
        damaged=_merged(part.damaged for part in parts),
        again=None,
        aims=_merged(part.aims for part in parts),
        braces=_merged(part.braces for part in parts),
    )


def _merged(parts: Iterable[Mapping[Key, Value]]) -> dict[Key, Value]:
    return dict(chain.from_iterable(part.items() for part in parts))


def _joined(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Return tables as one, each column of the type that it would have were it made at once."""
    return pd.DataFrame(
        {
            name: pd.Series([cell for own in tables for cell in own[name].tolist()])
            for name in tables[0].columns
        }
    )
