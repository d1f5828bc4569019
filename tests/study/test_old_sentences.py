"""Sentences that earlier versions stored are understood as codes, and say what they said."""

import json
import sqlite3
import string
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from gaittrack import words
from gaittrack.reasons import Reason, from_plain
from gaittrack.study.old_sentences import TOLD_BEFORE, problem_told, reason_told
from gaittrack.study.results.packing import said_refusal
from gaittrack.study.store import DATABASE, open_study

FIXTURES = Path(__file__).parent / "fixtures"
OLD_VERSIONS = range(1, 5)
KNOWN = tomllib.loads(
    (files("gaittrack.study") / "sentences_until_version_4.toml").read_text(encoding="utf-8")
)["sentence"]
SAMPLES = {
    "text": "zero",
    "name": "ankle",
    "term": "left",
    "joint": "knee",
    "number": "12",
    "integer": "7",
    "quoted": "'a b'",
    "angle": "hip angle (pelvis-thigh)",
    "signal": "toe point",
    "signals": "heel, the file's knee angle",
    "list": "one, two",
    "reason": "no toe-off in the cycle",
    "reasons": "no toe-off inside; 2 toe-offs inside",
}
SAID_OTHERWISE = {
    *("angle_of_file", "file_angle_is_another", "file_angle_is_used"),
    *("no_floor_height", "no_heel", "rates_differ", "lower_bound", "lower_bound_of_curve"),
    *("told_rate_differs", "turning", "foot_turned", "loose_marker", "stretched_shank"),
    *("sides_crossed", "other_zero", "implausible", "ankle_right_angle"),
    *("right_angle_taken_off", "plate_left_out"),
}
"""Called, held, or said of more kinds of file, as everywhere else now."""


def filled(template):
    """Return a sentence with samples in its gaps, numbers as today's sentence writes them."""
    return "".join(
        letters + (SAMPLES[kind or "text"] if name else "")
        for letters, name, kind, _ in string.Formatter().parse(template)
    )


def as_numbers(text):
    """Return a sentence in which 12.00 and +12 are 12, 7 and +7 too."""
    bare = text.replace("+12", "12").replace("+7", "7")
    return bare.replace("12.000", "12").replace("12.00", "12").replace("12.0", "12")


def test_every_known_sentence_is_read_as_its_code_and_says_the_same():
    """From words to a code with parameters and back to the same words."""
    for known in KNOWN:
        what, action = filled(known["what"]), filled(known.get("action", ""))
        reason = problem_told(what, action) if "action" in known else reason_told(what)
        assert reason.code == known["code"], what
        said = as_numbers(reason.say()), as_numbers(reason.say(part="action"))
        if known["code"] not in SAID_OTHERWISE and "column is" not in what:
            assert said == (as_numbers(what), as_numbers(action))


def test_gaps_are_read_as_what_they_hold():
    """Numbers are numbers again, names are keys, and what stands within is a reason of its own."""
    assert reason_told("lower bound: 59.94 Hz") == Reason("lower_bound", rate_hz=59.94)
    assert reason_told("gap in the toe point") == Reason("gap", of="toe_point")
    assert reason_told("gap in the hip angle (pelvis-thigh)") == Reason(
        "gap", of="hip_pelvis_thigh"
    )
    assert reason_told(
        "no ankle angle: the heel lies ahead of the forefoot: their names may be exchanged"
    ) == Reason("no_angle_because", angle="ankle", why=Reason("turned_foot"))
    assert reason_told("gap longer than 0.1 s: heel, the file's knee angle") == Reason(
        "long_gap", names=("heel", Reason("angle_of_file", angle="knee"))
    )
    assert reason_told(
        "initial contact at 1.234 s: markers differs from force by -60 ms"
    ) == Reason(
        "sources_apart",
        kind="initial_contact",
        time_s=1.234,
        other="markers",
        source="force",
        difference_ms=-60,
    )


