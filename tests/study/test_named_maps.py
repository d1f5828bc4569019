"""Several maps in one study: a file takes the one that fits it, and no other one touches it."""

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select

from dashboards.add_walks.labels.map_draft import after, begun, draft_of_looks, files_that_take
from dashboards.add_walks.labels.map_draft import labels_of as labels_in
from dashboards.add_walks.look_and_store import Looked
from gaittrack.errors import LayoutError, StudyError
from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import Fits, LabMap, device_name, read_lab_map
from gaittrack.map_fit import map_for_landmarks
from gaittrack.pipeline import MeasureOptions, measure_file
from gaittrack.read import read_trial
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study.named_maps import (
    keep_map,
    map_texts,
    remove_map,
    rename_map,
    walks_by_map,
)
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.landmark_map import keep_landmarks
from gaittrack.study.recordings.planning import ReportRow, plan_folders
from gaittrack.study.results.keeping import recompute, stale_trials
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import CONDITION, PERSON, RESULT, TRIAL, VISIT
from gaittrack.vocabulary import LANDMARKS
from tests.made_once import made_once
from tests.made_up_files import RECIPE
from tests.read.made_up_sheets import series, written

BY = {"who": "ada", "why": "ours"}
ROOMS = {"P01": "K", "P02": "Q"}
"""Person to the letter before the numbers of that room's labels."""


def labels_of(letter):
    """Return landmark to label, and label of the simulation to label, in a room of this letter."""
    labels = list(simulate_walk(RECIPE, seed=1).trial.markers)
    landmarks = find_landmarks(labels, LabMap()).labels
    own = {label: f"{letter}{n:02}" for n, label in enumerate(labels, 1)}
    return {key: own[label] for key, label in landmarks.items()}, own


def map_text(landmarks, *lines):
    """Return a map file."""
    return "\n".join([*lines, "[landmarks]", *(f'{k} = "{v}"' for k, v in landmarks.items())])


@pytest.fixture(scope="module")
def two_rooms(tmp_path_factory):
    """Give a study with a map of each of two rooms and two walks of each; not to be changed."""

    def make(folder):
        walks = folder / "walks"
        for seed, (person, letter) in enumerate(ROOMS.items(), 1):
            place = walks / person / "visit-1" / "without-brace"
            place.mkdir(parents=True)
            for n in (1, 2):
                markers = simulate_walk(RECIPE, seed=10 * seed + n).trial.markers
                own = labels_of(letter)[1]
                named = {own[label]: xyz for label, xyz in markers.items()}
                write_c3d(place / f"walk-{n}.c3d", rate_hz=100.0, markers=named)
        study = create_study(folder / "study")
        for letter in ROOMS.values():
            keep_map(study, f"room {letter}", map_text(labels_of(letter)[0]), **BY)
        rows = list(import_files(study, plan_folders([walks]), who="ada", new_people=True))
        assert {row.state for row in rows} == {"added"}, rows
        study.close()

    return made_once(tmp_path_factory, "two_rooms", make)


@pytest.fixture
def study(two_rooms, tmp_path):
    """Give a copy of the study to change."""
    shutil.copytree(two_rooms / "study", tmp_path / "study")
    opened = open_study(tmp_path / "study")
    yield opened
    opened.close()


def stale_people(study):
    """Return whose walks are stale."""
    return {trial.person for trial, _ in stale_trials(study)}


def maps_told(study):
    """Return the maps that the results say they were read with, by person."""
    query = select(PERSON.c.code, RESULT.c.problems).select_from(
        PERSON.join(VISIT).join(CONDITION).join(TRIAL).join(RESULT)
    )
    with study.read() as connection:
        rows = connection.execute(query).all()
    told = {person: set() for person, _ in rows}
    for person, problems in rows:
        told[person] |= {
            each["reason"]["map"]
            for each in json.loads(problems)
            if each["reason"]["code"] == "map_used"
        }
    return told


def test_each_room_takes_its_own_map_and_a_change_of_one_leaves_the_other_be(study):
    """Labels of another room refuse nothing; only walks that take a map depend on it."""
    assert maps_told(study) == {"P01": {"room K"}, "P02": {"room Q"}}
    assert stale_trials(study) == []
    with study.read() as connection:
        assert walks_by_map(connection) == {"room K": 2, "room Q": 2}
        before = map_texts(connection)["room K"]
    landmarks, own = labels_of("K")
    keep_map(study, "room K", map_text(landmarks, 'standing_only = ["left_toe"]'), **BY)
    assert stale_people(study) == {"P01"}
    keep_map(study, "room K", before, **BY)
    assert stale_trials(study) == []
    moved = landmarks | {"left_heel": landmarks["left_toe"], "left_toe": landmarks["left_heel"]}
    keep_map(study, "room K", map_text(moved), **BY)
    stale = [trial for trial, _ in stale_trials(study)]
    assert {trial.person for trial in stale} == {"P01"}
    assert all(each.error is None for _, each in recompute(study, stale, who="ada"))
    assert stale_trials(study) == []


