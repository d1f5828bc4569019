"""Whatever codes, names and texts say: no page runs it, no cell reckons it, no line obeys it."""

import csv
import io
import json
import os
import re
import zipfile
from html.parser import HTMLParser

import pytest
from click.testing import CliRunner

from gaittrack.commands import main
from gaittrack.readable_names import readable
from tests.study.conftest import write_visit

TAG = "<i onx>\"'&{{7*7}}"
PERSON, VISIT, WITHOUT, WITH = (f"{start}{TAG}" for start in "=-@+")
NAMES = ("walk-1.c3d", "walk-2.c3d")
BYTES = (f"={TAG}\x1b[31m\n.c3d".encode(), f"\u202e{TAG}\r".encode() + b"\xff.c3d")
UNSEEN = re.compile("[\0-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x9f\u202e\ud800-\udfff]")
LINE_ENDS = re.compile("\r(?!\n)")
FORMULA = re.compile(r"\s*[=+@\-](?![\d.]*(e[+-]?\d+)?$)")
MISUSED = re.compile("No such (option|command)|Got unexpected|Missing (option|argument)")
PASSWORD = f"={TAG} and long"
SAID = f"""
title = {json.dumps(f"={TAG}")}
licence = "CC-BY-4.0"
[[creators]]
name = {json.dumps(f"@{TAG}")}
"""


def conditions(evil=f"={TAG}", brace=f"={TAG}"):
    """Return what is said of the visit, evil wherever it may be any text; a brace has a code."""
    text = json.dumps(evil)
    return f"""
[person]
code = {json.dumps(PERSON)}
cause = "stroke"
affected_side = "left"
person_notes = {text}
[visit]
number = 1
visit_notes = {text}
comfort = {text}
wear = {text}
[conditions.{json.dumps(WITHOUT)}]
orthosis = "none"
footwear = "shoe"
[conditions.{json.dumps(WITH)}]
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
footwear = "shoe"
brace = {json.dumps(brace)}
orthosis_notes = {text}
"""


@pytest.fixture(scope="module")
def walks(tmp_path_factory):
    """Give the folder of such a visit, in a folder of its person."""
    place = tmp_path_factory.mktemp("evil")
    made = write_visit(place / "made" / "P01" / "visit-1", standing=False)
    visit = place / "walks" / PERSON / VISIT
    visit.mkdir(parents=True)
    for old, new in (("without-brace", WITHOUT), ("with-brace", WITH)):
        (made / old).rename(visit / new)
        for name, evil in zip(NAMES, BYTES, strict=True):
            os.rename(visit / new / name, os.fsencode(visit / new) + b"/" + evil)
    (visit / "conditions.toml").write_text(conditions(), encoding="utf-8")
    (place / "said.toml").write_text(SAID, encoding="utf-8")
    (place / "map.toml").write_text(f"[landmarks]\nleft_heel = {json.dumps(f'={TAG}')}\n")
    return place / "walks"