def test_words_of_a_person_are_kept_apart_from_the_code():
    """Own words are a parameter; a sentence that nobody knows is kept as it was told."""
    assert reason_told("excluded by a person: stumbled; twice") == Reason(
        "excluded_because", text="stumbled; twice"
    )
    unknown = reason_told("the moon was full")
    assert unknown == Reason(TOLD_BEFORE, text="the moon was full")
    assert str(unknown) == "the moon was full"
    assert problem_told("Odd.", "Look.").say() == "Odd. Look."


def results(path):
    """Return what the results of a study file say, by trial: each a list of texts or of codes."""
    with sqlite3.connect(path) as plain:
        rows = plain.execute(
            "SELECT trial_id, refusal, problems, cycles, layout FROM result"
        ).fetchall()
        means = plain.execute(
            "SELECT trial_id, side, measure, reasons FROM trial_mean ORDER BY 1, 2, 3"
        ).fetchall()
    plain.close()
    return {row[0]: (row[1], *map(json.loads, row[2:])) for row in rows}, means


def said(plain):
    return str(from_plain(plain))


@pytest.mark.parametrize("version", OLD_VERSIONS)
def test_results_of_every_older_version_say_the_same_as_before(tmp_path, version):
    """Cycles, labels, reasons, problems and refusals: the same words, told by codes."""
    (tmp_path / "originals").mkdir()
    with sqlite3.connect(tmp_path / DATABASE) as plain:
        plain.executescript((FIXTURES / f"version-{version}.sql").read_text(encoding="utf-8"))
        plain.execute("INSERT INTO kept_changes VALUES (1, 's', 'c')") if version > 2 else None
        refused = "x.c3d: Cut. Copy it again."
        odd = '["gap longer than 0.1 s: heel", "excluded by a person", "as nobody says"]'
        plain.execute(
            "UPDATE result SET cycles = replace(cycles, ?, ?)",
            ('["the next contact of this foot is not in the recording"]', odd),
        )
        told = [{"level": "info", "what": "20 frames are left out.", "where": "x"}]
        told[0]["action"] = "They are kept as gaps."
        plain.execute("UPDATE result SET problems = ?", (json.dumps(told),))
        plain.execute(
            "INSERT INTO result SELECT 1, software_version, settings_hash, measured_utc, ?, '[]', "
            "'{}', '[]', '{}', x'' FROM result",
            (refused,),
        )
        mean = '{"no minimum in mid-swing": 2}'
        plain.execute("UPDATE trial_mean SET reasons = ? WHERE side = 'left'", (mean,))
    plain.close()
    before, means_before = results(tmp_path / DATABASE)
    open_study(tmp_path).close()
    after, means = results(tmp_path / DATABASE)
    assert after.keys() == before.keys() == {1, 2} and before[1][0]
    for key, (refusal, problems, cycles, layout) in after.items():
        old_refusal, old_problems, old_cycles, old_layout = before[key]
        assert said_refusal(refusal) == old_refusal
        assert [(p["level"], said(p["reason"]), p["where"]) for p in problems] == [
            (p["level"], p["what"], p["where"]) for p in old_problems
        ]
        for cycle, old in zip(cycles, old_cycles, strict=True):
            for name in ("reject_reasons", "review_reasons"):
                assert [said(each) for each in cycle.pop(name)] == old.pop(name)
            assert cycle == old
        told = {each["code"] for each in layout.get("reasons", []) if each}
        told |= {each["code"] for labels in layout.get("labels", []) for each in labels}
        assert TOLD_BEFORE not in told
        if layout:
            assert [said(e) if e else "" for e in layout.pop("reasons")] == old_layout.pop(
                "reasons"
            )
            labels = ["\n".join(map(said, each)) for each in layout.pop("labels")]
            assert labels == old_layout.pop("labels")
            assert (layout.pop("version"), old_layout.pop("version")) == (2, 1)
            assert layout == old_layout
    assert [
        (*row[:3], {said(each["reason"]): each["n"] for each in json.loads(row[3])})
        for row in means
    ] == [(*row[:3], json.loads(row[3])) for row in means_before]


def test_every_known_sentence_still_has_words():
    """A code that old studies hold is never taken out of the words."""
    assert {row["code"] for row in KNOWN} <= words.sentences(words.ENGLISH).keys()