def test_a_map_that_takes_walks_over_makes_them_stale_and_a_new_name_does_not(study):
    """What a file takes is told without the file; a name, and a map of no file, change nothing."""
    rename_map(study, "room K", "hall", **BY)
    keep_map(study, "spare", '[landmarks]\nleft_heel = "nowhere"\n', **BY)
    assert stale_trials(study) == []
    keep_map(study, "new", map_text(labels_of("Q")[0], '[fits]\nlabels = ["Q01"]'), **BY)
    keep_map(study, "new", map_text({"left_heel": "Q01"}, '[fits]\nlabels = ["Q01"]'), **BY)
    assert stale_people(study) == {"P02"}
    remove_map(study, "new", **BY)
    assert stale_trials(study) == []
    remove_map(study, "hall", **BY)
    assert stale_people(study) == {"P01"}
    refused = [each for _, each in recompute(study, [t for t, _ in stale_trials(study)], who="ada")]
    assert all("no map fits" in str(each.error) for each in refused)
    keep_map(study, "hall again", map_text(labels_of("K")[0]), **BY)
    assert stale_people(study) == {"P01"}


def test_a_side_exchanged_in_a_map_is_told(two_rooms):
    """Left taken for right: of the whole body, and of a heel alone, which is left out."""
    landmarks = labels_of("K")[0]
    other = {"left": "right", "right": "left"}
    crossed = {
        "_".join((other.get(key.split("_")[0], "sacrum"), *key.split("_")[1:])): label
        for key, label in landmarks.items()
    }
    heels = {"left_heel": landmarks["right_heel"], "right_heel": landmarks["left_heel"]}
    walk = two_rooms / "walks" / "P01" / "visit-1" / "without-brace" / "walk-1.c3d"
    for wrong, code in ((crossed, "sides_crossed"), (landmarks | heels, "landmark_left_out")):
        result = measure_file(walk, MeasureOptions((LabMap(wrong, name="room K"),)))
        told = {each.reason.code for each in result.problems if each.level != "info"}
        assert code in told, told


@pytest.mark.parametrize(
    ("act", "message"),
    [
        (lambda study: rename_map(study, "room K", "room Q", **BY), "room Q.*already"),
        (lambda study: remove_map(study, "room Z", **BY), "room Z.*Maps: room K, room Q"),
        (lambda study: keep_map(study, "", "", **BY), "name of a map"),
        (lambda study: keep_map(study, "n" * 29, "", **BY), "28"),
        (lambda study: keep_map(study, "wing", "[landmarks]\nleft_wing = 'X'", **BY), "left_wing"),
        (
            lambda study: keep_map(study, "x", "[landmarks]\nsacrum='X'\nleft_toe='X'", **BY),
            "two landmarks: X",
        ),
    ],
)
def test_what_cannot_be_done_to_a_map_is_refused_and_changes_nothing(study, act, message):
    """Each refusal names what is wrong and what there is."""
    with study.read() as connection:
        before = map_texts(connection)
    with pytest.raises((StudyError, LayoutError), match=message):
        act(study)
    with study.read() as connection:
        assert map_texts(connection) == before


FILE = ("K1", "K2", "K3", "K4", "stick")
PAIR = {"left_heel": "K1", "left_toe": "K2"}


