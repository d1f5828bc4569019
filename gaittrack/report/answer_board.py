"""An answer as HTML: its sentences, the signs to look at, and the board of the eight questions.

In come answers, out comes HTML for pages and screens alike; its style is ``templates/board.css``.
Every text is escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from html import escape
from typing import Final

from gaittrack.answer import Answer
from gaittrack.compare.row_words import NO_NUMBER, number, sign_words
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.compare.watch import WatchItem
from gaittrack.figures.answer_board import (
    Board,
    BoardRow,
    Line,
    Mark,
    before_and_here,
    draw_board,
    unit_sign,
)
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.figures.several_board import SeveralBoard
from gaittrack.reasons import Reason
from gaittrack.report.html_parts import bullets, paragraph

KEY: Final = (
    "thick: these walks alone; thin: the whole 95 % interval, with what putting markers on again "
    "can do; band: measurement error"
)
_FEW: Final = 3
"""Findings of a group that stand below each other; more of them stand in two columns."""
Opener = Callable[[Sequence[ComparisonRow]], str]
"""From the rows that a line of the board is made from to the HTML that opens it."""
NO_VALUE: Final = "<small>no value</small>"
_ARROW: Final = '<span class="arrow" aria-label="to">→</span>'


def answer_html(
    answer: Answer,
    *,
    examined: Sequence[str] = (),
    below: str = "",
    opener: Opener | None = None,
) -> str:
    """Return an answer: sentences, signs, board.

    Parameters
    ----------
    examined : sequence of str
        What was examined at the visit and recordings cannot show.
    below : str
        HTML that stands below the sentences.
    opener : callable, optional
        Gives the HTML that opens a row of the board.
    """
    first, *more = answer.sentences()
    name = f"<h2>{escape(f'{answer.condition} against {answer.reference}')}</h2>"
    said = f'<p class="first">{escape(with_minus(first))}</p>' + "".join(map(paragraph, more))
    parts = (
        f'<div class="said">{"" if answer.is_brace_against_none else name}{said}</div>',
        below,
        signs_html(answer, examined),
        board_html(answer, opener=opener),
        _other_leg(answer),
        _made_of(answer),
    )
    return f'<section class="answer">{"".join(parts)}</section>'


def _other_leg(answer: Answer) -> str:
    """Return the leg without a brace, folded to one line that says what it shows."""
    if not answer.other_leg:
        return ""
    side = answer.other_leg[0].side
    rows = [row for each in answer.other_leg if each.kind != "none" for row in each.changed]
    changed = [f"{MEASURE_BY_NAME[row.measure].title} {before_and_here(row)}" for row in rows]
    said = (
        f"changed by more than error: {', '.join(changed)}"
        if changed
        else ("nothing changed by more than error")
    )
    board = _table(draw_board(answer, answer.other_leg), None)
    return (
        f'<details class="card"><summary>The {escape(side)} leg <small>{escape(said)}</small>'
        f"</summary>{board}</details>"
    )


def signs_html(answer: Answer, examined: Sequence[str] = ()) -> str:
    """Return the signs to look at: of the recordings and of the examination."""
    groups = (
        (f"New in {answer.condition}", _told(answer.new_signs, answer)),
        ("From the examination", list(examined)),
        (f"In {answer.reference} too", _told(answer.signs_without_too, answer)),
        ("In some steps only", _told(answer.seen_in_some, answer)),
        ("Could not be looked for", _listed(answer.not_looked_for)),
    )
    is_silent = not (answer.new_signs or examined or answer.signs_without_too)
    return signs_block(groups, fires=bool(answer.new_signs or examined), is_silent=is_silent)


def signs_block(
    groups: Iterable[tuple[str, Sequence[str]]], *, fires: bool, is_silent: bool
) -> str:
    """Return groups of signs, each with its head; that none was seen where all are silent."""
    shown = [(head, told) for head, told in groups if told]
    if is_silent:
        shown.insert(0, ("In the recordings", ["no sign seen of those that could be looked for"]))
    inside = "".join(
        f'<div class="{"wide" if len(told) > _FEW else ""}"><h4>{escape(head)}</h4><div>'
        f"{''.join(f'<p>{escape(each)}</p>' for each in told)}</div></div>"
        for head, told in shown
    )
    kind = "signs fired" if fires else "signs"
    return f'<div class="{kind}"><h3>Signs to look at</h3>{inside}</div>'


def _listed(codes: Sequence[str]) -> list[str]:
    return [", ".join(str(Reason(code)) for code in codes)] if codes else []


def _told(items: Iterable[WatchItem], answer: Answer) -> list[str]:
    """Return a line for each sign, with both legs where both show it."""
    legs: dict[str, list[str]] = {}
    for item in items:
        legs.setdefault(item.sign, []).append(f"{item.side} {_values_of(item, answer)}")
    return [f"{Reason(sign)}: {', '.join(told)}" for sign, told in legs.items()]


def _values_of(item: WatchItem, answer: Answer) -> str:
    measure = MEASURE_BY_NAME[item.measure]
    own, other = (number(x, measure.decimals) for x in (item.value, item.reference_value))
    unit = unit_sign(item.measure)
    return with_minus(f"{own}{unit} ({other}{unit} {answer.names[1]})")


def _made_of(answer: Answer) -> str:
    items = (*answer.new_signs, *answer.signs_without_too, *answer.seen_in_some)
    if not items:
        return ""
    points = bullets([sign_words(item) for item in items])
    return f"<details><summary>What the signs are made of</summary>{points}</details>"


def board_html(answer: Answer, *, opener: Opener | None = None) -> str:
    """Return the board of the eight questions."""
    return _table(draw_board(answer, answer.findings), opener)


def _table(board: Board, opener: Opener | None) -> str:
    scale = scale_html(board.ticks, board.band)
    heads = (
        escape(board.head),
        f'<span><i class="key before"></i>{escape(board.reference)}</span> {_ARROW} '
        f'<span><i class="key here"></i>{escape(board.condition)}</span>',
        f"change, in times the measurement error{scale}",
        "change, whole 95 % interval",
        "what may be said",
    )
    head = "".join(f'<th scope="col">{each}</th>' for each in heads)
    numbers = numbered(row.doubts for row in board.rows)
    body = "".join(_row(row, board, numbers, opener) for row in board.rows)
    return (
        f'<table class="board"><thead><tr>{head}</tr></thead><tbody>{body}</tbody>'
        f"{foot_html(numbers, 5)}</table>"
    )


def scale_html(ticks: Sequence[tuple[float, str]], band: tuple[float, float]) -> str:
    """Return the numbers over the axis."""
    labels = "".join(
        f'<i class="tick" style="left:{at}%">{escape(label)}</i>' for at, label in ticks
    )
    return f'<div class="axis scale">{band_html(band)}{labels}</div>'


def band_html(band: tuple[float, float]) -> str:
    """Return the band of measurement error and the line of no change."""
    low, high = band
    return (
        f'<i class="band" style="left:{low}%;width:{high - low:.2f}%"></i>'
        f'<i class="zero" style="left:{(low + high) / 2:.2f}%"></i>'
    )


def _row(row: BoardRow, board: Board, numbers: Mapping[str, int], opener: Opener | None) -> str:
    aim = ' <small class="aim">aim</small>' if row.is_aim else ""
    values = "".join(f'<div class="heels">{escape(each)}</div>' for each in row.heels)
    values += "".join(_values(line) for line in row.lines if line.has_value)
    changes = "".join(
        f"<div>{escape(line.change)} <small>{escape(line.interval)}</small></div>"
        for line in row.lines
    )
    flag = '<span class="flag" title="a sign">⚑ sign</span>' if row.has_sign else ""
    opening = opener(row.rows) if opener is not None else ""
    cells = (
        row_head(row.title, aim, row.note, [numbers[each] for each in row.doubts]),
        f'<td class="values">{values}</td>',
        f'<td class="drawn">{_axis(row, board)}</td><td class="change">{changes}</td>'
        if any(line.mark or line.change for line in row.lines)
        else f'<td class="drawn" colspan="2">{_axis(row, board)}</td>',
        f'<td class="chips">{"".join(chip_html(*each) for each in row.chips)}{flag}{opening}</td>',
    )
    return f"<tr>{''.join(cells)}</tr>"


def row_head(title: str, aim: str, note: str, places: Sequence[int]) -> str:
    """Return the head of a row: the question, what was measured, which doubts at the foot hold."""
    doubt = f' <b class="doubt">! {", ".join(map(str, places))}</b>' if places else ""
    return f'<th scope="row">{escape(title)}{aim}<small>{escape(note)}{doubt}</small></th>'


def numbered(doubts: Iterable[Sequence[str]]) -> dict[str, int]:
    """Return a number for each doubt of a board: it stands in the row, the words at the foot."""
    texts = dict.fromkeys(text for own in doubts for text in own)
    return {text: place for place, text in enumerate(texts, 1)}


def foot_html(numbers: Mapping[str, int], n_columns: int) -> str:
    """Return the foot of a board: what makes values doubtful, and how to read the axis."""
    told = "".join(
        f'<div class="doubt"><b>! {place}</b> {escape(text)}</div>'
        for text, place in numbers.items()
    )
    axis = '<span class="in-rows">numbers on the axis: times the measurement error; </span>'
    return f'<tfoot><tr><td colspan="{n_columns}">{told}{axis}{escape(KEY)}</td></tr></tfoot>'


def _values(line: Line) -> str:
    leg = f"<small>{escape(line.leg)}</small> " if line.leg else ""
    here = NO_VALUE if line.here == NO_NUMBER else escape(f"{line.here}{line.unit}")
    before = NO_VALUE if line.before == NO_NUMBER else escape(line.before)
    return f"<div>{leg}{before} {_ARROW} <b>{here}</b></div>"


def _axis(row: BoardRow, board: Board) -> str:
    whys = dict.fromkeys(line.why for line in row.lines if line.mark is None)
    drawn = [mark_html(line.mark, line.verdict) for line in row.lines if line.mark is not None]
    if not drawn:
        return f'<div class="why">{escape("; ".join(whys))}</div>'
    why = f'<div class="why">{escape("; ".join(whys))}</div>' if whys else ""
    marks = "".join(f"<div>{each}</div>" for each in drawn)
    return axis_html(board, marks, why)


def axis_html(board: Board | SeveralBoard, marks: str, why: str) -> str:
    """Return the axis of a row with its marks, and why some are missing.

    The numbers of its lines stand over the board; where that has no head, in the row.
    """
    grid = "".join(
        f'<i class="whole-number" data-at="{escape(label)}" style="left:{at}%"></i>'
        for at, label in board.ticks
    )
    kind = "axis" if why else "axis through"
    return f'<div class="{kind}" aria-hidden="true">{band_html(board.band)}{grid}{marks}</div>{why}'


def mark_html(mark: Mark, verdict: str) -> str:
    """Return a mark on the axis: the whole interval, that of the walks alone, the verdict."""
    thin, thick = (
        f'<i class="{kind}" style="left:{low}%;width:{max(high - low, 0):.2f}%"></i>'
        for kind, (low, high) in (("whole", mark.whole), ("walks", mark.walks))
    )
    return f'{thin}{thick}<i class="mark {escape(verdict)}" style="left:{mark.at}%"></i>'


def chip_html(leg: str, verdict: str, words: str) -> str:
    """Return a verdict as a chip: its shape and its words."""
    shape = f'<i class="mark {escape(verdict)}"></i>'
    before = f"<small>{escape(leg)}</small> " if leg else ""
    return f'<span class="chip {escape(verdict)}">{before}{shape}{escape(words)}</span>'
