"""The answers of a comparison as HTML: sentences, signs to look at, board of the eight questions.

In come answers, out comes HTML for pages and screens alike: ``templates/board.html``, its style
``board.css`` and ``several.css``. Several conditions share sentences, signs and board; each has its
colour and line in all of it. The shape of a mark is the verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from markupsafe import Markup

from gaittrack.answer import Answer, several_sentences
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.row_words import number, sign_words
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.board import before_and_here, draw_board, unit_sign
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.report.html_parts import drawn

_NONE_SEEN: Final = "no sign seen of those that could be looked for"
Opener = Callable[[Sequence[ComparisonRow]], Markup]
"""From the rows that a line of the board is made from to the HTML that opens it."""


@dataclass(frozen=True, slots=True)
class Signs:
    """The signs to look at.

    Attributes
    ----------
    groups : sequence of (str, sequence of str)
        A head and a line for each sign.
    fires : bool
        Whether one is new or was found in the examination.
    """

    groups: Sequence[tuple[str, Sequence[str]]]
    fires: bool


def answers_html(
    told: Sequence[Answer],
    *,
    examined: Sequence[str] = (),
    below: Markup | None = None,
    opener: Opener | None = None,
) -> Markup:
    """Return the answers of a comparison: sentences, signs, one board.

    Parameters
    ----------
    examined : sequence of str
        What was examined at the visit and recordings cannot show.
    below : Markup, optional
        Stands below the sentences.
    opener : callable, optional
        Gives the HTML that opens a row of the board.
    """
    first, is_several = told[0], len(told) > 1
    other_leg = [each.other_leg for each in told]
    given = {
        "is_several": is_several,
        "name": ""
        if is_several or first.is_brace_against_none
        else f"{first.condition} against {first.reference}",
        "sentences": [with_minus(each) for each in several_sentences(told)],
        "below": below or "",
        "signs": _signs(told, examined),
        "board": draw_board(told, [each.findings for each in told]),
        "opener": opener,
        "other_leg": draw_board(told, other_leg) if any(other_leg) else None,
        "other_changes": _other_changes(told),
        "made_of": [] if is_several else [sign_words(item) for item in _all_signs(first)],
    }
    return drawn("board.answer", given)


def signs_and_board(told: Sequence[Answer], examined: Sequence[str]) -> Markup:
    """Return the signs to look at and the board of the answers of a comparison."""
    kind = "several" if len(told) > 1 else ""
    board = draw_board(told, [each.findings for each in told])
    return drawn("board.signs_and_table", _signs(told, examined), board, kind)


def chip_html(leg: str, verdict: str, words: str) -> Markup:
    """Return a verdict as a chip: its shape and its words."""
    return drawn("board.chip", leg, verdict, words)


def _all_signs(answer: Answer) -> Sequence[WatchItem]:
    return (*answer.new_signs, *answer.signs_without_too, *answer.seen_in_some)


def _signs(told: Sequence[Answer], examined: Sequence[str]) -> Signs:
    """Return the signs of all conditions; that none was seen where all are silent."""
    first, is_alone = told[0], len(told) == 1
    new, too, some = (
        [item for answer in told for item in getattr(answer, name)]
        for name in ("new_signs", "signs_without_too", "seen_in_some")
    )
    unseen = dict.fromkeys(str(Reason(code)) for each in told for code in each.not_looked_for)
    words = partial(_signs_of_one, answer=first) if is_alone else told_signs
    groups = (
        ("In the recordings", [] if new or examined or too else [_NONE_SEEN]),
        (f"New in {first.condition}" if is_alone else f"Not in {first.reference}", words(new)),
        ("From the examination", examined),
        (f"In {first.reference} too", words(too)),
        ("In some steps only", words(some)),
        ("Could not be looked for", [", ".join(unseen)] if unseen else []),
    )
    return Signs([(head, lines) for head, lines in groups if lines], bool(new or examined))


def _signs_of_one(items: Sequence[WatchItem], answer: Answer) -> list[str]:
    """Return a line for each sign, with both legs where both show it."""
    legs: dict[str, list[str]] = {}
    for item in items:
        own, other = (_told_value(item, x) for x in (item.value, item.reference_value))
        legs.setdefault(item.sign, []).append(f"{item.side} {own} ({other} {answer.names[1]})")
    return [with_minus(f"{Reason(sign)}: {', '.join(told)}") for sign, told in legs.items()]


def told_signs(items: Sequence[WatchItem]) -> list[str]:
    """Return signs in words; one that several conditions have is said once, with each value."""
    return [
        _sign([each for each in items if (each.sign, each.side) == key])
        for key in dict.fromkeys((each.sign, each.side) for each in items)
    ]


def _sign(items: Sequence[WatchItem]) -> str:
    first = items[0]
    values = ", ".join(f"{_told_value(x, x.value)} in {x.condition}" for x in items)
    before = f"{_told_value(first, first.reference_value)} in {first.reference}"
    return with_minus(f"{Reason(first.sign)}, {first.side}: {values} ({before})")


def _told_value(item: WatchItem, value: float) -> str:
    return f"{number(value, MEASURE_BY_NAME[item.measure].decimals)}{unit_sign(item.measure)}"


def _other_changes(told: Sequence[Answer]) -> str:
    """Return in a line what changed on the leg without a brace."""
    changed = []
    for answer in told:
        rows = [row for each in answer.other_leg for row in each.changed]
        said = ", ".join(
            f"{MEASURE_BY_NAME[row.measure].title} {before_and_here(row)}" for row in rows
        )
        if said:
            changed.append(f"{answer.condition}: {said}" if len(told) > 1 else said)
    if not changed:
        return "nothing changed by more than error"
    return f"changed by more than error: {'; '.join(changed)}"
