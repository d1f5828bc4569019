"""Typical values of the laboratory's own able-bodied people: shown, and taken when asked to.

In comes a study, out come lines of text, and a setting of the laboratory.
"""

from __future__ import annotations

import click

from gaittrack.cohort.people.able_bodied import (
    AbleBodiedGroup,
    able_bodied_group,
    able_bodied_source,
    take_typical,
    typical_of_group,
    typical_rows,
)
from gaittrack.compare.row_words import measure_words, range_words
from gaittrack.compare.typical_values.own_typical import UNKNOWN_FEET
from gaittrack.compare.typical_values.typical import TypicalRange
from gaittrack.compare.typical_values.typical_curves import OwnTypical
from gaittrack.study.store import Study


def run_typical(study: Study, *, take: bool, why: str, who: str) -> None:
    """Print own and published ranges, and take the own ones if asked to."""
    if take and not why.strip():
        raise click.UsageError("Say why they are taken: --why TEXT.")
    group = able_bodied_group(able_bodied_source(study))
    own = typical_of_group(group)
    for line in typical_lines(group, own):
        click.echo(line)
    if take:
        take_typical(study, own, who=who, why=why)
        click.echo("Taken: these are in use from now on.")


def typical_lines(group: AbleBodiedGroup, own: OwnTypical) -> list[str]:
    """Return who they are of, then a line for each measure."""
    feet = group.people[0].feet or UNKNOWN_FEET
    lines = [f"{len(group.people)} able-bodied persons, {feet}: mean ± 2 SD of one leg"]
    lines += [f"left out: {code}: {reason}" for code, reason in group.left_out.items()]
    lines.append(f"{'':<52}{'own':>18}{'published':>18}")
    for row in typical_rows(own):
        head = measure_words(row.own.measure)[:51]
        lines.append(f"{head:<52}{_range(row.own):>18}{_range(row.published):>18}")
    return [*lines, f"curves: {', '.join(each.joint for each in own.curves) or 'none'}"]


def _range(found: TypicalRange | None) -> str:
    return "-" if found is None else range_words(found.measure, found.low, found.high)
