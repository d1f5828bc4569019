"""Whichever way a file comes in, it is measured by one chain: same words, same numbers."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from gaittrack.commands.measure import measure
from gaittrack.errors import GaitTrackError
from gaittrack.lab_map import read_lab_map
from gaittrack.pipeline import (
    InputFile,
    MeasureOptions,
    Recording,
    RefusedFile,
    as_json_dict,
    measure_file,
    measure_files,
    measure_recording,
)
from gaittrack.study.laboratory import MAP, set_setting
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.packing import result_row
from gaittrack.study.store import create_study
from gaittrack.study.tables import RESULT, TRIAL
from tests.broken_files import BROKEN
from tests.made_up_files import write_walk

SAMPLES = Path(__file__).parents[1] / "sample_trials"
NAMES = [broken.name for broken in BROKEN]
WALKS = [*(f"broken/{name}" for name in NAMES), "P01/visit-1/with-brace/walk-1.c3d"]
CONDITION = "with-brace"
ODD_MAP = '[landmarks]\nleft_heel = "left ankle"\n'
EVENTS = """time_s,side,kind
0.3,left,initial_contact
0.9,left,toe_off
1.4,left,initial_contact
0.9,right,initial_contact
1.45,right,toe_off
2.0,right,initial_contact
"""
STORED = ("refusal", "problems", "facts", "cycles", "layout", "numbers")


def lay_out(folder, *, hook):
    """Write a visit for every sample; return walks and what goes with them.

    Some of the broken ones are of one recording, which a condition takes once.
    """
    words = '[person]\ncode = "P01"\n[conditions.with-brace]\northosis = "none"\n'
    standing = None
    if hook == "standing":
        standing = SAMPLES / "P01" / "visit-1" / "standing" / f"{CONDITION}.c3d"
        words += f'standing_trial = "standing/{CONDITION}.c3d"\n'
    walks = []
    for number, name in enumerate(WALKS):
        visit = folder / "P01" / f"visit-{number}"
        (visit / CONDITION).mkdir(parents=True)
        (visit / "conditions.toml").write_text(words)
        if standing:
            (visit / "standing").mkdir()
            shutil.copyfile(standing, visit / "standing" / standing.name)
        walks.append(visit / CONDITION / Path(name).name)
        shutil.copyfile(SAMPLES / name, walks[-1])
        if hook == "events":
            walks[-1].with_name(f"{walks[-1].stem}.events.csv").write_text(EVENTS)
    map_file = folder / "map.toml"
    map_file.write_text(ODD_MAP if hook == "map" else "")
    return walks, standing, map_file


def options_for(walk, hook, standing, map_file):
    """Return what the library and what the command is told, for the same hook."""
    events = walk.with_name(f"{walk.stem}.events.csv") if hook == "events" else None
    own = MeasureOptions((read_lab_map(map_file),), standing, events)
    given = {"--map": map_file, "--standing": standing, "--events": events}
    return own, [str(word) for pair in given.items() if pair[1] for word in pair]


def stored_by_import(folder, map_file):
    """Import everything; return the report rows and the stored results, by file name."""
    study = create_study(folder / "study")
    set_setting(study, MAP, map_file, who="Ada", why="ours")
    rows = import_files(study, plan_folders([folder / "P01"]), who="Ada")
    report = {row.path.name: row for row in rows if row.path.parent.name == CONDITION}
    query = select(TRIAL.c.file_name, *(RESULT.c[name] for name in STORED)).join_from(TRIAL, RESULT)
    with study.read() as connection:
        stored = {row["file_name"]: dict(row) for row in connection.execute(query).mappings()}
    study.close()
    return report, stored


@pytest.mark.parametrize("hook", ["nothing", "map", "standing", "events"])
def test_library_command_and_study_say_the_same(tmp_path, hook):
    """Every broken sample and a whole walk: problems, refusals, events, strides and values.

    An import alone refuses somebody who stands still as a walk.
    """
    walks, standing, map_file = lay_out(tmp_path, hook=hook)
    report, stored = stored_by_import(tmp_path, map_file)
    n_measured = 0
    for walk in walks:
        own, words = options_for(walk, hook, standing, map_file)
        result = measure_file(walk, own)
        run = CliRunner().invoke(measure, [str(walk), "--json", *words])
        assert json.loads(run.stdout) == [json.loads(json.dumps(as_json_dict(result)))]
        if isinstance(result, RefusedFile):
            assert (report[walk.name].state, report[walk.name].message) == (
                "refused",
                str(result.error),
            )
            continue
        if walk.name == "standing.c3d":
            told = report[walk.name]
            assert told.state == "refused" and "Nobody walks in it" in told.message
            continue
        n_measured += 1
        assert report[walk.name].state == "added"
        expected = result_row(result, "", condition=CONDITION)
        assert {name: stored[walk.name][name] for name in STORED} == {
            name: expected[name] for name in STORED
        }
    assert 5 <= n_measured < len(walks)


def test_each_hook_changes_the_whole_walk(tmp_path):
    """A hook that is passed by would leave the numbers as they are."""
    found = []
    for hook in ("nothing", "map", "standing", "events"):
        walks, standing, map_file = lay_out(tmp_path / hook, hook=hook)
        own, _ = options_for(walks[-1], hook, standing, map_file)
        result = measure_file(walks[-1], own)
        found.append(json.dumps(as_json_dict(result)["measures"]))
    assert len(set(found)) == 4


def test_a_sheet_for_standing_is_refused_in_the_same_words(tmp_path):
    """By the library before any walk is read, by the command, and as the import's own row."""
    visit = tmp_path / "P01" / "visit-1"
    (visit / CONDITION).mkdir(parents=True)
    (visit / "conditions.toml").write_text(
        '[person]\ncode = "P01"\n[conditions.with-brace]\northosis = "none"\n'
        'standing_trial = "standing/sheet.csv"\n'
    )
    sheet, walk = visit / "standing" / "sheet.csv", visit / CONDITION / "walk-1.c3d"
    sheet.parent.mkdir()
    shutil.copyfile(SAMPLES / "P03" / "visit-1" / CONDITION / "walk-1.csv", sheet)
    write_walk(walk)
    with pytest.raises(GaitTrackError) as error:
        measure_files([walk], MeasureOptions(standing=sheet))
    said = str(error.value)
    assert said == "sheet.csv: A standing trial needs markers. Leave it out."
    run = CliRunner().invoke(measure, [str(walk), "--standing", str(sheet)])
    assert run.exit_code == 2 and said in run.output
    study = create_study(tmp_path / "study")
    rows = {row.path.name: row for row in import_files(study, plan_folders([visit]), who="Ada")}
    study.close()
    assert (rows["sheet.csv"].state, rows["sheet.csv"].message) == ("refused", said)
    assert rows["walk-1.c3d"].state == "refused" and said in rows["walk-1.c3d"].message


def test_messages_name_a_standing_trial_as_people_do(tmp_path):
    """Also where its bytes lie under another name, as in a study's originals."""
    walk, kept = tmp_path / "walk.c3d", tmp_path / "0a1b.c3d"
    write_walk(walk)
    kept.write_bytes(b"no recording")
    given = Recording(InputFile(walk), standing=InputFile(kept, "quiet.c3d"))
    result = measure_recording(given)
    assert isinstance(result, RefusedFile) and result.error.where == "quiet.c3d"
