"""Measure repeat visits and write the laboratory's own measurement errors.

In come paths by person, out come a file of errors, a table on stdout, problems on stderr and the
exit code.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Final

import click

from gaittrack.commands.named_paths import split_name
from gaittrack.commands.running import (
    DONE,
    NOT_ALL_WELL,
    mistakes_told,
    refuse_no_folder,
    tell_of_files,
    writing,
)
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.measurement_error.marker_errors import How
from gaittrack.compare.measurement_error.repeat_visits import (
    LEAST_PERSONS,
    RepeatError,
    laboratory_errors,
    walk_error,
    with_enough_persons,
    write_errors,
)
from gaittrack.compare.row_words import measure_words, number
from gaittrack.compare.walked.same_walks import refuse_duplicates
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.compare_files import measure_condition
from gaittrack.lab_map import lab_maps_of
from gaittrack.late import pandas as pd
from gaittrack.notice import NOTICE
from gaittrack.pipeline import MeasureOptions
from gaittrack.walk_folders import paths_of, walks_in

_COLUMNS: Final = ("person", "visit", "measure", "side", "value", "walk_error")
_HOWS: Final[dict[str, How]] = {
    "left-on": "untouched",
    "same-day": "same day, same tester",
    "other-day": "other day, same tester",
    "other-tester": "other tester",
}


def write_own_errors(
    out: Path,
    visits: Sequence[str],
    *,
    handling: str,
    laboratory: str,
    lab_map: Sequence[Path],
) -> int:
    """Measure repeat visits, write the errors and return the exit code.

    Parameters
    ----------
    out : Path
        TOML file to write.
    visits : sequence of str
        ``PERSON=PATH``; the visits of a person in order.

    Raises
    ------
    click.UsageError
        Too few persons or visits, a visit without a walk, or a file that cannot be written.
    """
    refuse_no_folder(out, "")
    with mistakes_told(ValueError), writing(out, ""):
        repeats, n_refused = _repeats(visits, MeasureOptions(lab_maps_of(lab_map)))
        usable, left_out = with_enough_persons(repeats)
        if usable.empty:
            raise click.UsageError(
                f"Give at least two visits of {LEAST_PERSONS} persons: --visit PERSON=PATH each."
            )
        found = laboratory_errors(
            usable,
            how=_HOWS[handling],
            laboratory=laboratory,
            made_on=date.today().isoformat(),
        )
        write_errors(found, out)
    click.echo(_text(found, out))
    for name in left_out:
        title = MEASURE_BY_NAME[name].title
        click.echo(f"left out: {title}: too few persons with all visits", err=True)
    return NOT_ALL_WELL if n_refused or left_out else DONE


def _repeats(visits: Sequence[str], options: MeasureOptions) -> tuple[pd.DataFrame, int]:
    """Return one value per person, visit, measure and side, and how many files were refused."""
    rows, records = [], []
    counts: dict[str, int] = {}
    n_refused = 0
    for text in visits:
        person, path = split_name(text, "--visit")
        counts[person] = visit = counts.get(person, 0) + 1
        measured = measure_condition(
            f"{person} visit {visit}", walks_in(paths_of(path), maps=options.maps), options=options
        )
        tell_of_files(measured.refused, measured.problems)
        n_refused += len(measured.refused)
        records += measured.records
        rows += [
            (person, visit, measure, side, sample.value, walk_error(sample.walk_values))
            for measure, side, sample in measured.samples()
        ]
    refuse_duplicates(records)
    table = pd.DataFrame(rows, columns=list(_COLUMNS))
    return table, n_refused


def _text(found: Sequence[RepeatError], out: Path) -> str:
    lines = [f"{'':<52}{'error':>12}{'smallest change':>18}{'ICC(2,1)':>12}"]
    for each in found:
        decimals = MEASURE_BY_NAME[each.measure].decimals + 1
        head = measure_words(each.measure)[:51]
        change = number(each.smallest_change, decimals)
        icc = number(each.icc, 2)
        lines.append(f"{head:<52}{number(each.sem, decimals):>12}{change:>18}{icc:>12}")
    first = found[0]
    lines.append(f"{first.n_persons} persons, {first.n_visits} visits; {first.how}")
    lines.append(f"wrote {out}; cited by: gaittrack compare --errors {out}")
    return "\n".join([*lines, "", wrapped(NOTICE)])
