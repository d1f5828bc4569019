"""A small made-up study: P01 at two visits, two conditions of two walks, one standing trial."""

import os
import secrets
import shutil

import pytest
from sqlalchemy import create_engine, text

from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study, open_study
from tests.made_once import made_once
from tests.made_up_files import write_standing, write_walk

POSTGRES = os.environ.get("GAITTRACK_TEST_POSTGRES")
WALK = "P01/visit-1/with-brace/walk-1"

CONDITIONS = """
[person]
code = "P01"
sex = "female"
cause = "stroke"
affected_side = "left"
height_cm = 170

[visit]
number = {number}
days_since_first_visit = {days}
quadriceps_strength = "4 of 5"

[conditions.without-brace]
orthosis = "none"
footwear = "shoe"

[conditions.with-brace]
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
footwear = "shoe"
{standing}
"""


def write_visit(folder, *, number=1, days=0, seed=1, n_walks=2, standing=True):
    """Write PERSON/VISIT with both conditions; return the visit folder."""
    folder.mkdir(parents=True)
    line = 'standing_trial = "standing/with-brace.c3d"' if standing else ""
    words = CONDITIONS.format(number=number, days=days, standing=line)
    (folder / "conditions.toml").write_text(words)
    if standing:
        (folder / "standing").mkdir()
        write_standing(folder / "standing" / "with-brace.c3d", seed=seed)
    for place, condition in enumerate(("without-brace", "with-brace")):
        (folder / condition).mkdir()
        for walk in range(1, n_walks + 1):
            path = folder / condition / f"walk-{walk}.c3d"
            write_walk(path, seed=100 * seed + 10 * place + walk)
    return folder


@pytest.fixture(scope="session")
def people(tmp_path_factory):
    """Give a folder laid out as PERSON/VISIT/CONDITION/file; not to be changed."""

    def make(folder):
        write_visit(folder / "P01" / "visit-1", seed=1)
        write_visit(folder / "P01" / "visit-2", number=2, days=42, seed=2, standing=False)

    return made_once(tmp_path_factory, "people", make)


@pytest.fixture(scope="session")
def imported(people, tmp_path_factory):
    """Give the folder of a study with these people; not to be changed."""

    def make(folder):
        study = create_study(folder)
        rows = list(import_files(study, plan_folders([people]), who="tester"))
        assert {row.state for row in rows} == {"added"}, rows
        study.close()

    return made_once(tmp_path_factory, "imported", make)


@pytest.fixture
def study(imported, tmp_path):
    """Give a copy of the study to change."""
    folder = tmp_path / "study"
    shutil.copytree(imported, folder)
    opened = open_study(folder)
    yield opened
    opened.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request):
    """Give the URL of an empty database: None for SQLite, a schema of its own on PostgreSQL."""
    if request.param == "sqlite":
        yield None
        return
    if not POSTGRES:
        absent = pytest.fail if os.environ.get("CI") else pytest.skip
        absent("GAITTRACK_TEST_POSTGRES names no server")
    schema = f"test_{secrets.token_hex(6)}"
    engine = create_engine(POSTGRES)
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    yield f"{POSTGRES}?options=-csearch_path%3D{schema}"
    with engine.begin() as connection:
        connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
    engine.dispose()


@pytest.fixture
def trial_at():
    """Give a function from a study and a place to the trial as it is now."""

    def find(study, place=WALK):
        with study.read() as connection:
            return find_trial(connection, place)

    return find
