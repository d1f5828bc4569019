"""All answers of a comparison as HTML; several conditions share sentence, signs and board.

In come answers, out comes HTML for pages and screens alike; its style is ``templates/board.css``
and ``templates/several.css``. Each condition has its colour and line in all of it; the shape of a
mark is the verdict. Every text is escaped.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Final

from gaittrack.answer import Answer, several_sentences
from gaittrack.compare.row_words import NO_NUMBER, number
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.compare.watch import WatchItem
from gaittrack.figures.answer_board import before_and_here, unit_sign
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.figures.several_board import (
    PlacedMark,
    Said,
    SeveralBoard,
    SeveralRow,
    ValueLine,
    draw_several,
)
from gaittrack.reasons import Reason
from gaittrack.report.answer_board import (
    NO_VALUE,
    Opener,
    answer_html,
    axis_html,
    board_html,
    chip_html,
    foot_html,
    mark_html,
    numbered,
    row_head,
    scale_html,
    signs_block,
    signs_html,
)
from gaittrack.report.html_parts import paragraph

_N_COLOURS: Final = 4
_ALL: Final = {2: "both", 3: "all three", 4: "all four"}


def answers_html(
    told: Sequence[Answer],
    *,
    examined: Sequence[str] = (),
    below: str = "",
    opener: Opener | None = None,
) -> str:
    """Return the answers of a comparison: sentences, signs, one board.

    Parameters
    ----------
    examined, below, opener
        As of :func:`gaittrack.report.answer_board.answer_html`.
    """
    if len(told) == 1:
        return answer_html(told[0], examined=examined, below=below, opener=opener)
    first, *more = several_sentences(told)
    said = f'<p class="first">{escape(with_minus(first))}</p>'
    said += "".join(paragraph(with_minus(each)) for each in more)
    board = draw_several(told, [each.findings for each in told])
    parts = (
        f'<div class="said">{said}</div>',
        below,
        _signs(told, examined),
        _table(board, opener),
        _other_leg(told),
    )
    return f'<section class="answer several">{"".join(parts)}</section>'


def signs_and_board(told: Sequence[Answer], examined: Sequence[str]) -> str:
    """Return the signs to look at and the board of the answers of a comparison."""
    if len(told) == 1:
        return signs_html(told[0], examined) + board_html(told[0])
    board = _table(draw_several(told, [each.findings for each in told]), None)
    return f'<div class="several">{_signs(told, examined)}{board}</div>'


def of_condition(place: int) -> str:
    """Return the class that gives a condition's parts its colour and line."""
    return f"own c{place % _N_COLOURS + 1}"


def _signs(told: Sequence[Answer], examined: Sequence[str]) -> str:
    """Return the signs of all conditions; one that several have is said once, with each value."""
    new, too, some = (
        [item for answer in told for item in getattr(answer, name)]
        for name in ("new_signs", "signs_without_too", "seen_in_some")
    )
    unseen = dict.fromkeys(str(Reason(code)) for each in told for code in each.not_looked_for)
    groups = (
        (f"Not in {told[0].reference}", told_signs(new)),
        ("From the examination", list(examined)),
        (f"In {told[0].reference} too", told_signs(too)),
        ("In some steps only", told_signs(some)),
        ("Could not be looked for", [", ".join(unseen)] if unseen else []),
    )
    is_silent = not (new or examined or too)
    return signs_block(groups, fires=bool(new or examined), is_silent=is_silent)


def told_signs(items: Sequence[WatchItem]) -> list[str]:
    """Return signs in words; one that several conditions have is said once, with each value."""
    return [
        _sign([each for each in items if (each.sign, each.side) == key])
        for key in dict.fromkeys((each.sign, each.side) for each in items)
    ]


def _sign(items: Sequence[WatchItem]) -> str:
    first = items[0]
    decimals, unit = MEASURE_BY_NAME[first.measure].decimals, unit_sign(first.measure)
    values = ", ".join(f"{number(x.value, decimals)}{unit} in {x.condition}" for x in items)
    before = f"{number(first.reference_value, decimals)}{unit} in {first.reference}"
    return with_minus(f"{Reason(first.sign)}, {first.side}: {values} ({before})")


