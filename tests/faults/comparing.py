"""What a fault in the walks of one condition makes of a comparison in which nothing differs.

Walks of one person in one condition are split in two; the fault is planted in one half. A change
that is called larger, or a sign that fires, and did not before, was made by the fault.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from gaittrack.compare.comparison import Comparison, compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.verdict import LARGER, NOT_COMPARABLE, NOT_DEFINED, NOT_TRUSTED
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.errors import ComparisonError
from gaittrack.kinematics.shared import Shared
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Trial
from gaittrack.walk_records import walk_records
from tests.faults.faults import Fault, Refused
from tests.faults.good_recordings import RECIPES, SAMPLES, Good, read

REFERENCE: Final = "first half"
OWN: Final = "second half"
N_SIMULATED: Final = 6
NO_VERDICT: Final = (NOT_TRUSTED, NOT_COMPARABLE, NOT_DEFINED)
NOT_TELLING: Final = frozenset(
    {"few_walks", "few_strides", "speed_differs", "contact_type_differs", "speed_not_known"}
)
"""Notes that a fault may raise without anybody learning of it."""
UNKNOWABLE_BESIDE_OTHERS: Final = ("another person", "sheet", "curves")
"""Kinds of faults that the person's other walks cannot show either, where one walk cannot."""
WORN: Final = {
    name: Condition(name, markers_replaced=False, footwear="shoe", same_footwear=True)
    for name in (REFERENCE, OWN)
}
"""Markers left on: the smallest error there is."""

Outcome = Literal["no claim", "no verdict", "refused", "told", "not knowable", "SILENT"]
Claim = tuple[str, ...]


@dataclass(frozen=True)
class Person:
    """Walks of one person in one condition, all right."""

    name: str
    walks: tuple[Trial, ...]
    standing: Trial | None = None

    @property
    def is_of_sheets(self) -> bool:
        """Whether there are angles in time only."""
        return bool(self.walks[0].angles) and not self.walks[0].markers

    @property
    def is_of_curves(self) -> bool:
        """Whether there are curves over the cycle only."""
        return bool(self.walks[0].curves)

    @property
    def halves(self) -> tuple[tuple[Trial, ...], tuple[Trial, ...]]:
        """First and second half of the walks."""
        half = len(self.walks) // 2
        return self.walks[:half], self.walks[half:]


def people() -> Iterator[Person]:
    """Give people with several walks of one condition, recorded as they should be."""
    for visit, condition in (("P01/visit-1", "without-brace"), ("P02/visit-1", "with-brace")):
        files = sorted((SAMPLES / visit / condition).glob("walk-*.c3d"))
        still = read(SAMPLES / visit / "standing" / f"{condition}.c3d")
        yield Person(f"{visit} {condition}", tuple(map(read, files)), still)
    for person in ("P03", "P04"):
        files = sorted((SAMPLES / person / "visit-1" / "without-brace").glob("walk-*.*"))
        yield Person(f"{person}/visit-1 without-brace", tuple(map(read, files)))
    for name, recipe in RECIPES.items():
        yield Person(name, simulated(recipe, seed=40))


def simulated(recipe: WalkRecipe, *, seed: int, n: int = N_SIMULATED) -> tuple[Trial, ...]:
    """Return so many walks of one recipe."""
    longer = replace(recipe, n_strides=max(recipe.n_strides, 4))
    return tuple(simulate_walk(longer, seed=seed + number).trial for number in range(n))


class Halves:
    """One person's walks, measured once, to compare with walks that went wrong."""

    def __init__(self, person: Person, *, uses_standing: bool = False) -> None:
        self.person = person
        self.standing = person.standing if uses_standing else None
        first, second = person.halves
        self.reference = [self._measured(REFERENCE, n, trial) for n, trial in enumerate(first)]
        self.own = [self._measured(OWN, n, trial) for n, trial in enumerate(second)]
        self.clean = claims(compared([*self.reference, *self.own]))

    def _measured(
        self, condition: str, number: int, trial: Trial, standing: Trial | None = None
    ) -> MeasuredWalk | None:
        file = InputFile(Path(f"{condition}-{number}.c3d"))
        given = standing or self.standing
        found = measure_recording(Recording(file), trial=lambda: trial, standing=given)
        return found if isinstance(found, MeasuredWalk) else None

    def run(self, fault: Fault) -> Counter[Outcome] | None:
        """Count what becomes of each row and sign; None where the fault cannot be planted."""
        changed = list(self._changed(fault))
        if None in changed:
            return None
        own = [
            self._measured(OWN, number, trial, fault.standing_of(self.standing))
            for number, trial in enumerate(changed)
            if trial is not None
        ]
        try:
            comparison = compared([*self.reference, *own])
        except ComparisonError:
            return Counter({"refused": 1})
        found = Counter(outcome for _, outcome in self.outcomes(comparison))
        if fault.unknowable and fault.kind in UNKNOWABLE_BESIDE_OTHERS:
            found["not knowable"] += found.pop("SILENT", 0)
        return found

    def _changed(self, fault: Fault) -> Iterator[Trial | None]:
        for number, trial in enumerate(self.person.halves[1]):
            if number and not fault.every:
                yield trial
                continue
            try:
                yield fault.change(Good(self.person.name, trial, self.standing))
            except Refused:
                continue

    def outcomes(self, comparison: Comparison) -> Iterator[tuple[Claim, Outcome]]:
        """Give what became of each row and each sign."""
        notes = {note.reason.code for note in comparison.fairness if note.level == "warning"}
        is_told = bool(notes - NOT_TELLING)
        made = claims(comparison) - self.clean
        for row in comparison.rows:
            claim = row.measure, row.side
            if claim in made:
                yield claim, "told" if is_told else "SILENT"
            else:
                yield claim, "no verdict" if row.verdict in NO_VERDICT else "no claim"
        for item in comparison.watch:
            claim = "sign", item.sign, item.side
            if claim in made:
                yield claim, "told" if is_told else "SILENT"


def compared(walks: Iterable[MeasuredWalk | None]) -> Comparison:
    """Compare measured walks, the first half of them with the second."""
    known = [walk for walk in walks if walk is not None]
    records = [record for walk in known for record in _records(walk)]
    return compare_walks(
        records, reference=REFERENCE, conditions=WORN, affected="left", again=_Again(known)
    )


def _records(walk: MeasuredWalk) -> list[WalkRecord]:
    """Return the walks of a file whose name begins with the condition; its hash is that name."""
    condition = walk.path.stem.split("-")[0]
    return [record.known_as(sha256=walk.path.stem) for record in walk_records(walk, condition)]


class _Again:
    """Measures walks again on what they share."""

    def __init__(self, walks: Sequence[MeasuredWalk]) -> None:
        self.walks = walks

    def __call__(self, wanted: Sequence[WalkRecord], shared: Shared) -> list[WalkRecord]:
        ids = {walk.walk_id for walk in wanted}
        found: list[WalkRecord] = []
        for walk in self.walks:
            trial = walk.trial
            recording = Recording(InputFile(walk.path), shared=shared)
            again = measure_recording(recording, trial=lambda trial=trial: trial)
            if isinstance(again, MeasuredWalk):
                found += _records(again)
        return [record for record in found if record.walk_id in ids]


def claims(comparison: Comparison) -> set[Claim]:
    """Return the changes called larger and the signs that fire."""
    rows = {(r.measure, r.side) for r in comparison.rows if r.verdict == LARGER}
    signs = {("sign", i.sign, i.side) for i in comparison.watch if i.status == "fires"}
    return rows | signs
