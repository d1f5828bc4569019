"""A pattern reads a path in one way, in none, or says that there are two."""

import pytest

from gaittrack.errors import StudyError
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.proposing import proposed_patterns
from tests.study.made_up_archives import ARCHIVES

FORMS = "{person:P##}_{visit:v#}_{condition}[_{trial}]"
READ = [
    ("{person}/{date}/{condition}/{trial}.c3d", "P01/5.3.2024/ohne/a 1.C3D", "P01|2024-03-05|ohne"),
    ("{person}_{visit}_{condition}{trial}", "any/folder/P01_v1_AFO12.c3d", "P01|v1|AFO|12"),
    ("{person}/{person}_{date:dmy}*/{trial}", "P01/P01_050324x/2.csv", "P01|2024-03-05|2"),
    ("{person}/**/{condition}/{trial}", "P01/a/b/mit/1.c3d", "P01|mit|1"),
    ("{person} {side}/{trial}", "P01 rechts/1.c3d", "P01|right|1"),
    (FORMS, "P01_v1_AFO_2.c3d", "P01|v1|AFO|2"),
    (FORMS, "p01_V1_static.c3d", "p01|V1|static"),
]
NOT_READ = [
    ("{person}/{date}/{condition}/{trial}.c3d", "P01/2024-03-05/ohne/1.csv"),
    ("{person}/{date}/{trial}", "P01/05-03-2024/1.c3d"),
    ("{person}/{person}_{trial}", "P01/P02_1.c3d"),
    ("{person}/{trial}", "P01/a/1.c3d"),
    ("{person:P##}/{trial}", "P1/1.c3d"),
]
TWO_WAYS = [
    ("{person}_{visit}_{trial}", "P_01_v1_2.c3d"),
    ("{person}{visit}/{trial}", "P01v1/1.c3d"),
    ("*_{trial}", "a_b_c.c3d"),
    (FORMS, "P01_v1_with_brace.c3d"),
]
NO_PATTERN = [
    *(" ", "{folk}/{trial}", "{person", "person}", "a]b[", "[a", "[a][b][c][d][e]"),
    *("{date:day}", ".c3d"),
]


@pytest.mark.parametrize(("pattern", "path", "said"), READ)
def test_a_path_that_fits_says_its_parts(pattern, path, said):
    """Each part is what stands there; a day is one, whatever way it is written."""
    (found,) = PathPattern(pattern).readings(path)
    order = ("person", "visit", "date", "condition", "side", "trial")
    assert "|".join(found[part] for part in order if part in found).startswith(said)


def test_what_does_not_fit_or_fits_two_ways_says_so():
    """No reading, or two; of one with a hundred pieces the message says that it is too loose."""
    for pattern, path in NOT_READ:
        assert PathPattern(pattern).readings(path) == [], path
    for pattern, path in TWO_WAYS:
        assert len(PathPattern(pattern).readings(path)) == 2, path
    for pattern in NO_PATTERN:
        with pytest.raises(StudyError, match="Write|parts are|Put|Say"):
            PathPattern(pattern)
    with pytest.raises(StudyError, match="too many ways"):
        PathPattern("*-*-*-*-*-*-*-*-{trial:x}").readings("-" * 200)


ONE_FOLDER = [f"P{n:02}/{name}" for n in (1, 2) for name in ("ohne/1.c3d", "mit/1.c3d")]


@pytest.mark.parametrize(
    "name", [*ARCHIVES, "one folder less", "two depths", "letters", "names apart"]
)
def test_a_proposed_pattern_reads_every_path_in_one_way(name):
    """People, visits and conditions are found where they stand, whatever they are called."""
    paths = {
        "one folder less": ONE_FOLDER,
        "two depths": [*ONE_FOLDER, "P01/ohne/raw/2.c3d", "P02/mit/raw/2.c3d"],
        "letters": [f"P{n:02}_pre_{c}_{w}.c3d" for n in (1, 2) for c in "AB" for w in "12"],
        "names apart": [
            f"P{n:02}_{c}_{w}.c3d" for n in (1, 2) for c in ("AFO", "shod") for w in "12"
        ],
    }.get(name) or [*ARCHIVES[name].files]
    patterns = proposed_patterns(paths)
    assert patterns
    for path in paths:
        (said,) = [one for text in patterns for one in PathPattern(text).readings(path)]
        archive = ARCHIVES.get(name)
        true = path[:3] if archive is None else archive.person(archive.files[path])
        true = path[:4] if name == "by_visit_sheet" else true  # nothing there names people
        assert said["person"] == true and "condition" in said
        if name in ARCHIVES and name != "by_visit_sheet":
            assert "visit" in said or said["date"] == ARCHIVES[name].files[path].day
