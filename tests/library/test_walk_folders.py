"""What paths mean, and what is found beside walks."""

import os
from pathlib import Path

import pytest

import gaittrack
from gaittrack.errors import BadFileError, ComparisonError
from gaittrack.walk_folders import affected_beside, paths_of, population_beside, read_beside

SAMPLES = Path(__file__).parents[2] / "sample_trials"
VISIT = SAMPLES / "P04" / "visit-1"


class OtherPath(os.PathLike):
    """A path of another library."""

    def __init__(self, path):
        self.path = path

    def __fspath__(self):
        """Return it as text."""
        return str(self.path)


def test_paths_are_given_as_people_have_them():
    """Text, any kind of path, a pattern, or many of them."""
    walks = sorted((VISIT / "with-brace").iterdir())
    assert paths_of(VISIT) == paths_of(str(VISIT)) == paths_of(OtherPath(VISIT)) == [VISIT]
    assert paths_of(f"{VISIT}/with-brace/*.xlsx") == walks
    assert paths_of([str(walks[0]), OtherPath(walks[1])]) == walks[:2]
    assert paths_of(path for path in walks) == walks


def test_nothing_there_is_said():
    """A path that leads nowhere, and a folder without a recording."""
    with pytest.raises(BadFileError, match=r"nowhere: There is no such file"):
        gaittrack.measure("nowhere")
    with pytest.raises(BadFileError, match="no readable file"):
        gaittrack.measure(SAMPLES / "README.md", lab_map=None) and gaittrack.measure([])


def test_standing_side_and_age_are_found():
    """As the description beside the walks says, by the names of the comparison."""
    beside = read_beside({"without": [VISIT / "without-brace"], "with": [VISIT / "with-brace"]})
    assert beside.files == (VISIT / "conditions.toml",)
    assert beside.worn["with"].orthosis == "ankle-foot orthosis"
    assert (affected_beside(beside), population_beside(beside)) == ("right", "child")
    first = SAMPLES / "P01" / "visit-1"
    beside = read_beside({"with brace": [first / "with-brace"]})
    assert beside.standing == {"with brace": first / "standing" / "with-brace.c3d"}


def test_standing_trial_beside_the_walks_gives_the_zero():
    """Of each condition its own, and the settings name it; another one may be given."""
    visit = SAMPLES / "P01" / "visit-2"
    found = gaittrack.compare(visit)
    assert {walk.neutral_source for walk in found.records} == {"standing trial"}
    standing = {name: f"{name}.c3d" for name in ("without-brace", "with-brace")}
    used = found.comparison.settings["standing"]
    assert {name: one["file"] for name, one in used.items()} == standing
    given = {"with-brace": visit / "standing" / "without-brace.c3d"}
    used = gaittrack.compare(visit, standing=given).comparison.settings["standing"]
    assert used["with-brace"]["file"] == "without-brace.c3d"


def test_what_is_told_stands_in_the_problems():
    """What was read, and whose ranges are used."""
    told = " ".join(str(problem) for problem in gaittrack.compare(VISIT).problems)
    aims = "come first: how the person walks"
    for words in ("what was worn is read from", "side is right", "ranges of children", aims):
        assert words in told
    told = gaittrack.compare(VISIT, affected="left", typical="adult").problems
    assert not any("side" in str(one) or "children" in str(one) for one in told)


@pytest.mark.parametrize(
    ("given", "options", "words"),
    [
        ({"a": VISIT / "with-brace"}, {}, "1 condition were given"),
        ({"a": VISIT, "b": VISIT}, {}, "Say which is the reference: a, b"),
        ({"a": VISIT, "b": VISIT}, {"reference": "c"}, "no condition 'c'.*a, b"),
        (VISIT, {"standing": {"boot": VISIT / "conditions.toml"}}, "no condition 'boot'"),
        (VISIT, {"standing": {"with-brace": "gone.c3d"}}, "no such file for the standing trial"),
        (VISIT, {"events": {"gone.c3d": VISIT / "conditions.toml"}}, "none of the walks"),
        (VISIT, {"errors": "gone.toml"}, "no such file for the measurement errors"),
        (VISIT, {"lab_map": "gone.toml"}, "no such file for the map"),
        (VISIT, {"typical": "elderly"}, "no such file for the typical ranges"),
    ],
)
def test_wrong_use_is_said_before_anything_is_measured(given, options, words, monkeypatch):
    """What was meant cannot be guessed; the error names it."""
    monkeypatch.setattr("gaittrack.pipeline.chain.read_trial", None)
    with pytest.raises((ComparisonError, BadFileError), match=words):
        gaittrack.compare(given, **options)


def test_own_names_are_given_by_path_or_as_they_are(tmp_path):
    """Both read the same trial; a comparison names the file of the map."""
    words = tmp_path / "map.toml"
    words.write_text('[landmarks]\nleft_heel = "LHEE"\n')
    walk = SAMPLES / "P01" / "visit-1" / "with-brace" / "walk-1.c3d"
    by_path = gaittrack.read_trial(str(walk), lab_map=str(words))
    assert by_path.n_frames == gaittrack.read_trial(walk, lab_map=gaittrack.LabMap()).n_frames
    settings = gaittrack.compare(VISIT, lab_map=words).comparison.settings
    assert settings["map"]["file"] == "map.toml"
    made = gaittrack.LabMap(landmarks={"left_heel": "LHEE"})
    settings = gaittrack.compare(VISIT, lab_map=made).comparison.settings
    assert settings["map"]["file"] == "" and len(settings["map"]["sha256"]) == 64