@pytest.mark.parametrize(
    ("maps", "used", "told"),
    [
        # the most of its names, and most of them there
        ([LabMap(PAIR, name="a"), LabMap({"left_heel": "K1"}, name="b")], "a", "map_used"),
        ([LabMap({**PAIR, "left_hip": "K9"}, name="a")], "a", "labels_of_map_missing"),
        (
            [
                LabMap(
                    {**PAIR, "left_knee_medial": "K9"},
                    name="a",
                    standing_only=frozenset(["left_knee_medial"]),
                )
            ],
            "a",
            "map_used",
        ),
        # too few of its names, or none
        ([LabMap({"left_heel": "K1", "left_toe": "X", "sacrum": "Y"}, name="a")], "", "too_little"),
        ([LabMap({"left_heel": "X"}, name="a")], "", "info no_map_fits"),
        ([LabMap({"left_heel": "X"}, path="a.toml")], "", "warning no_map_fits"),
        # what is said of the files goes before what is counted
        (
            [
                LabMap(PAIR, name="a"),
                LabMap({"left_heel": "K2"}, name="b", fits=Fits(labels=("stick",))),
            ],
            "b",
            "map_used",
        ),
        (
            [LabMap(PAIR, name="a", fits=Fits(files=("hall*",))), LabMap(PAIR, name="b")],
            "b",
            "map_used",
        ),
        ([LabMap(PAIR, name="a", fits=Fits(files=("WALK*",)))], "a", "map_used"),
        # alike, and they say the same
        ([LabMap(PAIR, name="a"), LabMap({"right_heel": "K3", "sacrum": "K4"}, name="b")], "a", ""),
    ],
)
def test_the_map_that_fits_best_is_used_and_said(maps, used, told):
    """Most of its names there; missing names are told, those worn only standing are not."""
    found = map_for_landmarks(FILE, maps, file_name="walk-1.c3d")
    assert found.lab_map.name == used
    assert told in " ".join(f"{each.level} {each.reason.code}" for each in found.problems)
    is_warned = any(each.level == "warning" for each in found.problems)
    assert is_warned == any(word in told for word in ("missing", "too_little", "warning"))


@pytest.mark.parametrize(
    "other", [{"left_heel": "K2", "left_toe": "K1"}, {"left_heel": "K1", "right_toe": "K2"}]
)
def test_maps_that_fit_alike_and_differ_are_asked_about_and_the_advice_helps(other):
    """Nobody guesses; a line under [fits], as the message says, settles it."""
    maps = [LabMap(PAIR, name="a"), LabMap(other, name="b")]
    with pytest.raises(LayoutError, match=r"a and b fit this file alike.*left_(heel|toe|\w+)"):
        map_for_landmarks(FILE, maps, file_name="walk-1.c3d")
    told = [maps[0], replace(maps[1], fits=Fits(labels=("stick",)))]
    assert map_for_landmarks(FILE, told, file_name="walk-1.c3d").lab_map.name == "b"


def test_a_sheet_takes_the_map_whose_columns_it_has(tmp_path):
    """Two laboratories' sheets in one folder, two maps given: each is read with its own."""
    maps, heads = [], {"a": "t;Knie A", "b": "t;Knie B"}
    for name, head in heads.items():
        column = head.split(";")[1]
        maps.append(tmp_path / f"{name}.toml")
        maps[-1].write_text(
            f'[sheet]\nlayout = "time_series"\ntime_column = "t"\n[[columns]]\nname = "{column}"\n'
            f'joint = "knee"\nside = "left"\nsign = {1 if name == "a" else -1}\n'
        )
        rows = "\n".join(f"{n / 50:.2f};{sign_of(name) * (10 + n % 50)}.5" for n in range(120))
        (tmp_path / f"{name}.csv").write_text(f"{head}\n{rows}\n")
    for name in heads:
        trial = read_trial(tmp_path / f"{name}.csv", lab_map=maps)
        assert trial.angles["left", "knee"].values[0] == pytest.approx(10.5)
        (used,) = (each for each in trial.problems if each.reason.code == "map_used")
        assert used.reason["map"] == name and used.level == "info"
    with pytest.raises(LayoutError, match="fit this file alike"):
        read_trial(
            tmp_path / "a.csv", lab_map=[maps[0], replace_in(maps[0], "sign = 1", "sign = -1")]
        )


def sign_of(name):
    """Return how the made-up laboratory counts."""
    return 1 if name == "a" else -1


def replace_in(path, old, new):
    """Return another map file with a change."""
    other = path.with_name("other.toml")
    other.write_text(path.read_text().replace(old, new))
    return other


def test_a_map_file_says_which_files_it_is_for(tmp_path):
    """Prefix, labels, patterns and landmarks worn only standing are read; a wrong word is named."""
    path = tmp_path / "map.toml"
    text = (
        'standing_only = ["left_knee_medial"]\n[fits]\nprefix = "B_"\nlabels = ["stick"]\n'
        'files = ["b*"]\n[landmarks]\nleft_heel = "H"\n'
    )
    path.write_text(text)
    found = read_lab_map(path)
    assert found.landmarks == {"left_heel": "B_H"} and found.fits == Fits(("stick",), ("b*",))
    assert found.standing_only == {"left_knee_medial"} <= set(LANDMARKS)
    for wrong in ('labels = "stick"', "standing_only = 1", "kind = []"):
        path.write_text(f"[fits]\n{wrong}\n")
        with pytest.raises(LayoutError, match=wrong.split(" ")[0]):
            read_lab_map(path)