def commands(walks, out):
    """Give each command that says or writes something of these walks."""
    study, visit = ("--study", str(out / "study")), walks / PERSON / VISIT
    pair = ("--condition", f"a{TAG}={visit / WITHOUT}", "--condition", f"-b{TAG}={visit / WITH}")
    pair = (*pair, "--reference", f"a{TAG}")
    by = ("--by", f"={TAG}")
    why = ("--why", f"={TAG}")
    yield "import", "--dry-run", "--new-people", *study, str(walks)
    yield "import", *study, *by, str(walks)
    yield "check", str(visit / WITH)
    yield "measure", str(visit / WITH), "--csv", str(out / "measured.csv")
    yield "measure", "--json", str(visit / WITH)
    yield "compare", *pair, "--all", "--html", str(out / "compared.html")
    yield "compare", *pair, "--json"
    yield "follow", *study, PERSON
    yield "follow", "--json", *study, PERSON
    yield "report", *study, "--visit", VISIT, "--out", str(out / "page.html"), "--", PERSON
    yield "study", "settings", *study, *by, *why, "--releases", str(walks.parent / "said.toml")
    yield "export", *study, *by, "--out", str(out / "export"), "--override-reason", f"={TAG}"
    yield "study", "releases", *study, str(out / "export")
    yield "cohort", "walking_speed_m_s", *study, "--more", "--rows", str(out / "rows.csv")
    walk = "/".join((PERSON, VISIT, WITH, readable(os.fsdecode(BYTES[0])).removesuffix(".c3d")))
    for words in ("exclude-walk", "looked-at", "swap-sides"):
        yield "correct", words, *study, *by, *why, walk
    yield "correct", "list", *study, walk
    yield "correct", "undo", *study, *by, *why, walk, "1"
    yield "recompute", "--list", *study
    yield "users", "add", *study, *by, f"={TAG}\x1b"
    yield "users", "add", *study, "--by", f"={TAG}\u202e", "somebody"
    yield "users", "password", *study, *by, f"@{TAG}\u202e"
    yield "users", "list", *study
    yield "users", "remove", *study, *by, "--", f"-{TAG}"
    yield "study", "maps", *study, *by, "--add", str(walks.parent / "map.toml"), "--name", f"={TAG}"
    yield "study", "maps", *study
    yield "study", "words", *study, *by, "--means", "cause", f"={TAG}", "stroke"
    yield "study", "back", *study, *by, *why, "99"
    yield "study", "notes", *study, "i"
    yield "study", "words", *study
    yield "study", "history", *study
    yield "study", "verify", *study
    yield "study", "backup", *study, str(out / "backup")
    yield "study", "erase", *study, *by, "--why", "asked", "--yes", "--", PERSON


def test_no_page_cell_or_line_obeys_what_a_text_says(walks, tmp_path):
    """Every command; every page, table, workbook, document and line that it writes."""
    written, seen = set(), set()
    for words in commands(walks, tmp_path):
        done = CliRunner().invoke(main, list(words), input=f"{PASSWORD}\n{PASSWORD}\n")
        assert done.exit_code in (0, 1, 2), (words, done.output, done.exception)
        assert not MISUSED.search(done.output), (words, done.output)
        assert not isinstance(done.exception, Exception) or done.exit_code, done.exception
        assert "Traceback" not in done.output and not UNSEEN.search(done.output), words
        if "--json" in words:
            json.loads(done.stdout)
        for path in sorted(tmp_path.rglob("*")):
            if path.is_file() and path not in seen and "study" not in path.parts:
                seen.add(path)
                written.add(look(path))
    assert written >= {".csv", ".html", ".json", ".md", ".xlsx"}, written


def look(path):
    """Assert that a file obeys nothing, and return its ending."""
    content = path.read_bytes()
    if path.suffix == ".xlsx":
        with zipfile.ZipFile(path) as book:
            parts = "".join(book.read(name).decode() for name in book.namelist())
        assert "<f>" not in parts and "hyperlink" not in parts, path
    if path.suffix in (".html", ".csv", ".json", ".md", ".cff", ".toml"):
        text = content.decode()
        assert not UNSEEN.search(text) and not LINE_ENDS.search(text), path
    if path.suffix == ".html":
        Reader(path).feed(text)
    elif path.suffix == ".csv":
        cells = [cell for row in csv.reader(io.StringIO(text.lstrip("\ufeff"))) for cell in row]
        assert [cell for cell in cells if FORMULA.match(cell)] == [], path
    return path.suffix


class Reader(HTMLParser):
    """Reads a page as a browser does; a tag or an attribute of ours is none of the page's."""

    def __init__(self, path):
        super().__init__()
        self.path = path

    def handle_starttag(self, tag, attrs):
        assert "onx" not in dict(attrs), (self.path, self.getpos())
        assert not any(name.startswith("on") for name, _ in attrs), (self.path, attrs)
