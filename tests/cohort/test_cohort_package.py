"""The package: whole or not there, readable everywhere, and without anybody's name in it."""

import csv
import hashlib
import json
import math
import os
import re
import socket
import stat
import subprocess
import sys
import zipfile
from dataclasses import replace

import numpy as np
import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pytest
from openpyxl.comments import Comment
from openpyxl.workbook.defined_name import DefinedName

from gaittrack import __version__
from gaittrack.cohort import export
from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.inference.statistics import statistics_table
from gaittrack.cohort.inference.suppression import without_small_groups
from gaittrack.cohort.people.leaving import STORED
from gaittrack.cohort.people.source import CohortSource, CohortWalk, LeftOut
from gaittrack.cohort.release import table_files
from gaittrack.cohort.release.dictionary import TABLES
from gaittrack.cohort.release.package import refuse_filled
from gaittrack.cohort.release.table_files import MOST_SHEET_ROWS
from gaittrack.compare.fair.condition import Condition
from gaittrack.errors import ComparisonError, StudyError
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import MEASURES
from gaittrack.notice import NOTICE
from gaittrack.pipeline import measure_files
from gaittrack.reasons import Reason
from gaittrack.record.registry import CONDITION, FACTS
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.sheets import cycle_rows, write_workbook
from gaittrack.simulate.walk import simulate_walk
from gaittrack.table_cells import safe_text
from gaittrack.walk_records import walk_records
from tests.cohort.made_up_cohort import cohort
from tests.cohort.whole_source import export_cohort

IN_SHEETS = list(TABLES)


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    folder = tmp_path_factory.mktemp("export")
    result = export_cohort(
        cohort(5),
        folder / "out",
        id_map=folder / "kept" / "ids.csv",
        options=ExportOptions(with_curves=True, with_bodies=True),
    )
    return result


def from_csv(folder, name):
    types = {"string": str, "number": float, "integer": "Int64", "boolean": "boolean"}
    dtypes = {field.name: types[field.type] for field in TABLES[name]}
    return pd.read_csv(folder / f"{name}.csv", dtype=dtypes)


def plain(value):
    """Return None for missing, else a Python value."""
    return None if value is None or value is pd.NA or value != value else value


def rows_of(table):
    return [[plain(cell) for cell in row] for row in table.itertuples(index=False, name=None)]


@pytest.mark.parametrize("name", list(TABLES))
def test_csv_and_parquet_hold_the_same_numbers_to_the_last_digit(exported, name):
    """Read back by pandas and by pyarrow, every cell is equal."""
    columns = pq.read_table(exported.folder / f"{name}.parquet").to_pydict()
    assert list(columns) == [field.name for field in TABLES[name]]
    by_row = [[plain(cell) for cell in row] for row in zip(*columns.values(), strict=True)]
    assert by_row == rows_of(from_csv(exported.folder, name))
    assert len(by_row) == exported.n_rows[name]


def test_the_workbook_holds_the_same_cells(exported):
    """Read back by openpyxl, every sheet equals its CSV to the 16 digits that a sheet keeps."""
    book = openpyxl.load_workbook(exported.folder / "cohort.xlsx")
    assert set(book.sheetnames) == set(IN_SHEETS)
    for name in IN_SHEETS:
        rows = [[cell.value for cell in row] for row in book[name].iter_rows()]
        assert rows[0] == [field.name for field in TABLES[name]]
        expected = rows_of(from_csv(exported.folder, name))
        assert len(rows) == 1 + len(expected)
        for row, own in zip(rows[1:], expected, strict=True):
            assert row == [pytest.approx(c, rel=1e-15) if type(c) is float else c for c in own]
        assert {cell.data_type for row in book[name].iter_rows() for cell in row} <= set("snb")


def test_a_sheet_of_a_workbook_has_as_many_rows_as_a_workbook_may_have():
    """1,048,576 with the one of heads (ISO/IEC 29500, limits of common programs)."""
    assert MOST_SHEET_ROWS + 1 == 2**20


def test_only_columns_of_codes_say_where_codes_are_explained():
    """A text of a closed list, or free of any, does not send the reader to the table of reasons."""
    for fields in TABLES.values():
        for field in fields:
            sent = "reasons" in field.definition and "codes" in field.definition
            assert sent <= field.is_reasons, field.name
            assert not field.is_reasons or field.levels or sent, field.name