def test_what_is_worn_only_standing_is_missed_without_a_word_once_the_map_says_so(tmp_path):
    """The warning's own line put into the map ends it; so does it for a label without a marker."""
    path = tmp_path / "map.toml"
    path.write_text('[landmarks]\nleft_heel = "K1"\nleft_knee_medial = "K9"\n')
    told = map_for_landmarks(FILE, [read_lab_map(path)], file_name="x").problems
    advice = re.search(r"standing_only = \[[^\]]*\]", str(told[-1])).group()
    path.write_text(f"{advice}\n{path.read_text()}")
    told = map_for_landmarks(FILE, [read_lab_map(path)], file_name="x").problems
    assert {each.reason.code for each in told} == {"map_used"}
    trial = simulate_walk(RECIPE, seed=1).trial
    nothing = np.full((trial.n_frames, 3), np.nan)
    trial = replace(trial, markers={**trial.markers, "left knee medial": nothing})
    for lab_map, n in ((LabMap(), 1), (LabMap(standing_only=frozenset(["left_knee_medial"])), 0)):
        problems = describe_motion(trial, lab_map=lab_map).problems
        assert sum(each.reason.code == "marker_never_seen" for each in problems) == n


def test_a_map_for_a_device_is_taken_by_what_it_recorded(tmp_path):
    """Two systems with the same labels, the sides exchanged: the word of the header decides.

    A changed map makes the walks of its own device stale, and no other.
    """
    landmarks, own = labels_of("K")
    other = {"left": "right", "right": "left"}
    exchanged = {
        "_".join((other.get(first, first), *rest)): label
        for (first, *rest), label in ((key.split("_"), label) for key, label in landmarks.items())
    }
    study = create_study(tmp_path / "study")
    folder = tmp_path / "P01" / "v1" / "none"
    folder.mkdir(parents=True)
    for seed, (name, said) in enumerate({"one": landmarks, "two": exchanged}.items()):
        keep_map(study, name, map_text(said, "[fits]", f'device = ["Room {name}"]'), **BY)
        walk = simulate_walk(RECIPE, seed=seed).trial
        markers = {own[label]: xyz for label, xyz in walk.markers.items()}
        maker = {"MANUFACTURER": {"COMPANY": [f"ROOM  {name.upper()}"], "VERSION_LABEL": ["1.5b"]}}
        path = folder / f"{name}.c3d"
        write_c3d(path, rate_hz=walk.rate_hz, markers=markers, parameters=maker)
    list(import_files(study, plan_folders([tmp_path]), who="ada", new_people=True))
    with study.read() as connection:
        assert walks_by_map(connection) == {"one": 1, "two": 1}
    keep_map(study, "two", map_text(landmarks, "[fits]", 'device = ["Room two"]'), **BY)
    assert [trial.code for trial, _ in stale_trials(study)] == ["two"]
    keep_landmarks(study, "three", landmarks, only=device_name("Room three"), **BY)
    with study.read() as connection:
        assert 'device = ["Room three"]' in map_texts(connection)["three"]
    study.close()
    assert read_trial(path, in_child=False).provenance.device == ("ROOM TWO",)
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("Capture system: Room  one\nOperator: Ann\n" + written(series()))
    assert read_trial(sheet, in_child=False).provenance.device == ("Room one",)


def test_the_device_of_a_file_is_offered_where_maps_fit_alike():
    """On screen it stands beside the labels, and the map then fits the files of that device."""
    looks = [
        Looked(
            ReportRow(Path("no.c3d"), "refused"),
            "no.c3d",
            labels=tuple(FILE),
            device=("Room one",) * n,
        )
        for n in range(2)
    ]
    rival = LabMap({"left_heel": "K2", "left_toe": "K1"}, name="b")
    draft = begun(draft_of_looks(looks) | {"guesses": {}}, [LabMap(PAIR, name="a")])
    assert device_name("Room one") not in labels_in(draft)
    assert files_that_take(draft, [rival])[0] == 0
    told = after(draft, {"act": "only", "chosen": device_name("room one")}, [rival])
    assert told["only"] == ""
    one_first = draft | {"sets": draft["sets"][::-1]}
    told = after(one_first, {"act": "only", "chosen": device_name("Room one")}, [rival])
    assert files_that_take(told, [rival])[0] == 1
