"""The whole export: de-identify, withhold what singles people out, write tables and package.

In come the counted facts of everybody, a way to read each person, and a folder, out come the
folder, the map of the ids (elsewhere) and an :class:`ExportResult`; or a refusal of what nothing
can mend.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyarrow.compute as pc

from gaittrack import __version__
from gaittrack.cohort.asking.selection_words import refuse_unknown, words_there
from gaittrack.cohort.disclosure.counted_facts import Everybody
from gaittrack.cohort.disclosure.protection import (
    LEAST_ALIKE,
    Protection,
    Release,
    protect,
    unprotected,
)
from gaittrack.cohort.disclosure.shown_people import all_shown, people_shown, selected
from gaittrack.cohort.inference.statistics import (
    KEYS,
    USED_OF_CHANGES,
    USED_OF_SPEED,
    speeds_of,
    statistics_table,
)
from gaittrack.cohort.inference.suppression import without_small_groups
from gaittrack.cohort.people.deidentify import closed, new_ids
from gaittrack.cohort.people.source import CohortSource, together
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.cohort.release.dictionary import TABLES, definitions_table
from gaittrack.cohort.release.error_words import errors_table
from gaittrack.cohort.release.finishing import PackageRelease, finish
from gaittrack.cohort.release.method import method_of
from gaittrack.cohort.release.package import refuse_filled, whole_folder, write_words
from gaittrack.cohort.release.package_words import WORKBOOK, PackageFacts
from gaittrack.cohort.release.table_files import (
    FilesOfTable,
    TableFiles,
    grouped,
    whole_texts,
    write_workbook,
)
from gaittrack.cohort.tables.reason_cells import explained
from gaittrack.cohort.tables.selection import EVERYBODY, Selection, selected_ids
from gaittrack.cohort.tables.tables_of_person import (
    Read,
    facts_of_people,
    tables_of_person,
)
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.compare.rules import stamp_of_rules
from gaittrack.errors import ComparisonError, StudyError
from gaittrack.measures import MEASURES
from gaittrack.notice import NOTICE
from gaittrack.table_cells import escaped_text, stacked

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
_AT_ONCE: Final = 50
"""People whose facts are made tables of at once; own choice: more take memory, fewer take time."""
_CHANGES_AT_ONCE: Final = 100_000
"""Rows of changes whose statistics are read at once, or those of one measure; own choice."""
UNNAMED: Final = PackageRelease()


@dataclass(frozen=True, eq=False, slots=True)
class ExportResult:
    """What was exported.

    Attributes
    ----------
    n_rows : mapping of table name to int
        Rows written.
    export_hash : str
        By which the folder is known again.
    not_in_workbook : tuple of str
        Tables too large for a sheet.
    is_overtaken : bool
        The study changed meanwhile; what was exported is one state of it, that of the beginning.
    """

    folder: Path
    id_map: Path
    n_rows: Mapping[str, int]
    protection: Protection
    export_hash: str
    not_in_workbook: tuple[str, ...] = ()
    is_overtaken: bool = False


def export_people(
    everybody: Everybody,
    read: Read,
    out: Path,
    *,
    id_map: Path,
    options: ExportOptions = PLAIN,
    release: PackageRelease = UNNAMED,
    track: Track = untracked,
) -> ExportResult:
    """Export a cohort person by person.

    Parameters
    ----------
    everybody : Everybody
        From ``counted_facts.counted``: of everybody, whoever is meant.
    read : Read
        Gives each person by the study's names; asked once for each.
    out : Path
        New or empty folder.
    id_map : Path
        New CSV file, not in ``out``, for who is who; only its owner may read it.
    release : PackageRelease
        Licence, makers, number and day; how it was made is added.
    track : Track
        Is passed all that takes a while.

    Raises
    ------
    StudyError
        Nobody to export, too few people, no licence, the folder is filled, the map would lie in
        it, or something cannot be written. Then neither folder nor map is there.
    ComparisonError
        The walks of a visit cannot be compared, such as one that is stored twice.
    """
    refuse_filled(out)
    _refuse_bad_map(id_map, out)
    if options.release == "open" and not release.facts.licence:
        raise StudyError.of("open_without_licence", where="export")
    protection = _protected(everybody, options)
    ids = new_ids(protection.people)
    protection = protection.known_by(ids)
    with ExitStack() as undo:
        with whole_folder(out) as folder:
            written = _write(folder, _Making(ids, options, protection, track, read))
            own = finish(folder, replace(release, method=_method(everybody, options)))
            _write_map(id_map, ids)
            undo.callback(id_map.unlink)
        undo.pop_all()
    n_rows = {name: each.n_rows for name, each in written.items()}
    not_in_workbook = tuple(name for name, each in written.items() if not each.fits_sheet(name))
    return ExportResult(out, id_map, n_rows, protection, own, not_in_workbook)


def _method(everybody: Everybody, options: ExportOptions) -> dict[str, Any]:
    return method_of(
        everybody,
        release=options.release,
        least=options.least,
        selection=replace(options.selection, people=()),
        reason=options.override_reason.strip(),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Making:
    """What the tables of an export are made from; ``ids`` of those who are meant."""

    ids: Mapping[str, str]
    options: ExportOptions
    protection: Protection
    track: Track
    read: Read


def _write(folder: Path, making: _Making) -> dict[str, FilesOfTable]:
    """Write the whole package."""
    protection, options = making.protection, making.options
    names = [name for name in TABLES if _is_wanted(name, options)]
    stamp = _settings_hash(options, names, protection.everybody)
    said = {"software_version": __version__, "settings_hash": stamp}
    with TableFiles(folder, names, said, protection.told) as files:
        files.add("measurement_errors", errors_table(protection.everybody.own_errors))
        files.add("measures", definitions_table())
        files.add("withheld", protection.lost(with_bodies=options.with_bodies))
        n_damaged = _write_people(files, making)
        files.finish("changes")
        files.add("statistics", _statistics(files, making))
        files.add("reasons", explained(files.codes_so_far()))
    sheets = {name: own for name, own in files.written.items() if own.fits_sheet(name)}
    write_workbook(folder / WORKBOOK, folder, sheets, making.track)
    facts = _facts(stamp, making, n_damaged)
    write_words(folder, files.written, sheets, facts)
    return files.written


def _is_wanted(name: str, options: ExportOptions) -> bool:
    asked = {"bodies": options.with_bodies, "curves": options.with_curves}
    return asked.get(name, True)


def _write_people(files: TableFiles, making: _Making) -> int:
    """Write what is known of each person; return how many of their walks are damaged."""
    names = {new: person for person, new in making.ids.items()}
    people, n_damaged = sorted(names), 0
    passed = iter(making.track("Writing people", people, len(people)))
    while some := list(islice(passed, _AT_ONCE)):
        own = together([_write_walks(files, making, names[new], new) for new in some])
        n_damaged += sum(own.damaged.values())
        for name, table in facts_of_people(own):
            if name in files.written:
                files.add(name, table)
    return n_damaged


def _write_walks(files: TableFiles, making: _Making, person: str, new: str) -> CohortSource:
    """Write what hangs on the walks of a person; return the rest."""
    part, changes = making.read(person)
    own = making.protection.rows_of(closed(part, {person: new}))
    try:
        tables = tables_of_person(own, changes, new, with_curves=making.options.with_curves)
        for name, table in tables:
            files.add(name, table)
    except ComparisonError as error:
        raise ComparisonError(error.what, where=f"person {person}", action=error.action) from error
    return replace(own, walks=(), rejected={}, again=None)


def _statistics(files: TableFiles, making: _Making) -> pd.DataFrame:
    """Return the statistics of all people, read from what was written: some measures at a time."""
    n_people, found = len(making.ids), []
    speed = files.read("changes", USED_OF_SPEED, measure_id=[SPEED_MEASURE])
    speeds = speeds_of(whole_texts(speed))
    n_rows = files.written["changes"].n_rows
    n_at_once = max(1, _CHANGES_AT_ONCE * len(MEASURES) // max(1, n_rows))
    passed = making.track("Fitting models", iter(MEASURES), len(MEASURES))
    while names := [measure.name for measure in islice(passed, n_at_once)]:
        changes = files.read("changes", USED_OF_CHANGES, measure_id=names)
        for name in names:
            own = changes.filter(pc.equal(changes["measure_id"], name))
            for group in grouped(own, KEYS):
                told = statistics_table(group, n_people=n_people, speeds=speeds)
                found.append(without_small_groups(told, least=making.options.least))
    return stacked(found, [field.name for field in TABLES["statistics"]])


def _facts(stamp: str, making: _Making, n_damaged: int) -> PackageFacts:
    return PackageFacts(
        name=NAME,
        release=making.options.release,
        software_version=__version__,
        settings_hash=stamp,
        notice=NOTICE,
        least_alike=making.protection.least,
        smallest_group=making.protection.smallest,
        selection=making.options.selection.words,
        n_damaged=n_damaged,
        override_reason=making.options.override_reason.strip(),
    )


def _protected(everybody: Everybody, options: ExportOptions) -> Protection:
    """Return what is shown, or refuse what nothing can mend."""
    if not everybody.names:
        raise StudyError.of("nobody_to_export", where="study")
    people = people_shown(everybody, all_shown(everybody))
    there = words_there(
        people,
        kinds=everybody.words_of(everybody.visits, "kind"),
        numbers=everybody.visits.number.tolist(),
        codes=everybody.words_of(everybody.worn, "code"),
    )
    refuse_unknown(options.selection, there | {"people": everybody.names})
    if options.override_reason.strip():
        found = unprotected(everybody, least=options.least, selection=options.selection)
    else:
        found = protect(
            everybody,
            release=options.release,
            least=options.least_alike,
            selection=options.selection,
        )
    fitting = selected_ids(people, options.selection)
    n_people = int(selected(everybody, options.selection, fitting).people.sum())
    if not n_people:
        raise StudyError.of("nobody_fits_selection", where=options.selection.words)
    if not options.override_reason.strip() and not found.is_met:
        raise StudyError.of(
            "too_few_to_export",
            where=options.selection.words or "export",
            n_people=n_people,
            least=found.least,
            ways=", ".join(["Add people", *_fewer_readers(options, n_people)]),
        )
    return found


def _fewer_readers(options: ExportOptions, n_people: int) -> Iterator[str]:
    """Yield what would let as many people leave, if anything does."""
    if options.least_alike is not None:
        if min(n_people, options.least_alike - 1) >= 2:
            yield "ask for fewer alike (--least-alike)"
    elif options.release == "open" and n_people >= LEAST_ALIKE["controlled"]:
        yield "export for fewer readers (--release controlled)"
    elif options.release != "partner" and n_people >= LEAST_ALIKE["partner"]:
        yield "export for a named partner (--release partner)"


def _settings_hash(options: ExportOptions, tables: Sequence[str], everybody: Everybody) -> str:
    errors = sorted(repr(each) for each in (everybody.own_errors or {}).items())
    dictionary = {name: [asdict(field) for field in fields] for name, fields in TABLES.items()}
    typical = sorted(asdict(each).items() for each in (everybody.typical or {}).values())
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


def _write_map(path: Path, ids: Mapping[str, str]) -> None:
    people = [escaped_text(person) for person in ids]
    table = pd.DataFrame({"person": people, "export_id": list(ids.values())})
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(table.to_csv(index=False, lineterminator="\r\n"))
    except OSError as error:
        raise StudyError.of("map_ids_cannot_written", where=path, why=error.strerror) from error