def _other_leg(told: Sequence[Answer]) -> str:
    """Return the leg without a brace, folded to one line that says what it shows."""
    findings = [each.other_leg for each in told]
    if not any(findings):
        return ""
    board = draw_several(told, findings)
    changed = [
        f"{each.condition}: {', '.join(_changes(each))}" for each in told if any(_changes(each))
    ]
    said = (
        f"changed by more than error: {'; '.join(changed)}"
        if changed
        else "nothing changed by more than error"
    )
    return (
        f'<details class="card"><summary>{escape(board.head.capitalize())} '
        f"<small>{escape(said)}</small></summary>{_table(board, None)}</details>"
    )


def _changes(answer: Answer) -> Iterator[str]:
    for finding in answer.other_leg:
        for row in finding.changed:
            yield f"{MEASURE_BY_NAME[row.measure].title} {before_and_here(row)}"


def _table(board: SeveralBoard, opener: Opener | None) -> str:
    names = [f'<span><i class="key before"></i>{escape(board.reference)}</span>']
    names += [
        f'<span class="{of_condition(place)}"><i class="key"></i>{escape(name)}</span>'
        for place, name in enumerate(board.conditions)
    ]
    heads = (
        escape(board.head),
        f'<div class="across">{"".join(names)}</div>',
        f"change, in times the measurement error{scale_html(board.ticks, board.band)}",
        f"what may be said, each against {escape(board.reference)}",
    )
    head = "".join(f'<th scope="col">{each}</th>' for each in heads)
    numbers = numbered(row.doubts for row in board.rows)
    body = "".join(_row(row, board, numbers, opener) for row in board.rows)
    return (
        f'<table class="board" style="--n:{len(names)}"><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody>{foot_html(numbers, 4)}</table>"
    )


def _row(
    row: SeveralRow, board: SeveralBoard, numbers: Mapping[str, int], opener: Opener | None
) -> str:
    aim = ' <small class="aim">aim</small>' if row.is_aim else ""
    flag = ' <span class="flag" title="a sign">⚑ sign</span>' if row.has_sign else ""
    values = "".join(_values(each, board) for each in row.values)
    said = "".join(_said(each, board) for each in row.said)
    opening = opener(row.rows) if opener is not None else ""
    return (
        f"<tr>{row_head(row.title, aim, row.note, [numbers[each] for each in row.doubts])}"
        f'<td class="values">{values}</td><td class="drawn">{_axis(row, board)}</td>'
        f'<td class="chips">{said}{flag}{opening}</td></tr>'
    )


def _values(line: ValueLine, board: SeveralBoard) -> str:
    leg = f"<small>{escape(line.leg)}</small> " if line.leg else ""
    cells = [f"<span>{_unseen(board.reference)}{leg}{_value(line.before)}</span>"]
    cells += [
        f'<b class="{of_condition(place)}">{_unseen(board.conditions[place])}{_value(text)}</b>'
        for place, text in enumerate(line.here)
    ]
    return f'<div class="across">{"".join(cells)}</div>'


def _unseen(name: str) -> str:
    """Return the name of a value's condition, for who does not see the heads of the columns."""
    return f'<span class="of">{escape(name)}: </span>'


def _value(text: str) -> str:
    return NO_VALUE if text == NO_NUMBER else escape(text) or "·"


def _axis(row: SeveralRow, board: SeveralBoard) -> str:
    why = f'<div class="why">{escape("; ".join(row.whys))}</div>' if row.whys else ""
    if not row.marks:
        return why
    return axis_html(board, "".join(map(_mark, row.marks)), why)


def _mark(placed: PlacedMark) -> str:
    drawn = mark_html(placed.mark, placed.verdict)
    return f'<div class="{of_condition(placed.condition)}">{drawn}</div>'


def _said(said: Said, board: SeveralBoard) -> str:
    if said.condition is None:
        n = len(board.conditions)
        chip = chip_html(said.leg, said.verdict, said.words)
        return f'<div class="of-all">{chip}<small>{_ALL.get(n, f"all {n}")}</small></div>'
    leg = f"<small>{escape(said.leg)}</small> " if said.leg else ""
    name = escape(board.conditions[said.condition])
    own = f'<b class="{of_condition(said.condition)}">{name}</b>'
    shape = f'<i class="mark {escape(said.verdict)}"></i>'
    return f'<div class="line-of">{leg}{own} {shape} {escape(said.words)}</div>'
