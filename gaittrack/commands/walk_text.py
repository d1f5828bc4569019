"""A measured walk as text for a terminal, at most 100 columns wide.

In comes a measured walk, out come a heading, one line per step with the headline measures, the walk
values of each side, and below them why values are missing and what stands beside them.
"""

from __future__ import annotations

import math
import shutil
import textwrap
from collections.abc import Iterable, Mapping, Sequence

from gaittrack.compare.row_words import NO_NUMBER, missing_words, number, unit_words
from gaittrack.cycles import Cycle
from gaittrack.measured_walk import MeasuredWalk, several_conditions
from gaittrack.measures import MEASURES, Row, walk_values
from gaittrack.measures.measure import Measure
from gaittrack.readable_names import readable
from gaittrack.vocabulary import SIDES, Side

WIDTH = 100
HEADLINE: tuple[Measure, ...] = tuple(m for m in MEASURES if m.group == "headline")

_LEAD = ("cycle", "start", "contact", "speed")
_LEAD_UNITS = ("", "s", "", "m/s")
_LEAD_WIDTHS = (17, 7, 10, 7)
_NARROWEST = 9

RowsByCell = Mapping[tuple[str, str], Row]


def wrapped(text: str, *, indent: str = "") -> str:
    """Return a paragraph broken at the width of the terminal, at most 100; its own breaks stay."""
    width = min(WIDTH, shutil.get_terminal_size((WIDTH, 0)).columns)
    lines = text.splitlines() or [""]
    rest = indent + "  " if indent else ""
    return "\n".join(
        textwrap.fill(
            line, width, initial_indent=indent, subsequent_indent=rest, break_on_hyphens=False
        )
        for line in lines
    )


def walk_text(walk: MeasuredWalk) -> str:
    """Return a measured walk as text."""
    kept = [cycle for cycle in walk.cycles if cycle.is_kept]
    parts = [_heading(walk)]
    if kept:
        parts += [_table(walk, kept), *_notes(walk, kept)]
    parts += cycle_remarks(walk.cycles)
    return "\n".join(parts)


def title_line(walk: MeasuredWalk) -> str:
    """Return what kind of file a walk comes from, its rate and its length."""
    trial = walk.trial
    if math.isnan(trial.rate_hz):
        return f"{trial.provenance.format}, curves over 0-100 % of the cycle"
    return (
        f"{trial.provenance.format}, {trial.rate_hz:g} Hz, {trial.n_frames} frames, "
        f"{trial.duration_s:.2f} s"
    )


def cycle_remarks(cycles: Iterable[Cycle]) -> list[str]:
    """Return one line per cycle that was rejected or should be looked at."""
    lines = []
    for cycle in cycles:
        for what, reasons in (
            ("rejected", cycle.reject_reasons),
            ("to review", cycle.review_reasons),
        ):
            if reasons:
                lines.append(
                    wrapped(f"{what}: {cycle_name(cycle)}: {'; '.join(map(str, reasons))}")
                )
    return lines


def cycle_name(cycle: Cycle) -> str:
    """Return a cycle's id with its time, or with the sheet's own name for a curve."""
    if cycle.from_curve:
        return f"{cycle.id} ({cycle.label})" if cycle.label else cycle.id
    return f"{cycle.id} ({number(cycle.start_s, 2)} to {number(cycle.end_s, 2)} s)"


def _heading(walk: MeasuredWalk) -> str:
    n_kept = sum(cycle.is_kept for cycle in walk.cycles)
    count = f"{n_kept} of {len(walk.cycles)} cycles kept"
    return f"{readable(walk.path)}\n{title_line(walk)}; {count}"


def _table(walk: MeasuredWalk, kept: Sequence[Cycle]) -> str:
    cells = {(row.cycle, row.measure): row for row in walk.rows}
    lines = _header()
    sheets = several_conditions(walk)
    for side in SIDES:
        of_side = [cycle for cycle in kept if cycle.side == side]
        lines += [_cycle_line(cycle, cells) for cycle in of_side]
        if of_side and not sheets:
            lines += _walk_lines(walk, side, len(of_side))
    if sheets:
        lines.append(f"no walk values: the sheet holds several conditions ({', '.join(sheets)})")
    return "\n".join(lines)


