"""The whole export: de-identify, count who look alike, make the tables, write the package.

In come a :class:`CohortSource` and a folder, out come the folder, the map of the ids (elsewhere)
and an :class:`ExportResult`; or a refusal that names the groups that are too small.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import pandas as pd

from gaittrack import __version__
from gaittrack.cohort.changes import change_table
from gaittrack.cohort.deidentify import (
    LEAST_ALIKE,
    AnonymityReport,
    Release,
    anonymity_report,
    deidentify,
)
from gaittrack.cohort.dictionary import TABLES, definitions_table
from gaittrack.cohort.error_words import errors_table
from gaittrack.cohort.everyday import outcomes_table
from gaittrack.cohort.package import refuse_filled, write_package
from gaittrack.cohort.package_words import PackageFacts
from gaittrack.cohort.selection import EVERYBODY, Selection, select_source
from gaittrack.cohort.source import CohortSource
from gaittrack.cohort.statistics import statistics_table
from gaittrack.cohort.stride_rows import (
    left_out_table,
    strides_table,
    walk_values_table,
    walks_table,
)
from gaittrack.cohort.suppression import without_small_groups
from gaittrack.cohort.table import (
    aims_table,
    conditions_table,
    curves_table,
    exclusions_table,
    legs_table,
    long_table,
    people_table,
    people_with_bodies,
    ratings_table,
    settings_table,
    visits_table,
    wide_table,
)
from gaittrack.cohort.tracking import Track, untracked
from gaittrack.compare.rules import stamp_of_rules
from gaittrack.errors import ComparisonError, StudyError
from gaittrack.notice import NOTICE

NAME: Final = "cohort-of-walks"


@dataclass(frozen=True, slots=True)
class ExportOptions:
    """What an export holds, and for whom it is.

    Attributes
    ----------
    release : {"controlled", "open"}
        Says how many people must look alike.
    least_alike : int or None
        In place of the number of the release.
    with_curves : bool
        Also mean curves; they tell people apart better than values do.
    with_bodies : bool
        Also height, mass and time since onset, in bands; then people must look alike in these too.
    override_reason : str
        Why to export although groups are too small; stands in the export.
    selection : Selection
        Of people and visits, in the words of the export's own tables.
    """

    release: Release = "controlled"
    least_alike: int | None = None
    with_curves: bool = False
    with_bodies: bool = False
    override_reason: str = ""
    selection: Selection = EVERYBODY

    @property
    def least(self) -> int:
        """Fewest people who must look alike."""
        return self.least_alike or LEAST_ALIKE[self.release]


PLAIN: Final = ExportOptions()


@dataclass(frozen=True, eq=False, slots=True)
class ExportResult:
    """What was exported."""

    folder: Path
    id_map: Path
    n_rows: Mapping[str, int]
    anonymity: AnonymityReport


def export_cohort(
    source: CohortSource,
    out: Path,
    *,
    id_map: Path,
    options: ExportOptions = PLAIN,
    track: Track = untracked,
) -> ExportResult:
    """Export a cohort.

    Parameters
    ----------
    source : CohortSource
        With the names of the study.
    out : Path
        New or empty folder.
    id_map : Path
        New CSV file, not in ``out``, for who is who; only its owner may read it.
    track : Track
        Is passed all that takes a while.

    Raises
    ------
    StudyError
        Nobody to export, groups too small, the folder is filled, the map would lie in it, or
        something cannot be written. Then neither folder nor map is there.
    ComparisonError
        The walks of a visit cannot be compared, such as one that is stored twice.
    """
    refuse_filled(out)
    _refuse_bad_map(id_map, out)
    clean, ids = _selected(source, options.selection)
    people = people_table(clean)
    plain = report = anonymity_report(people, least=options.least)
    if options.with_bodies:
        report = anonymity_report(people_with_bodies(clean), least=options.least)
    _refuse_too_few(report, plain, options)
    tables = _tables(clean, people, ids, options, track)
    with _map_of(ids, id_map):
        n_rows = write_package(out, tables, _facts(clean, tables, report, options), track)
    return ExportResult(out, id_map, n_rows, report)


def _facts(
    clean: CohortSource,
    tables: Mapping[str, pd.DataFrame],
    report: AnonymityReport,
    options: ExportOptions,
) -> PackageFacts:
    return PackageFacts(
        name=NAME,
        release=options.release,
        software_version=__version__,
        settings_hash=_settings_hash(options, tuple(tables), clean),
        notice=NOTICE,
        least_alike=report.least,
        alike_by=report.shared,
        smallest_group=report.smallest,
        n_groups_below=report.n_groups_below,
        selection=options.selection.words,
        n_damaged=sum(clean.damaged.values()),
        override_reason="" if report.is_met else options.override_reason.strip(),
    )


def _selected(source: CohortSource, selection: Selection) -> tuple[CohortSource, dict[str, str]]:
    if source.people.empty:
        raise StudyError.of("nobody_to_export", where="study")
    everybody, ids = deidentify(source)
    clean = select_source(everybody, selection)
    kept = set(clean.people["person"])
    if not kept:
        raise StudyError.of("nobody_fits_selection", where=selection.words)
    return clean, {person: new for person, new in ids.items() if new in kept}


def _tables(
    clean: CohortSource,
    people: pd.DataFrame,
    ids: Mapping[str, str],
    options: ExportOptions,
    track: Track,
) -> dict[str, pd.DataFrame]:
    long = long_table(clean, track)
    try:
        changes = change_table(clean, track)
    except ComparisonError as error:
        names = {new: old for old, new in ids.items()}
        raise ComparisonError(
            error.what, where=f"person {names.get(error.where, error.where)}", action=error.action
        ) from error
    found = statistics_table(changes, n_people=len(people), track=track)
    tables = {
        "people": people,
        "visits": visits_table(clean),
        "legs": legs_table(clean),
        "conditions": conditions_table(clean),
        "settings": settings_table(clean),
        "aims": aims_table(clean),
        "ratings": ratings_table(clean),
        "values_long": long,
        "values_wide": wide_table(long),
        "walks": walks_table(clean),
        "walk_values": walk_values_table(clean),
        "strides": strides_table(clean),
        "left_out": left_out_table(clean),
        "measurement_errors": errors_table(clean.own_errors),
        "changes": changes,
        "outcomes": outcomes_table(clean),
        "exclusions": exclusions_table(clean),
        "statistics": without_small_groups(found, least=options.least, n_people=len(people)),
        "measures": definitions_table(),
    }
    tables |= {"bodies": visits_table(clean)} if options.with_bodies else {}
    return tables | ({"curves": curves_table(clean)} if options.with_curves else {})


def _settings_hash(options: ExportOptions, tables: Sequence[str], clean: CohortSource) -> str:
    errors = sorted(repr(each) for each in (clean.own_errors or {}).items())
    dictionary = {name: [asdict(field) for field in fields] for name, fields in TABLES.items()}
    typical = sorted(asdict(each).items() for each in (clean.typical or {}).values())
    alike = (options.release, options.least)
    settings = [__version__, stamp_of_rules(), *alike, tables, errors, typical, dictionary]
    return hashlib.sha256(json.dumps(settings).encode()).hexdigest()


def _refuse_too_few(
    report: AnonymityReport, plain: AnonymityReport, options: ExportOptions
) -> None:
    """Refuse groups that are too small; ``plain`` are those without what bodies add."""
    if report.is_met or options.override_reason.strip():
        return
    shown = [
        f"{row['n_people']}: {', '.join(str(row[name]) for name in report.shared)}"
        for row in report.below.sort_values("n_people").head(8).to_dict("records")
    ]
    more = report.n_groups_below - len(shown)
    listed = "; ".join(shown) + (f"; and {more} more" if more else "")
    ways = ["Nothing was exported. Add people"]
    ways += ["ask for a release to fewer readers"] * (options.release == "open")
    ways += [
        f"leave the bodies out ({plain.n_people_below} people in groups too small then)"
    ] * options.with_bodies
    raise StudyError.of(
        "groups_too_small",
        where="export",
        n_people_below=report.n_people_below,
        n_people=report.n_people,
        n_groups_below=report.n_groups_below,
        least=report.least,
        shared=", ".join(report.shared).replace("_", " "),
        listed=listed,
        ways=", ".join(ways),
    )


def _refuse_bad_map(id_map: Path, out: Path) -> None:
    inside = id_map.resolve().is_relative_to(out.resolve())
    if inside or id_map.exists():
        what = "The map of the ids would lie in the export." if inside else "There is a file."
        raise StudyError(
            what, where=str(id_map), action="Name a new file that is kept apart from the export."
        )


@contextmanager
def _map_of(ids: Mapping[str, str], path: Path) -> Iterator[None]:
    """Write who is who; take it away again when the export fails."""
    _write_map(path, ids)
    try:
        yield
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _write_map(path: Path, ids: Mapping[str, str]) -> None:
    table = pd.DataFrame({"person": list(ids), "export_id": list(ids.values())})
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(table.to_csv(index=False, lineterminator="\r\n"))
    except OSError as error:
        raise StudyError.of("map_ids_cannot_written", where=path, why=error.strerror) from error