def test_csv_is_rfc_4180_in_utf_8(exported):
    """CRLF at every line end, the same number of cells in every row (RFC 4180, section 2)."""
    for path in exported.folder.glob("*.csv"):
        content = path.read_bytes()
        assert content.endswith(b"\r\n")
        with path.open(encoding="utf-8", newline="") as file:
            widths = {len(row) for row in csv.reader(file, strict=True)}
        assert len(widths) == 1
        assert content.count(b"\n") == content.count(b"\r\n")


def test_the_descriptor_names_every_file_and_column(exported):
    """Data Package v2: resources with path, schema and fields; files on disk are all described."""
    package_ = json.loads((exported.folder / "datapackage.json").read_text(encoding="utf-8"))
    assert package_["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    described = {resource["path"] for resource in package_["resources"]}
    on_disk = {path.name for path in exported.folder.iterdir()}
    further = {"datapackage.json", "README.md", "method.json", "ro-crate-metadata.json"}
    assert on_disk - described == further | {"analysis.ipynb", "analysis.R"}
    names = [resource["name"] for resource in package_["resources"]]
    assert len(names) == len(set(names))
    for resource in package_["resources"]:
        if resource["format"] != "csv":
            continue
        with (exported.folder / resource["path"]).open(encoding="utf-8", newline="") as file:
            head = next(csv.reader(file))
        fields = resource["schema"]["fields"]
        assert head == [field["name"] for field in fields]
        assert all(field["description"] for field in fields)
        assert set(
            resource["schema"]["primaryKey"] if "primaryKey" in resource["schema"] else ()
        ) <= (set(head))


def test_the_dictionary_has_unit_and_source_of_every_measure(exported):
    """Every measure of the wide table has UCUM unit, definition, source and measurement error."""
    table = pd.read_csv(exported.folder / "dictionary.csv", keep_default_na=False)
    wide = table[
        (table["table"] == "values_wide") & table["column"].str.contains("dorsiflexion_deg")
    ]
    assert (wide["unit_ucum"] == "deg").all()
    assert (wide[["definition", "source", "measurement_error"]] != "").all(axis=None)


def test_the_readme_says_what_it_is(exported):
    """Notice, version and settings stand in it; it never calls the data anonymous."""
    text = (exported.folder / "README.md").read_text(encoding="utf-8")
    package_ = json.loads((exported.folder / "datapackage.json").read_text(encoding="utf-8"))
    assert NOTICE in text
    assert __version__ in text
    assert package_["gaittrack"]["settings_hash"] in text
    assert "anonymous" not in text


def test_the_map_of_ids_is_apart_and_private(exported):
    """Who is who lies outside, for its owner only, and fits the export."""
    assert not exported.id_map.is_relative_to(exported.folder)
    assert stat.S_IMODE(exported.id_map.stat().st_mode) == 0o600
    ids = pd.read_csv(exported.id_map)
    assert set(ids["export_id"]) == set(from_csv(exported.folder, "people")["export_id"])
    assert set(ids["person"]) == {f"MRN-00{number}" for number in range(5)}


@pytest.mark.parametrize("start", list("=+-@") + ["\t=", "\r", "\n", " =", "\0"])
def test_text_never_becomes_a_formula(start):
    """Cells that begin as a formula does get an apostrophe; numbers, also negative, do not."""
    table = pd.DataFrame({"text": [f"{start}HYPERLINK()", "plain"], "number": [-1.5, 2.0]})
    safe = safe_text(table.astype({"text": "string"}))
    assert safe["text"][0].startswith("'")
    assert "\0" not in safe["text"][0]
    assert safe["text"][1] == "plain"
    assert list(safe["number"]) == [-1.5, 2.0]


def test_too_few_alike_block_the_export(tmp_path):
    """Four people against k = 5, ten against k = 11 of an open release: nothing is written."""
    for people, release in ((4, "controlled"), (10, "open")):
        with pytest.raises(StudyError, match="Nothing was exported"):
            export_cohort(
                cohort(people),
                tmp_path / "out",
                id_map=tmp_path / "ids.csv",
                options=ExportOptions(release),
            )
    assert list(tmp_path.iterdir()) == []


def test_a_reason_lets_it_pass_and_stands_in_the_export(tmp_path):
    """The reason is in README and descriptor, with the size of the smallest group."""
    reason = "ethics board approved the four readers"
    options = ExportOptions(override_reason=reason)
    export_cohort(cohort(4), tmp_path / "out", id_map=tmp_path / "ids.csv", options=options)
    assert reason in (tmp_path / "out" / "README.md").read_text(encoding="utf-8")
    said = json.loads((tmp_path / "out" / "datapackage.json").read_text())["gaittrack"]
    assert (said["override_reason"], said["smallest_group"], said["least_alike"]) == (reason, 4, 5)


def with_heights(*heights):
    """Return five people who differ in height alone."""
    source = cohort(len(heights))
    return replace(source, visits=source.visits.assign(height_cm=heights))


def test_the_body_stays_out_unless_it_is_asked_for(tmp_path):
    """Height, mass and onset are nowhere; README says where they would be."""
    export_cohort(with_heights(151, 162, 173, 184, 195), tmp_path / "o", id_map=tmp_path / "i.csv")
    texts = [p.read_text(encoding="utf-8") for p in (tmp_path / "o").glob("*.csv")]
    assert not [text for text in texts if "height_cm" in text or "150-159" in text]
    assert not list((tmp_path / "o").glob("curves*")), "curves tell people apart too"
    assert "`visits`" in (tmp_path / "o" / "README.md").read_text(encoding="utf-8")


def test_the_body_of_one_who_stands_out_is_withheld(tmp_path):
    """Five people alike but for one height: no height leaves; of five alike their band does."""
    for heights, said in (
        ((165, 165, 165, 165, 195), ["withheld"] * 5),
        ((161, 163, 165, 167, 169), ["160-169"] * 5),
    ):
        place = tmp_path / str(heights[-1])
        options = ExportOptions(with_bodies=True)
        source = with_heights(*heights)
        export_cohort(source, place / "out", id_map=place / "ids.csv", options=options)
        assert from_csv(place / "out", "bodies")["height_cm"].tolist() == said
        lost = from_csv(place / "out", "withheld")
        assert ("height_cm" in set(lost["fact"])) == (said[0] == "withheld")


def test_a_filled_folder_is_refused(tmp_path):
    """Nothing of anybody's is overwritten, and no map is left behind."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.txt").write_text("precious")
    with pytest.raises(StudyError, match="something already"):
        export_cohort(cohort(5), tmp_path / "out", id_map=tmp_path / "ids.csv")
    assert (tmp_path / "out" / "thesis.txt").read_text() == "precious"
    assert not (tmp_path / "ids.csv").exists()


def test_a_file_and_a_link_in_the_place_are_refused(tmp_path):
    """Also one that leads nowhere."""
    (tmp_path / "file").write_text("")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for name in ("file", "link"):
        with pytest.raises(StudyError, match="something already"):
            refuse_filled(tmp_path / name)
    (tmp_path / "empty").mkdir()
    refuse_filled(tmp_path / "empty")
    refuse_filled(tmp_path / "new")


def test_the_map_may_not_lie_in_the_export(tmp_path):
    """Nor on top of another file."""
    with pytest.raises(StudyError, match="would lie in the export"):
        export_cohort(cohort(5), tmp_path / "out", id_map=tmp_path / "out" / "ids.csv")
    (tmp_path / "ids.csv").write_text("another export's")
    with pytest.raises(StudyError, match="There is a file"):
        export_cohort(cohort(5), tmp_path / "out", id_map=tmp_path / "ids.csv")


def test_a_failure_on_the_way_leaves_nothing(tmp_path, monkeypatch):
    """The disk fills while the workbook is written: no folder, no part of it, no map."""

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(export, "write_workbook", full)
    with pytest.raises(StudyError, match="No space left"):
        export_cohort(cohort(5, n_walks=2), tmp_path / "out", id_map=tmp_path / "ids.csv")
    assert list(tmp_path.iterdir()) == []


def test_a_walk_stored_twice_names_the_person(tmp_path):
    """The message carries the study's code, not the random id."""
    source = cohort(5, n_walks=2)
    source = CohortSource(
        source.people,
        source.visits,
        source.conditions,
        (*source.walks, source.walks[0]),
        source.rejected,
        source.exclusions,
    )
    with pytest.raises(ComparisonError, match="MRN-000"):
        export_cohort(source, tmp_path / "out", id_map=tmp_path / "ids.csv")


CANARY = "ZachariahQuill"


def canary_c3d(folder, number):
    """Write a walk with a name in every text of the file."""
    walk = simulate_walk(WalkRecipe(n_strides=5), seed=40 + number)
    n_labels = len(walk.trial.markers)
    texts = {
        "SUBJECTS": {"USED": 1, "MARKER_SETS": [CANARY], "LABEL_PREFIXES": [f"{CANARY}:"]},
        "MANUFACTURER": {"COMPANY": CANARY, "SOFTWARE": CANARY, "VERSION_LABEL": CANARY},
        "TRIAL": {"DATE": f"{CANARY} 3/4/1961", "NOTES": CANARY, "VIDEO": f"{CANARY}.avi"},
        "POINT": {"DESCRIPTIONS": [f"{CANARY} {n}" for n in range(n_labels)]},
        "PROCESSING": {"COMMENT": CANARY, "BIRTH": f"{CANARY} 1961"},
    }
    path = folder / f"{CANARY}-1961-{number}.c3d"
    write_c3d(
        path,
        rate_hz=walk.trial.rate_hz,
        markers=walk.trial.markers,
        subject=CANARY,
        parameters=texts,
        events=((0.5, "general", CANARY),),
        header_events=((0.5, CANARY[:4]),),
    )
    return path


def canary_sheet(folder, number):
    """Write curves with a name in properties, comment, hidden sheet, defined name and file name."""
    path = folder / f"{CANARY}-sheet-{number}.xlsx"
    write_workbook(path, cycle_rows(simulate_walk(WalkRecipe(n_strides=5), seed=60 + number)))
    book = openpyxl.load_workbook(path)
    for field in ("creator", "lastModifiedBy", "title", "subject", "keywords", "description"):
        setattr(book.properties, field, CANARY)
    sheet = book.worksheets[0]
    sheet.title = CANARY
    sheet["A1"].comment = Comment(CANARY, CANARY)
    hidden = book.create_sheet(f"{CANARY} 2")
    hidden["A1"] = CANARY
    hidden.sheet_state = "hidden"
    book.defined_names[CANARY] = DefinedName(CANARY, attr_text=f"'{CANARY}'!$A$1")
    book.save(path)
    return path


def with_canary_in_reasons(record):
    """Plant the name in the parameters of every reason and label of a walk."""
    told = Reason("told_before", text=f"{CANARY} 1961")

    def planted(strides):
        reasons, labels = strides.reasons.copy(), strides.labels.copy()
        for place, reason in enumerate(reasons):
            reasons[place] = reason and Reason("no_angle_because", angle=CANARY, why=told)
            labels[place] = (*labels[place], told)
        return strides._replace(reasons=reasons, labels=labels)

    return record.known_as(tables={key: planted(own) for key, own in record.tables.items()})


def canary_source(folder):
    """Return a source with the name in every text a study can hold."""
    texts = {
        name: CANARY
        for name, fact in CONDITION.items()
        if fact.kind in ("word", "note") and name not in ("orthosis", "footwear")
    }
    bare = Condition(f"{CANARY} bare", **(texts | {"footwear": f"{CANARY}'s shoe"}))
    worn = Condition(CANARY, orthosis=f"{CANARY}'s brace", footwear=CANARY, **texts)
    conditions, walks = {}, []
    for worn_now, make in ((bare, canary_c3d), (worn, canary_c3d), (bare, canary_sheet)):
        conditions[CANARY, f"{CANARY}-visit", worn_now.name] = worn_now
        number = len(walks)
        for result in measure_files([make(folder, number)]):
            assert isinstance(result, MeasuredWalk), result
            for record in walk_records(result, worn_now.name, session=f"{CANARY}-visit"):
                told = with_canary_in_reasons(record)
                walks.append(CohortWalk(CANARY, f"{CANARY}-visit", told, __version__))
    place = (CANARY, f"{CANARY}-visit", CANARY)
    people = {"person": CANARY, "sex": CANARY, "cause": f"stroke, {CANARY}"}
    visit = {"person": CANARY, "visit": f"{CANARY}-visit", "date": "1961-03-04"}
    visit |= {"days_since_first_visit": None, "age_years": None}
    in_lists = [name for name in STORED if FACTS["visit"][name].list]
    visit |= dict.fromkeys(STORED) | dict.fromkeys(in_lists, f"1+, {CANARY}")
    exclusion = dict(zip(("person", "visit", "condition"), place, strict=True))
    exclusion |= {"side": CANARY, "kind": CANARY, "is_undone": False}
    return CohortSource(
        people=pd.DataFrame([people | {"affected_side": CANARY}]),
        visits=pd.DataFrame([visit]),
        conditions=conditions,
        walks=tuple(walks),
        rejected={
            place: (
                LeftOut(
                    "left", (Reason("excluded_because", text=f"{CANARY} fell"), Reason("excluded"))
                ),
            )
        },
        exclusions=pd.DataFrame([exclusion]),
    )


def every_text(folder):
    """Yield (file, bytes) of all that is in the export: raw, unzipped, and Parquet decoded."""
    for path in folder.iterdir():
        yield path.name, path.name.encode() + path.read_bytes()
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as book:
                yield from (
                    (f"{path.name}/{n}", n.encode() + book.read(n)) for n in book.namelist()
                )
        if path.suffix == ".parquet":
            table = pq.read_table(path)
            fields = [(f.name, f.metadata) for f in table.schema]
            yield path.name, repr((table.to_pydict(), table.schema.metadata, fields)).encode()


@pytest.fixture(scope="module")
def canary_export(tmp_path_factory):
    folder = tmp_path_factory.mktemp("canary")
    source = canary_source(folder)
    export_cohort(
        source,
        folder / "out",
        id_map=folder / "ids.csv",
        options=ExportOptions(with_curves=True, override_reason="a test"),
    )
    return folder


def test_no_name_planted_anywhere_comes_out(canary_export):
    """C3D parameters and labels, XLSX metadata, study fields, file names: none in any byte."""
    planted = [CANARY.lower().encode(), b"quill", b"zach", CANARY.encode("utf-16-le")]
    texts = list(every_text(canary_export / "out"))
    assert any(name.startswith("cohort.xlsx/xl/") for name, _ in texts)
    found = [
        (name, word) for name, text in texts for word in planted if word.lower() in text.lower()
    ]
    assert found == []
    assert CANARY in (canary_export / "ids.csv").read_text()


def test_the_canaries_were_really_there_and_the_walks_too(canary_export):
    """The files hold the name; the export holds the numbers of those walks."""
    for path in canary_export.glob("*.c3d"):
        assert path.read_bytes().count(CANARY.encode()) > 20
    people = from_csv(canary_export / "out", "people")
    assert list(people["cause"]) == ["other"]
    assert list(people["sex"]) == ["other"]
    long = from_csv(canary_export / "out", "values_long")
    assert long["mean"].notna().sum() > 40
    assert set(long["reject_reasons"].dropna()) == {"excluded (1); excluded_because (1)"}
    days = long["days_since_first_visit"].unique()
    assert list(days) == [0]
    assert math.isfinite(np.nanmean(long["mean"]))


def test_every_code_that_occurs_is_explained_once(canary_export):
    """And no other; each with its sentence."""
    folder = canary_export / "out"
    found = set()
    for name, fields in TABLES.items():
        if name != "reasons" and (folder / f"{name}.csv").is_file():
            table = from_csv(folder, name)
            for field in fields:
                if field.is_reasons:
                    cells = table[field.name].dropna()
                    found |= {
                        code for cell in cells for code in re.findall("[a-z][a-z_0-9]*", cell)
                    }
    reasons = from_csv(folder, "reasons")
    assert sorted(found) == reasons["code"].tolist()
    assert {"excluded_because", "few_walks", "told_before", "no_angle_because"} <= found
    assert (reasons["meaning"] != "").all()


def test_a_change_is_followed_back_to_strides_and_files(exported):
    """By joins: change, conditions, values of walks, strides; then anew from strides alone.

    Each walk names its file by a hash that whoever holds the file can make.
    """
    folder = exported.folder
    place = ["export_id", "visit_no", "condition_code", "side", "measure_id"]
    strides, walks = from_csv(folder, "strides"), from_csv(folder, "walks")
    of_walk = strides.groupby([*place, "walk_no"])["value"]
    told = from_csv(folder, "walk_values").set_index([*place, "walk_no"])["value"]
    pd.testing.assert_series_equal(of_walk.mean(), told, check_like=True)
    means = of_walk.mean().groupby(place).mean().rename("mean")
    changes = from_csv(folder, "changes").merge(means.reset_index(), on=place, how="left")
    at_reference = [name.replace("condition", "reference") for name in place]
    other = means.rename("mean_reference").rename_axis(at_reference).reset_index()
    changes = changes.merge(other, on=at_reference, how="left")
    difference = changes["mean"] - changes["mean_reference"]
    np.testing.assert_allclose(difference, changes["difference"], rtol=1e-12)
    assert np.isfinite(difference).sum() == 2 * 5
    keys = place[:3] + ["walk_no"]
    assert len(strides[keys].drop_duplicates().merge(walks, on=keys)) == len(walks) == 30
    ids = pd.read_csv(exported.id_map).set_index("export_id")["person"]
    of_files = {
        hashlib.sha256(f"{new}:{walk.record.sha256}".encode()).hexdigest()
        for new, person in ids.items()
        for walk in cohort(5).walks
        if walk.person == person
    }
    assert set(walks["original_hash"]) == of_files
    left = from_csv(folder, "left_out")
    assert set(left["reason"]) == {"no_toe_off_inside"}
    assert set(left["original_hash"]).isdisjoint(of_files)


def test_a_large_table_is_a_folder_of_parts_and_not_in_the_workbook(tmp_path, monkeypatch):
    """Read as one, they hold what the CSV holds; README and result say what no sheet can hold."""
    monkeypatch.setattr(table_files, "PART_ROWS", 200)
    monkeypatch.setattr(table_files, "_BATCH_CELLS", 600)
    monkeypatch.setattr(table_files, "MOST_SHEET_ROWS", 449)
    found = export_cohort(cohort(5), tmp_path / "out", id_map=tmp_path / "ids.csv")
    folder = tmp_path / "out"
    parts = sorted(path.name for path in (folder / "strides.parquet").iterdir())
    assert parts == [f"part-{number:04d}.parquet" for number in (1, 2, 3)]
    whole = pd.read_parquet(folder / "strides.parquet")
    assert rows_of(whole) == rows_of(from_csv(folder, "strides"))
    assert len(whole) == found.n_rows["strides"] == 5 * 2 * 3 * 5 * 3
    described = json.loads((folder / "datapackage.json").read_text())["resources"]
    (paths,) = (one["path"] for one in described if one["name"] == "strides-parquet")
    assert paths == [f"strides.parquet/{name}" for name in parts]
    book = openpyxl.load_workbook(folder / "cohort.xlsx", read_only=True)
    absent = set(TABLES) - set(book.sheetnames) - {"bodies", "curves"}
    assert absent == set(found.not_in_workbook) >= {"strides"}
    assert "`strides`" in (folder / "README.md").read_text().partition("too long for a sheet")[0]


def test_an_export_that_is_broken_off_leaves_nothing(tmp_path):
    """At any stage; one whose process was killed is cleared by the next to the same place."""

    def broken_off(stage):
        def track(label, items, n_items):
            for place, item in enumerate(items):
                if (label, place) == (stage, 1):
                    raise KeyboardInterrupt
                yield item

        return track

    for stage in ("Writing people", "Fitting models", "Writing sheets"):
        with pytest.raises(KeyboardInterrupt):
            export_cohort(
                cohort(5, n_walks=2),
                tmp_path / "out",
                id_map=tmp_path / "ids.csv",
                track=broken_off(stage),
            )
        assert list(tmp_path.iterdir()) == []
    gone = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"], stdout=-1)
    killed, going_on = (
        tmp_path / f".out.{socket.gethostname()}.{number}.x.part"
        for number in (int(gone.stdout), os.getppid())
    )
    killed.mkdir()
    going_on.mkdir()
    export_cohort(cohort(5, n_walks=2), tmp_path / "out", id_map=tmp_path / "ids.csv")
    assert set(tmp_path.iterdir()) == {tmp_path / "out", tmp_path / "ids.csv", going_on}


@pytest.mark.parametrize("rows_at_once", [1, 400, 10**9])
def test_statistics_are_those_of_all_changes_at_once(tmp_path, monkeypatch, rows_at_once):
    """However many measures are read at a time: the same rows in the same order, to the digit."""
    monkeypatch.setattr(export, "_CHANGES_AT_ONCE", rows_at_once)
    found = export_cohort(
        cohort(5, n_visits=2, n_walks=2), tmp_path / "out", id_map=tmp_path / "ids.csv"
    )
    changes = pd.read_parquet(found.folder / "changes.parquet")
    texts = changes.select_dtypes("str").columns
    changes[texts] = changes[texts].fillna("")
    whole = without_small_groups(statistics_table(changes, n_people=5), least=5)
    shown = pd.read_parquet(found.folder / "statistics.parquet")
    assert list(shown["measure_id"]) == list(whole["measure_id"])
    order = {measure.name: place for place, measure in enumerate(MEASURES)}
    assert sorted(shown["measure_id"], key=order.get) == list(shown["measure_id"])
    for name in ("mean_difference", "low", "mixed_difference", "speed_adjusted_low", "n_missing"):
        assert shown[name].tolist() == pytest.approx(
            whole[name].astype(float).tolist(), rel=0, abs=0, nan_ok=True
        )
    assert shown["mean_difference"].notna().any()
