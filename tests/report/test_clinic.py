"""The page for the file: who, what, how sure; one or two sheets; nothing loaded."""

import re
import shutil
from html import unescape
from pathlib import Path

import pytest

import gaittrack
from gaittrack.answer import answers
from gaittrack.answer.findings import UNTOLD
from gaittrack.compare.row_words import number, signed
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import StudyError
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.notice import NOTICE
from gaittrack.reasons import Reason
from gaittrack.report.clinic import MOST_EFFECTS, Made, clinic_page
from gaittrack.report.clinic_results import Effect, doubt_words, looked_at, result_table
from gaittrack.report.comparison_tables import what_was_worn
from gaittrack.report.pdf import browser, pdf_of
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.compared_trials import compared_trials, hash_of_settings
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import create_study
from gaittrack.study.tables import RESULT
from tests.planted_facts import examine_nothing
from tests.study.planted_results import plant

MADE = Made("Ada", "2026-03-01")
SAMPLES = Path(__file__).parents[2] / "sample_trials"
EXAMINED = {
    "right_quadriceps_strength": "3",
    "right_passive_dorsiflexion_knee_straight_deg": -5.0,
    "right_correctable_to_neutral": True,
    "left_clonus": "none",
    "right_mediolateral_stability": "tilts into varus",
    "right_tone": "1+",
    "comfort": "presses at the little toe after an hour",
    "skin": "reddened over the fifth metatarsal, gone after half an hour",
    "wear": "six days a week, eight hours",
}


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """Give a study of P02's first visit: contact types change, the toe's minimum is missing."""
    walks = tmp_path_factory.mktemp("walks")
    shutil.copytree(SAMPLES / "P02" / "visit-1", walks / "P02" / "visit-1")
    opened = create_study(tmp_path_factory.mktemp("study") / "study")
    rows = list(import_files(opened, plan_folders([walks]), who="tests", new_people=True))
    assert {row.state for row in rows} <= {"added", "passed over"}, rows
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def found(study):
    """Give its fair pair compared."""
    choice = first_choice(conditions_of(study, 1))
    examine_nothing(study)
    seen = recorded(study, "visit", 1)
    change_facts(study, seen, EXAMINED, who="tests")
    return compare_stored(study, choice.conditions, reference=choice.reference)


@pytest.fixture(scope="module")
def page(study, found):
    """Give its page."""
    return clinic_page(study, [found], MADE)


def test_page_says_who_when_what_and_how_sure(page, study, found):
    """Code, visit, every question with its verdict, every value, what defends it, who made it."""
    text = unescape(page)
    settings = found.comparison.settings
    for words in (
        *("P02", "visit-1 (day 0)", "type of the orthosis", "dorsal-leaf", "walking shoe"),
        *(settings["cannot_show"], settings["caution"], NOTICE, settings["gaittrack_version"]),
        *("made by<b>Ada</b>", "date<b>2026-03-01</b>", "signature", "asked for by"),
        hash_of_settings(found, compared_trials(study, found)),
    ):
        assert words in text, words
    (answer,) = answers(found.comparison)
    assert all(with_minus(sentence) in text for sentence in answer.sentences())
    questions, results = (
        re.search(rf'<table class="{name}">(.*?)</table>', page, re.DOTALL)[1]
        for name in ("questions", "results")
    )
    lines = re.findall(r"<tr><th.*?</tr>", questions, re.DOTALL)
    assert len(lines) == len(QUESTION_CODES)
    for code, line in zip(QUESTION_CODES, lines, strict=True):
        (finding,) = [each for each in answer.findings if each.question == code]
        assert f'<i class="mark {finding.verdict}">' in line
        assert ("aim" in line) == finding.is_aim
    for row in (row for finding in answer.findings for row in finding.rows):
        decimals = MEASURE_BY_NAME[row.measure].decimals
        (line,) = [
            each
            for each in re.findall(r"<tr.*?</tr>", results, re.DOTALL)
            if f"<span>{MEASURE_BY_NAME[row.measure].title}</span>" in each
        ]
        for value in (row.reference_value, row.value):
            assert with_minus(number(value, decimals)) in line or "no value" in line
        assert f"mark {row.verdict}" in line
        if row.verdict not in UNTOLD:
            assert with_minus(signed(row.difference, decimals)) in line
        assert all(part in text for part in str(row.measurement_error_source).split("; "))
    assert "0.68 to 1.80" in results, "the range of her age stands beside the speed"


def test_two_visits_and_two_braces_stand_beside_one_another(study, found):
    """Each column has its own verdicts; person, visits and number stand on both sheets."""
    page = unescape(clinic_page(study, [found, found], MADE))
    (answer,) = answers(found.comparison)
    heads = re.findall(r'<div class="sheet-head">(.*?)</div>', page)
    assert [re.search(r"page (\d) of 2", head)[1] for head in heads] == ["1", "2"]
    assert all("<b>P02</b> · visit-1 (day 0)" in head for head in heads)
    questions = re.search(r'<table class="questions">(.*?)</table>', page, re.DOTALL)[1]
    for line in re.findall(r"<tr><th scope=.row.*?</tr>", questions, re.DOTALL):
        verdicts = re.findall(r'class="mark (\w+)"', line)
        assert len(verdicts) == 2 and len(set(verdicts)) == 1
    assert page.count("visit-1: ") >= len(answer.sentences())


