"""Sheets that hold several recordings: of several people, or several trials of one.

In comes an open sheet; it goes out with the rows of one of them. Which one a map tells; where none
does, the sheet notes that a person must be asked, and the first is looked at meanwhile. Recordings
are never mixed. What people are called is not repeated: they are counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from gaittrack.errors import LayoutError
from gaittrack.read.sheets.curves_in_rows import is_in_rows, people_columns, row_header
from gaittrack.read.sheets.percent_grid import percent_by_numbers, percent_restarting
from gaittrack.read.sheets.recording_names import names_trials
from gaittrack.read.sheets.sheet_columns import Sheet
from gaittrack.read.sheets.sides_in_rows import put_sides_beside
from gaittrack.read.tables.number_cells import is_missing

MOST_LISTED = 12
"""Further recordings are counted, not listed; our choice."""


def one_person(sheet: Sheet) -> None:
    """Keep the rows of one of several people.

    Raises
    ------
    LayoutError
        A map counts one that is not there.
    """
    header = row_header(sheet)[0] if is_in_rows(sheet) else sheet.labels
    column = next(iter(people_columns(header)), None)
    if column is None:
        return
    label = header[column]
    people = [word for word in _words(sheet, column) if word != label]
    told = sheet.sheet_map.person_number
    if told is not None and not 1 <= told <= max(1, len(people)):
        raise LayoutError.of("no_such_person", where=sheet.where, told=told, n=len(people))
    if len(people) < 2:
        return
    told = sheet.in_part("person", len(people)) or told
    if told is None:
        numbers = [str(number) for number in range(1, len(people) + 1)]
        said = f"{label!r} counts {len(people)} people: which one, by order"
        sheet.ask_for("person_number", said, numbers)
    _keep(sheet, column, people[(told or 1) - 1], label)


def one_trial(sheet: Sheet) -> None:
    """Keep the rows of one of several recordings over time.

    Raises
    ------
    LayoutError
        A map names one that is not there.
    """
    told = sheet.sheet_map
    if told.trial_column is not None:
        column: int | None = sheet.find(told.trial_column, "trial_column")
    else:
        column = _called(sheet, names_trials) if _runs_over_time(sheet) else None
    is_over_time = _runs_over_time(sheet)
    if column is not None:
        _one_named(sheet, column)
    if is_over_time:
        put_sides_beside(sheet)
    if is_over_time and column is None:
        _one_run(sheet)


def _one_named(sheet: Sheet, column: int) -> None:
    sheet.key_columns.add(column)
    trials = _words(sheet, column)
    told = sheet.sheet_map.trial
    if told is not None and told not in trials:
        raise _no_such_trial(sheet, told, trials)
    if len(trials) < 2:
        return
    if (number := sheet.in_part("trial", len(trials))) is not None:
        told = trials[number - 1]
    if told is None:
        said = f"{sheet.labels[column]!r} names {len(trials)} recordings: which one"
        sheet.ask_for("trial", said, trials)
    _keep(sheet, column, told or trials[0])


def _one_run(sheet: Sheet) -> None:
    """Keep the rows of one of several times that start again, one below the other."""
    axis = sheet.first("time")
    axis = sheet.first("frame") if axis is None else axis
    if axis is None:
        return
    values = sheet.numbers(axis)
    starts = [0, *(int(row) + 1 for row in np.flatnonzero(np.diff(values) < 0)), len(values)]
    runs = list(zip(starts[:-1], starts[1:], strict=True))
    is_restart = len(runs) > 1 and all(
        values[start] == values[0] and stop - start > 1 for start, stop in runs
    )
    numbers = [str(number) for number in range(1, len(runs) + 1)]
    told = sheet.sheet_map.trial
    if told is not None and told not in numbers:
        raise _no_such_trial(sheet, told, numbers)
    if not is_restart:
        return
    if (number := sheet.in_part("trial", len(runs))) is not None:
        told = str(number)
    if told is None:
        said = f"{sheet.labels[axis]!r} starts {len(runs)} times: which recording, by order"
        sheet.ask_for("trial", said, numbers)
    start, stop = runs[int(told or 1) - 1]
    sheet.keep_rows(range(start, stop))


def _no_such_trial(sheet: Sheet, told: str, trials: Sequence[str]) -> LayoutError:
    return LayoutError.of(
        "no_such_trial", where=sheet.where, told=told, trials=", ".join(trials[:MOST_LISTED])
    )


def _runs_over_time(sheet: Sheet) -> bool:
    """Whether the rows are, or may be, moments: nothing runs from 0 to 100 %."""
    if sheet.sheet_map.layout is not None:
        return sheet.sheet_map.layout == "time_series"
    if sheet.first("percent") is not None:
        return False
    return percent_by_numbers(sheet) is None and percent_restarting(sheet) is None


def _called(sheet: Sheet, is_so: Callable[[str], bool]) -> int | None:
    return next((column for column, label in enumerate(sheet.labels) if is_so(label)), None)


def _words(sheet: Sheet, column: int) -> list[str]:
    return [word for word in dict.fromkeys(sheet.texts(column)) if not is_missing(word)]


def _keep(sheet: Sheet, column: int, *words: str) -> None:
    """Keep the rows that hold one of the words in a column; a header among them is one too."""
    rows = [row for row, cell in enumerate(sheet.texts(column)) if cell in words]
    sheet.keep_rows(rows)
    sheet.steps.append(f"{len(rows)} rows of one recording kept")
