"""Several conditions in one text, one board, against a setting: of each what its answer says."""

import re
from pathlib import Path

import pytest

import gaittrack
from gaittrack.answer import answers, several_sentences
from gaittrack.answer.sentences import chip_of, chip_of_finding, phrases_of
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.figures.board import draw_board
from gaittrack.figures.error_axis import has_mark
from gaittrack.figures.setting_panels import SetAnswer, draw_setting_panels
from gaittrack.record.setting_changes import setting_change
from gaittrack.report.setting_panels import settings_html

VISIT = Path(__file__).parents[2] / "sample_trials" / "P01" / "visit-4"
ANKLE, STIFF = "orthosis_ankle_angle_deg", "orthosis_stiffness_n_m_per_deg"
HEEL, DROP, PLATE = "heel_height_mm", "heel_sole_differential_mm", "orthosis_foot_plate_length"


@pytest.fixture(scope="module")
def found():
    """Give three settings of one brace against none."""
    return gaittrack.compare(VISIT, reference="without-brace").comparison


@pytest.fixture(scope="module")
def told(found):
    """Give their answers."""
    given = answers(found)
    assert len(given) == 3
    return given


def test_each_change_is_said_of_whom_it_is_with_its_figure(told):
    """Every phrase of every answer stands in a sentence that names its condition, in its place."""
    said = several_sentences(told)
    n_phrases = 0
    for answer in told:
        for finding in answer.changed:
            for phrase in phrases_of(finding, answer.names[1]):
                figures = re.findall(r"\d+(?:\.\d+)?", str(phrase))[:1]
                own = [
                    (head.lower().split(", "), part)
                    for sentence in said
                    for head, _, rest in [sentence.partition(": ")]
                    for part in rest.rstrip(".").split("; ")
                    if re.sub(r"[\d., ]+", "#", part) == re.sub(r"[\d., ]+", "#", str(phrase))
                    and answer.condition in head.lower().split(", ")
                ]
                ((names, part),) = own
                listed = re.findall(r"\d+(?:\.\d+)?", part)
                place = names.index(answer.condition) if len(listed) == len(names) else 0
                assert listed[place] == figures[0], (answer.condition, said)
                n_phrases += 1
    assert n_phrases >= 5
    assert not any(re.search("best|better|should", each) for each in said)


def test_one_condition_alone_says_what_it_always_said(told):
    """One answer is not worded anew."""
    assert several_sentences(told[:1]) == told[0].sentences()


def test_the_board_holds_each_change_in_errors_and_each_verdict(told):
    """Mark by mark and word by word, in the order of the conditions."""
    board = draw_board(told, [each.findings for each in told])
    (low, _), (high, _) = board.ticks[0], board.ticks[-1]
    ends = [int(text.replace("−", "-")) for _, text in (board.ticks[0], board.ticks[-1])]
    for place, row in enumerate(board.rows):
        own = [each.findings[place] for each in told]
        for n, finding in enumerate(own):
            first = finding.rows[0]
            marks = [line for line in row.lines if line.condition == n and line.mark]
            assert bool(marks) == has_mark(first)
            if marks:
                at = ends[0] + (marks[0].mark.at - low) / (high - low) * (ends[1] - ends[0])
                assert at == pytest.approx(first.difference / first.measurement_error, abs=0.01)
                assert marks[0].verdict == first.verdict
            words = {said.words for said in row.said if said.condition in (None, n)}
            assert str(chip_of_finding(finding)) in words


def test_panels_stand_by_the_number_and_never_by_the_result(told, found):
    """2, 5 and 8 degrees at their distances; each mark is its answer's; no line through them."""
    worn = found.settings["conditions"]
    numbers = {each.condition: worn[each.condition][ANKLE] for each in told}
    change = setting_change([worn[each.condition] for each in told])
    assert [each.name for each in change.facts] == [ANKLE]
    assert list(change.places) == list(numbers.values())
    given = [
        SetAnswer(answer, n, place, said, answer.condition)
        for n, (answer, place, said) in enumerate(
            zip(told, change.places, change.said, strict=True)
        )
    ]
    panels = draw_setting_panels(given)
    assert len(panels) == len(QUESTIONS)
    for panel, question in zip(panels, QUESTIONS, strict=True):
        for mark in panel.marks:
            answer = told[mark.style]
            (finding,) = [one for one in answer.findings if one.question == question.code]
            assert mark.at == pytest.approx(14 + 72 * (numbers[answer.condition] - 2) / 6)
            assert mark.verdict == finding.rows[0].verdict
            assert str(chip_of(finding.rows[0])) in mark.words
            assert (mark.height < panel.zero) == (finding.rows[0].difference > 0)
            assert mark.whole[0] <= mark.walks[0] <= mark.height <= mark.walks[1] <= mark.whole[1]
    shown = settings_html(told, worn, by_date=False)
    assert "<line" not in shown and "<path" not in shown and "polyline" not in shown
    in_time = draw_setting_panels([replace_place(each) for each in given])
    places = [label.at for label in in_time[0].labels]
    assert places == sorted(places) and [each.style for each in in_time[0].labels] == [0, 1, 2]


def replace_place(each):
    return SetAnswer(each.answer, each.style, None, each.said, each.below)


@pytest.mark.parametrize(
    ("worn", "facts", "places"),
    [
        ([{ANKLE: -2.0}, {ANKLE: 1.0}, {ANKLE: 1.0}], [ANKLE], (-2.0, 1.0, 1.0)),
        ([{ANKLE: 2.0, STIFF: 1.0}, {ANKLE: 5.0, STIFF: 1.4}], [ANKLE, STIFF], ()),
        ([{HEEL: 5.0, DROP: 3.0}, {HEEL: 9.0, DROP: 7.0}], [HEEL], (5.0, 9.0)),
        ([{PLATE: "to the toes"}, {PLATE: "to the heel"}], [PLATE], (2.0, 0.0)),
        ([{ANKLE: 2.0}, {ANKLE: 5.0}, {}], [ANKLE], ()),
        ([{"brace": "B1", ANKLE: 2.0}, {"brace": "B2", ANKLE: 5.0}], ["brace", ANKLE], ()),
        ([{"orthosis_class": "solid"}, {"orthosis_class": "jointed"}], ["orthosis_class"], ()),
        ([{ANKLE: 2.0}, {ANKLE: 2.0}], [], ()),
    ],
)
def test_only_one_number_or_order_known_of_all_is_laid_against(worn, facts, places):
    """Several at once, another brace, a word without order, one not recorded: nothing."""
    change = setting_change(worn)
    assert {each.name for each in change.facts} == set(facts)
    assert change.places == places


def test_what_is_recorded_of_some_only_may_have_changed_too():
    """It is named beside."""
    change = setting_change([{ANKLE: 2.0, STIFF: 1.0}, {ANKLE: 5.0}])
    assert change.places == (2.0, 5.0) and [each.name for each in change.unsure] == [STIFF]
