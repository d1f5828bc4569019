"""Several conditions against one reference in one text: a change is said once for all that have it.

In come the answers of a comparison, out come sentences: each names the conditions it is of, and
gives the figures in their order. None is called better than another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from gaittrack.answer.answers import Answer
from gaittrack.answer.sentences import joined, phrases_of, untold_sentence
from gaittrack.reasons import Reason

_Phrases = dict[int, Reason]
"""A phrase of each condition that has it, by the condition's place among the answers."""
_COUNTS: Final = ("n_known", "n_heel_reference", "n_known_reference")


def several_sentences(told: Sequence[Answer]) -> list[str]:
    """Return the sentences of all answers of a comparison, each with a capital letter."""
    if len(told) == 1:
        return told[0].sentences()
    said = [str(reason) for reason in [*_changed(told), *_untold(told)]]
    return [f"{text[:1].upper()}{text[1:]}" for text in said]


def _names(told: Sequence[Answer], places: Sequence[int]) -> Reason:
    return Reason("in_several", names=tuple(told[place].condition for place in places))


def _tells_nothing(answer: Answer) -> bool:
    return len(answer.untold) == len(answer.findings)


def _changed(told: Sequence[Answer]) -> Iterator[Reason]:
    """Yield a sentence for each set of conditions that share changes, then for those without."""
    groups: dict[tuple[int, ...], list[Reason]] = {}
    for shared in _shared_phrases(told):
        groups.setdefault(tuple(shared), []).append(_of_all(list(shared.values())))
    for places, phrases in groups.items():
        yield Reason("what_changed", how=_names(told, places), phrases=joined(phrases))
    silent = [
        place
        for place, answer in enumerate(told)
        if not answer.changed and not _tells_nothing(answer)
    ]
    if silent:
        yield Reason("nothing_larger_than_error", how=_names(told, silent))


def _shared_phrases(told: Sequence[Answer]) -> list[_Phrases]:
    """Return each phrase with the conditions that have it, in the order of an answer."""
    found: dict[tuple[object, ...], _Phrases] = {}
    ranks: dict[tuple[object, ...], int] = {}
    for place, answer in enumerate(told):
        for rank, finding in enumerate(answer.changed):
            for phrase in phrases_of(finding, answer.names[1]):
                key = _key(phrase)
                found.setdefault(key, {})[place] = phrase
                ranks[key] = min(rank, ranks.get(key, rank))
    return [found[key] for key in sorted(found, key=lambda each: ranks[each])]


def _key(phrase: Reason) -> tuple[object, ...]:
    """Return what phrases must share to be said as one: code, leg, and of how many steps."""
    given = dict(phrase.parameters)
    return (phrase.code, given["leg"], *(given.get(name) for name in _COUNTS))


def _of_all(phrases: Sequence[Reason]) -> Reason:
    """Return one phrase whose figures are those of all, once where they are equal."""
    given = {name: tuple(phrase[name] for phrase in phrases) for name, _ in phrases[0].parameters}
    return Reason(
        phrases[0].code,
        **{name: each[0] if len(set(each)) == 1 else each for name, each in given.items()},
    )


def _untold(told: Sequence[Answer]) -> Iterator[Reason]:
    groups: dict[Reason, list[int]] = {}
    for place, answer in enumerate(told):
        untold = untold_sentence(answer.untold)
        if untold is not None:
            groups.setdefault(untold, []).append(place)
    for untold, places in groups.items():
        if len(places) == len(told):
            yield untold
        else:
            questions = untold["questions"]
            how = _names(told, places)
            yield Reason("in_some_recordings_cannot_say", how=how, questions=questions)
