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
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

import pandas as pd

from gaittrack import __version__
from gaittrack.cohort.changes import change_table
from gaittrack.cohort.deidentify import closed, new_ids
from gaittrack.cohort.dictionary import TABLES, definitions_table
from gaittrack.cohort.error_words import errors_table
from gaittrack.cohort.everyday import outcomes_table
from gaittrack.cohort.package import refuse_filled, write_package
from gaittrack.cohort.package_words import PackageFacts
from gaittrack.cohort.protection import (
    LEAST_ALIKE,
    Protection,
    Release,
    protect,
    unprotected,
)
from gaittrack.cohort.release.finishing import PackageRelease
from gaittrack.cohort.release.method import method_of
from gaittrack.cohort.selection import EVERYBODY, Selection, kept_visits
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
    release : {"partner", "controlled", "open"}
        For whom it is: says how many people must look alike.
    least_alike : int or None
        In place of the number of the release.
    with_curves : bool
        Also mean curves; they tell people apart better than values do.
    with_bodies : bool
        Also height, mass and time since onset, in bands.
    override_reason : str
        Why to export everything that is meant, whoever stands out; stands in the export.
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
UNNAMED: Final = PackageRelease()


@dataclass(frozen=True, eq=False, slots=True)
class ExportResult:
    """What was exported."""

    folder: Path
    id_map: Path
    n_rows: Mapping[str, int]
    protection: Protection
    export_hash: str


def export_cohort(
    source: CohortSource,
    out: Path,
    *,
    id_map: Path,
    options: ExportOptions = PLAIN,
    everybody: CohortSource | None = None,
    release: PackageRelease = UNNAMED,
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
    everybody : CohortSource, optional
        The whole study, where ``source`` is a part of it; walks are not looked at.
    release : PackageRelease
        Licence, makers, number and day; how it was made is added.
    track : Track
        Is passed all that takes a while.

    Raises
    ------
    StudyError
        Nobody to export, too few people, the folder is filled, the map would lie in it, or
        something cannot be written. Then neither folder nor map is there.
    ComparisonError
        The walks of a visit cannot be compared, such as one that is stored twice.
    """
    refuse_filled(out)
    _refuse_bad_map(id_map, out)
    if options.release == "open" and not release.facts.licence:
        raise StudyError.of("open_without_licence", where="export")
    protection = _protected(source if everybody is None else everybody, options)
    ids = new_ids(protection.people)
    protection = protection.known_by(ids)
    clean = protection.rows_of(closed(_of_people(source, ids), ids))
    tables = _tables(clean, ids, options, protection, track)
    with _map_of(ids, id_map):
        n_rows, own = write_package(
            out,
            tables,
            _facts(clean, tables, protection, options),
            track,
            release=replace(release, method=_method(clean, options)),
        )
    return ExportResult(out, id_map, n_rows, protection, own)


def _method(clean: CohortSource, options: ExportOptions) -> dict[str, Any]:
    return method_of(
        clean,
        release=options.release,
        least=options.least,
        selection=options.selection,
        reason=options.override_reason.strip(),
    )


def _facts(
    clean: CohortSource,
    tables: Mapping[str, pd.DataFrame],
    protection: Protection,
    options: ExportOptions,
) -> PackageFacts:
    return PackageFacts(
        name=NAME,
        release=options.release,
        software_version=__version__,
        settings_hash=_settings_hash(options, tuple(tables), clean),
        notice=NOTICE,
        least_alike=protection.least,
        smallest_group=protection.smallest,
        selection=options.selection.words,
        n_damaged=sum(clean.damaged.values()),
        override_reason=options.override_reason.strip(),
    )


def _protected(everybody: CohortSource, options: ExportOptions) -> Protection:
    """Return what is shown, or refuse what nothing can mend."""
    if everybody.people.empty:
        raise StudyError.of("nobody_to_export", where="study")
    codes = [str(code) for code in everybody.people["person"]]
    plain = closed(everybody, {code: code for code in codes})
    if options.override_reason.strip():
        found = unprotected(plain, least=options.least, selection=options.selection)
    else:
        found = protect(
            plain,
            release=options.release,
            least=options.least_alike,
            selection=options.selection,
        )
    if found.before.people.empty:
        raise StudyError.of("nobody_fits_selection", where=options.selection.words)
    if not options.override_reason.strip() and not found.is_met:
        raise StudyError.of(
            "too_few_to_export",
            where="export",
            n_people=len(found.before.people),
            least=found.least,
            ways=", ".join(["Add people", *_WAYS[options.release]]),
        )
    return found


_WAYS: Final[Mapping[Release, Sequence[str]]] = {
    "partner": (),
    "controlled": ("export for a named partner (--release partner)",),
    "open": ("export for fewer readers (--release controlled)",),
}


def _of_people(source: CohortSource, ids: Mapping[str, str]) -> CohortSource:
    """Return what is of those who are shown, by their names."""
    return kept_visits(source, source.visits[source.visits["person"].isin(list(ids))])


def _tables(
    clean: CohortSource,
    ids: Mapping[str, str],
    options: ExportOptions,
    protection: Protection,
    track: Track,
) -> dict[str, pd.DataFrame]:
    people, long = people_table(clean), long_table(clean, track)
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
        "statistics": without_small_groups(found, least=options.least),
        "measures": definitions_table(),
    }
    tables |= {"bodies": visits_table(clean)} if options.with_bodies else {}
    tables |= {"curves": curves_table(clean)} if options.with_curves else {}
    told = {name: protection.told(table) for name, table in tables.items()}
    return told | {"withheld": protection.lost(with_bodies=options.with_bodies)}


def _settings_hash(options: ExportOptions, tables: Sequence[str], clean: CohortSource) -> str:
    errors = sorted(repr(each) for each in (clean.own_errors or {}).items())
    dictionary = {name: [asdict(field) for field in fields] for name, fields in TABLES.items()}
    typical = sorted(asdict(each).items() for each in (clean.typical or {}).values())
    alike = (options.release, options.least)
    settings = [__version__, stamp_of_rules(), *alike, tables, errors, typical, dictionary]
    return hashlib.sha256(json.dumps(settings).encode()).hexdigest()


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