def test_signs_and_doubts_of_several_visits_keep_each_its_own():
    """P04's left knee bends far without the brace too, at each visit by another angle."""
    effects = []
    for visit in ("visit-1", "visit-2"):
        comparison = gaittrack.compare(SAMPLES / "P04" / visit).comparison
        (answer,) = answers(comparison)
        effects.append(Effect(visit, answer, comparison))
    told = looked_at(effects, ())
    for effect in effects:
        for item in effect.answer.signs_without_too:
            before, here = (f"{x:.1f}°" for x in (item.reference_value, item.value))
            line = f"{effect.label}, {Reason(item.sign)}, {item.side}: {here} in with-brace"
            assert any(f"{line} ({before} in" in each for each in told)
    assert len({item.reference_value for e in effects for item in e.answer.signs_without_too}) > 1
    curve = "with-brace: from a 101-point curve: too low where the foot falls fast"
    place = next(n for n, line in enumerate(doubt_words(effects), 1) if line == f"! {n} {curve}")
    rates = [each.measure for each in result_table(effects) if "plantarflexion" in each.measure]
    assert rates and all(f"! {place}" in each for each in rates)


def test_aims_stand_with_what_was_hoped_and_how_far_it_was_reached(page, study, found):
    """Level 0 as it was written before; no level is marked that nobody told."""
    text = unescape(page)
    assert "no catching of the toe on a carpet" in text and "to the baker and back" in text
    assert text.count("not told") == 3 and 'class="here"' not in text
    change_facts(study, recorded(study, "visit", 1), {"aim_level": "A1: -1"}, who="tests")
    after = unescape(clinic_page(study, [found], MADE))
    assert after.count('<span class="here">−1</span>') == 1 and after.count("not told") == 2


def test_a_brace_that_was_not_worn_has_no_missing_facts(found):
    """Beside the brace's class stands that none was worn, not that nobody recorded it."""
    names = list(found.comparison.settings["conditions"])
    rows = {
        name: dict(zip(names, words, strict=True))
        for name, *words in what_was_worn(found.comparison)[0]
    }
    bare = next(name for name in names if rows["orthosis"][name] == "none")
    assert rows["type of the orthosis"] == {bare: "none worn"} | {
        name: "dorsal-leaf" for name in names if name != bare
    }
    assert rows["footwear"][bare] == "walking shoe"


def test_page_says_what_was_found_at_the_examination(page):
    """The affected leg first, by plain names with units; what nobody recorded is said to be so."""
    text = unescape(page)
    rows = {
        cells[0]: cells[1:]
        for line in re.findall(r"<tr>(.*?)</tr>", text, re.DOTALL)
        if (cells := re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", line))
    }
    assert rows["strength of the quadriceps"] == ["3", "–"]
    assert rows["clonus of the ankle"] == ["–", "none"]
    assert rows["muscle tone of the calf"] == ["1+", "–"]
    assert rows["passive dorsiflexion, knee straight (°)"] == ["-5", "–"]
    assert "examination: mediolateral stability of the ankle under load, right: tilts into" in text
    for words in ("affected side: right", "cause: stroke", "time since onset (months): 14"):
        assert words in text
    missing = re.search(r"Not recorded: (.*?)</li>", text)[1]
    assert "passive dorsiflexion, knee bent (°)" in missing
    assert "strength of the dorsiflexors" in missing


def test_what_makes_the_pair_unfair_and_what_is_not_comparable_stands_on_it(page, found):
    """With its reason."""
    notes = [note for note in found.comparison.fairness if note.level == "warning"]
    assert notes
    assert all(str(note.reason) in unescape(page) for note in notes)
    assert "cannot be compared: contact type changed" in page
    fired = [item for item in found.comparison.watch if item.status == "fires"]
    assert fired
    assert all(str(Reason(item.sign)) in page.partition("What got worse")[2] for item in fired)
    unseen = {
        str(Reason(item.sign)) for item in found.comparison.watch if item.status == "not_assessed"
    }
    assert unseen
    assert "Signs not looked for" in page and all(sign in page for sign in unseen)


def test_page_loads_nothing_and_names_no_file(page, found):
    """No title with the person's code."""
    fetched = r"(?:src|href)\s*=|url\((?!.data:font)|@import|<script|<link|<iframe|<img"
    assert not re.search(fetched, page)
    assert not any(record.file_name in page for record in found.records)
    assert "P02" not in re.search(r"<title>(.*?)</title>", page)[1]


def test_stale_results_are_named(found, study):
    """A number of an older version is not passed off as today's."""
    number = next(iter(found.trial_ids.values()))
    one = RESULT.c.trial_id == number
    with study.read() as connection:
        before = connection.execute(RESULT.select().where(one)).mappings().one()
    for version, is_named in (("0.0", True), (before["software_version"], False)):
        with study.write() as connection:
            plant(connection, number, software_version=version)
        assert ("results are stale: measured by version 0.0" in clinic_page(study, [found])) is (
            is_named
        )


def test_more_than_fits_is_refused(found, study):
    """In words, not by a third sheet."""
    with pytest.raises(StudyError, match="make a page for each pair"):
        clinic_page(study, [found] * (MOST_EFFECTS + 1))


@pytest.mark.skipif(browser() is None, reason="no browser on this machine")
def test_printed_page_has_two_sheets(page):
    """A4, in a browser."""
    printed = pdf_of(page)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 2
    width, height = map(
        float, re.search(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", printed).groups()
    )
    assert (width, height) == (pytest.approx(595, abs=2), pytest.approx(842, abs=2))
