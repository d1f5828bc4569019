"""Write a small study of today's version as SQL: ``python tests/study/make_version_fixture.py``.

Run it once for each version, before ``SCHEMA_VERSION`` is raised; the file is kept for good.
"""

import sqlite3
import tempfile
from pathlib import Path

from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import DATABASE, create_study
from gaittrack.study.tables import SCHEMA_VERSION
from tests.correcting import exclude_stride
from tests.made_up_files import write_standing, write_walk

FIXTURES = Path(__file__).parent / "fixtures"
WORDS = """
[person]
code = "P01"
sex = "female"
cause = "stroke"
affected_side = "left"

[visit]
number = 1
days_since_first_visit = 0
wear = "daily"

[conditions.with-brace]
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
standing_trial = "standing.c3d"
"""


def write_fixture(target: Path) -> None:
    """Write one person with a standing trial and a corrected walk of few strides."""
    recipe = WalkRecipe(speed_m_s=1.2, n_strides=2)
    with tempfile.TemporaryDirectory() as name:
        visit = Path(name) / "people" / "P01" / "visit-1"
        (visit / "with-brace").mkdir(parents=True)
        (visit / "conditions.toml").write_text(WORDS)
        write_standing(visit / "standing.c3d", recipe=recipe)
        write_walk(visit / "with-brace" / "walk-1.c3d", recipe=recipe)
        study = create_study(Path(name) / "study")
        rows = list(import_files(study, plan_folders([visit]), who="tester"))
        assert [row.state for row in rows] == ["added", "added"], rows
        with study.read() as connection:
            trial = find_trial(connection, "P01/visit-1/with-brace/walk-1")
        exclude_stride(study, trial, "left-01", who="tester", why="stumbled")
        study.close()
        with sqlite3.connect(study.folder / DATABASE) as plain:
            text = "\n".join(plain.iterdump())
        plain.close()
    target.write_text(text + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write_fixture(FIXTURES / f"version-{SCHEMA_VERSION}.sql")