def _header() -> list[str]:
    """Return the column heads: titles over several lines, then units."""
    heads = [[word] for word in _LEAD]
    heads += [
        textwrap.wrap(measure.title, width)
        for measure, width in zip(HEADLINE, _title_widths(), strict=True)
    ]
    height = max(map(len, heads))
    columns = [[""] * (height - len(head)) + head for head in heads]
    units = [*_LEAD_UNITS, *(unit_words(measure.unit) for measure in HEADLINE)]
    return [_line([column[i] for column in columns]) for i in range(height)] + [_line(units)]


def _title_widths() -> list[int]:
    """Return for each headline measure the narrowest width that breaks no word of its title."""
    return [
        max(
            _NARROWEST,
            *(len(word) for word in textwrap.wrap(measure.title, 1, break_long_words=False)),
        )
        for measure in HEADLINE
    ]


def _line(texts: Sequence[str]) -> str:
    widths = [*_LEAD_WIDTHS, *(width + 1 for width in _title_widths())]
    first = texts[0].ljust(widths[0])
    return (
        first + "".join(t.rjust(w) for t, w in zip(texts[1:], widths[1:], strict=True))
    ).rstrip()


def _cycle_line(cycle: Cycle, cells: RowsByCell) -> str:
    name = f"{cycle.id} {cycle.label}" if cycle.from_curve else cycle.id
    start = NO_NUMBER if cycle.from_curve else number(cycle.start_s, 2)
    lead = [name[: _LEAD_WIDTHS[0]], start, cycle.contact, number(cycle.speed_m_s, 2)]
    return _line(
        lead
        + [number(cells[cycle.id, measure.name].value, measure.decimals) for measure in HEADLINE]
    )


def _walk_lines(walk: MeasuredWalk, side: Side, n_kept: int) -> list[str]:
    rows = [row for row in walk.rows if row.side == side]
    summary = {found["measure"]: found for found in walk_values(rows).to_dict("records")}
    values, counts = [], []
    for measure in HEADLINE:
        found = summary[measure.name]
        values.append(number(float(found["value"]), measure.decimals))
        counts.append(f"{found['n_defined']}/{n_kept}")
    return [
        _line([f"{side}, walk value", "", "", "", *values]),
        _line([f"{side}, n defined", "", "", "", *counts]),
    ]


def _notes(walk: MeasuredWalk, kept: Sequence[Cycle]) -> list[str]:
    """Return what must stand below the table: summaries, reasons, labels."""
    medians = [measure.title for measure in HEADLINE if measure.walk_value == "median"]
    notes = [wrapped(f"walk value: mean of the steps; median for {', '.join(medians)}")]
    for measure in HEADLINE:
        rows = [row for row in walk.rows if row.measure == measure.name]
        reasons = _by_text((missing_words(row.reason), row.cycle) for row in rows if row.reason)
        notes += _note_lines(measure, reasons, len(kept))
        defined = [row for row in rows if not row.reason]
        labels = _by_text((str(label), row.cycle) for row in defined for label in row.labels)
        notes += _note_lines(measure, labels, len(defined))
    return notes


def _note_lines(measure: Measure, texts: Mapping[str, list[str]], n_all: int) -> list[str]:
    """Return one line per set of cycles, with all that holds for them."""
    by_cycles: dict[str, list[str]] = {}
    for text, cycles in texts.items():
        by_cycles.setdefault(_which(cycles, n_all), []).append(text)
    return [
        wrapped(f"{measure.title}, {cycles}: {'; '.join(found)}")
        for cycles, found in by_cycles.items()
    ]


def _by_text(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for text, cycle in pairs:
        found.setdefault(text, []).append(cycle)
    return found


def _which(cycles: Sequence[str], n_all: int) -> str:
    return "all" if len(cycles) == n_all else ", ".join(cycles)
