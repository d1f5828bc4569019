"""From a comparison to its answers, one per condition.

In come the rows, signs and counts of a comparison, out come :class:`Answer` objects: aims first,
then the eight questions, on the braced leg; signs, new apart from those that are there without the
brace too; the other leg; and what could not be told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.answer.findings import UNTOLD, Finding, find
from gaittrack.answer.sentences import changed_sentence, untold_sentence
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side
from gaittrack.words import ENGLISH

_ORDER: Final = ("gain", "change", "loss")


@dataclass(frozen=True, eq=False, slots=True)
class Answer:
    """What one condition changes against the reference.

    Attributes
    ----------
    legs : tuple of Side
        The braced legs, else the affected ones, else both.
    findings : tuple of Finding
        Of these legs, question by question, aims first; one of both legs stands once.
    other_leg : tuple of Finding
        Of the leg that is not among them.
    new_signs, signs_without_too, seen_in_some : tuple of WatchItem
        Signs that fire; those that are there in the reference too; levels in too few steps.
        The legs of the answer first.
    not_looked_for : tuple of str
        Codes of signs that could not be looked for on these legs.
    """

    condition: str
    reference: str
    is_brace_against_none: bool
    legs: tuple[Side, ...]
    findings: tuple[Finding, ...]
    other_leg: tuple[Finding, ...]
    new_signs: tuple[WatchItem, ...]
    signs_without_too: tuple[WatchItem, ...]
    seen_in_some: tuple[WatchItem, ...]
    not_looked_for: tuple[str, ...]

    @property
    def changed(self) -> tuple[Finding, ...]:
        """What changed by more than measurement error: as meant, either way, the other way."""
        found = [each for each in self.findings if each.kind != "none"]
        return tuple(sorted(found, key=lambda each: (not each.is_aim, _ORDER.index(each.kind))))

    @property
    def untold(self) -> tuple[Finding, ...]:
        """What could not be told."""
        return tuple(
            each for each in self.findings if each.kind == "none" and each.verdict in UNTOLD
        )

    @property
    def names(self) -> tuple[Reason, Reason]:
        """How condition and reference are called in a sentence: with it, without it."""
        if self.is_brace_against_none:
            return Reason("with_the_brace"), Reason("without_it")
        return Reason("in_named", name=self.condition), Reason("in_named", name=self.reference)

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """The answer as sentences: what changed, then what could not be told.

        Of recordings that tell nothing, the second only: that no change is shown would be heard as
        that there is none.
        """
        untold = untold_sentence(self.untold)
        if untold is not None and len(self.untold) == len(self.findings):
            return (untold,)
        said = changed_sentence(self.changed, *self.names)
        return (said,) if untold is None else (said, untold)

    def sentences(self, language: str = ENGLISH) -> list[str]:
        """Return the sentences, each with a capital letter."""
        said = [reason.say(language) for reason in self.reasons]
        return [f"{text[:1].upper()}{text[1:]}" for text in said]


def answers(comparison: Comparison) -> list[Answer]:
    """Return the answer of each condition, in the order of the comparison.

    Parameters
    ----------
    comparison : Comparison
        Of all measures that the questions ask for.
    """
    conditions = list(dict.fromkeys(row.condition for row in comparison.rows))
    return [_answer(comparison, condition, len(conditions)) for condition in conditions]


def _answer(comparison: Comparison, condition: str, n_conditions: int) -> Answer:
    settings = comparison.settings
    reference = settings["reference"]
    rows = {(row.measure, row.side): row for row in comparison.rows if row.condition == condition}
    legs = _legs(settings, condition)
    heels = [each for each in comparison.heel_first if each.condition == condition]
    aims = settings["aims"]
    found = [
        find(question, side, rows, heels, is_aim=question.code in aims)
        for question in sorted(QUESTIONS, key=lambda each: each.code not in aims)
        for side in (legs[:1] if question.is_of_both_legs else SIDES)
    ]
    signs = sorted(
        (item for item in comparison.watch if item.condition == condition),
        key=lambda item: item.side not in legs,
    )
    is_brace = n_conditions == 1 and _is_brace_against_none(settings, condition, reference)
    return Answer(
        condition,
        reference,
        is_brace,
        legs,
        tuple(each for each in found if each.is_of_both_legs or each.side in legs),
        tuple(each for each in found if not each.is_of_both_legs and each.side not in legs),
        _of_status(signs, "fires"),
        _of_status(signs, "in_both"),
        _of_status(signs, "some_steps"),
        tuple(
            dict.fromkeys(
                item.sign for item in signs if item.status == "not_assessed" and item.side in legs
            )
        ),
    )


def _of_status(signs: Sequence[WatchItem], status: str) -> tuple[WatchItem, ...]:
    return tuple(item for item in signs if item.status == status)


def _legs(settings: Mapping[str, Any], condition: str) -> tuple[Side, ...]:
    worn = settings["conditions"].get(condition, {})
    for told in (worn.get("orthosis_side"), settings["affected"]):
        if told == "both":
            return SIDES
        if told in SIDES:
            return (told,)
    return SIDES


def _is_brace_against_none(settings: Mapping[str, Any], condition: str, reference: str) -> bool:
    own, other = (_worn(settings, name) for name in (condition, reference))
    return own.is_braced is True and other.is_braced is False


def _worn(settings: Mapping[str, Any], name: str) -> Condition:
    return Condition(name, **settings["conditions"].get(name, {}))
