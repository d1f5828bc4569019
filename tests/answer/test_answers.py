"""The answer of a comparison says what its rows say, on the right leg, and aims first."""

import re
from types import SimpleNamespace

import pytest

from gaittrack.answer import answers, as_plain_answer
from gaittrack.answer.sentences import CHIPS, PHRASES, joined
from gaittrack.commands.answer_text import answer_text
from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.decision import VERDICTS
from gaittrack.compare.walked.questions import QUESTION_CODES, QUESTION_MEASURES
from gaittrack.figures.board import draw_board
from gaittrack.figures.visit_panels import draw_panels
from gaittrack.reasons import Reason
from gaittrack.report.board import signs_and_board
from gaittrack.report.visit_panels import panels_html
from gaittrack.vocabulary import SIDES
from tests.compare.made_up_walks import CLEARANCE, RATE, walks
from tests.report.person_pages import MadeUpComparisons

PITCH = "foot_pitch_at_contact_deg"
MID_SWING = "mid_swing_dorsiflexion_deg"
YIELD, IN_STANCE = "knee_yield_in_loading_deg", "stance_knee_flexion_minimum_deg"
UNDER_HIP = "toe_height_under_hip_mm"
BRACED = {
    "shoe": Condition("shoe", orthosis="none"),
    "brace": Condition("brace", orthosis="ankle-foot orthosis", orthosis_side="left"),
}


def answer_of(before, after, *, worn=BRACED, n=4, aims=(), more_before=None, more_after=None):
    """Return the one answer of a made-up pair."""
    given = [
        *walks("shoe", before, n=n, **(more_before or {})),
        *walks("brace", after, n=n, **(more_after or {})),
    ]
    (found,) = answers(compare_walks(given, reference="shoe", conditions=worn, aims=aims))
    return found


def finding_of(answer, question):
    (found,) = [each for each in answer.findings if each.question == question]
    return found


def test_a_heel_contact_regained_is_told_first_as_a_gain():
    """0 of 24 to 24 of 24 steps: counted, never called something that could not be compared."""
    found = answer_of(
        {PITCH: -8, RATE: 200},
        {PITCH: 9, RATE: 150},
        more_before={"contact": "forefoot"},
    )
    (sentence, untold) = found.sentences()
    told = "the left heel meets the floor first in 24 of 24 steps, without it in 0 of 24"
    assert sentence == f"With the brace: {told}."
    meets = finding_of(found, "how_the_foot_meets_the_floor")
    assert (meets.kind, meets.verdict) == ("gain", "larger")
    assert "how fast it comes down" in untold


def test_a_heel_contact_lost_is_a_loss():
    """The same walks the other way round."""
    found = answer_of({PITCH: 9}, {PITCH: -8}, more_after={"contact": "forefoot"})
    assert finding_of(found, "how_the_foot_meets_the_floor").kind == "loss"
    assert "first in 0 of 24 steps, without it in 24 of 24" in found.sentences()[0]


@pytest.mark.parametrize(("by", "code", "kind"), [(9, "higher", "gain"), (-9, "lower", "loss")])
def test_a_flip_of_sign_changes_word_and_kind(by, code, kind):
    """The word follows the difference; its figure is that of the row, without its sign."""
    found = answer_of({MID_SWING: 0}, {MID_SWING: by})
    lifted = finding_of(found, "how_it_is_lifted_in_swing")
    (row,) = lifted.rows
    assert lifted.kind == kind
    assert f"the left foot is held {abs(row.difference):.1f}° {code}" in found.sentences()[0]


@pytest.fixture(scope="module")
def made_up(tmp_path_factory):
    """Give each made-up comparison with its walks, by name."""
    return MadeUpComparisons(tmp_path_factory)


def test_two_legs_that_changed_the_same_way_share_a_phrase(made_up):
    """Each leg with its own figure; not where they went apart."""
    found = made_up["P03 visit-3"][0]
    by = {
        row.side: f"{round(row.difference, 1):g}°" for row in found.rows if row.measure == MID_SWING
    }
    told = f"the left foot is held {by['left']} higher at the ankle, the right {by['right']};"
    assert told in answers(found)[0].sentences()[0]
    left, right = (Reason(PHRASES[MID_SWING][n], leg=leg, by=9) for n, leg in enumerate(SIDES))
    assert joined([left, right]) == (left, right)


def test_the_ladder_takes_the_first_that_can_be_compared():
    """Without a lowest point of the toe its height under the hip answers, and says so."""
    found = answer_of({CLEARANCE: 10, UNDER_HIP: 0}, {UNDER_HIP: 20}, worn=BRACED)
    toe = finding_of(found, "how_the_toe_clears_the_floor")
    assert [row.measure for row in toe.rows] == [UNDER_HIP]
    assert [row.measure for row in toe.companions] == [CLEARANCE]
    assert "as it passes under the hip" in found.sentences()[0]


def test_aims_come_first():
    """The question that was the aim leads the findings and the sentence."""
    values = {PITCH: 0, MID_SWING: 0}
    after = {PITCH: 12, MID_SWING: 12}
    aim = "how_it_is_lifted_in_swing"
    assert answer_of(values, after).findings[0].question == QUESTION_CODES[0]
    found = answer_of(values, after, aims=[aim])
    assert found.findings[0].question == aim and found.findings[0].is_aim
    assert found.sentences()[0].startswith("With the brace: in mid-swing")


@pytest.mark.parametrize(("back_deg", "leads"), [(-9, IN_STANCE), (3, YIELD)])
def test_a_knee_that_goes_back_leads_where_the_knee_is_the_aim(back_deg, leads):
    """Its smallest angle in stance before its yield; else the yield, as in any comparison."""
    before, after = {YIELD: 10, IN_STANCE: back_deg}, {YIELD: 10, IN_STANCE: back_deg + 8}
    aim = "whether_the_knee_holds"
    first = [finding_of(answer_of(before, after, aims=aims), aim).rows[0] for aims in ([aim], [])]
    assert [row.measure for row in first] == [leads, YIELD]


def test_nothing_shown_is_said_so_and_never_called_the_same():
    """Equal walks: no change larger than error is shown."""
    (first, *_) = answer_of({MID_SWING: 0}, {MID_SWING: 0.1}).sentences()
    assert first == "With the brace: no change larger than measurement error is shown."


def test_recordings_that_tell_nothing_are_never_said_to_show_no_change():
    """No value of the one condition is trusted: only that nothing can be told of it."""
    spoiled = {"reasons": {MID_SWING: Reason("not_trusted", why=Reason("sides_crossed"))}}
    found = answer_of({MID_SWING: 0}, {MID_SWING: 0}, more_after=spoiled | {"contact": "unknown"})
    (only,) = found.sentences()
    assert only.startswith("These recordings cannot say: ")


def test_conditions_that_are_no_brace_against_none_are_named():
    """Nothing recorded, or two braces: by their names."""
    assert answer_of({MID_SWING: 0}, {MID_SWING: 9}, worn=None).sentences()[0].startswith("Brace: ")


def test_the_legs_are_the_braced_ones():
    """The brace's side, whatever side is affected; without it both."""
    assert answer_of({MID_SWING: 0}, {MID_SWING: 9}).legs == ("left",)
    assert answer_of({MID_SWING: 0}, {MID_SWING: 9}, worn=None).legs == ("left", "right")


@pytest.mark.parametrize("of_both", [True, False])
def test_what_makes_a_value_doubtful_stands_beside_it_wherever_it_is_shown(of_both):
    """Of one condition with its name, of both without, over visits with those; routine is not."""
    slow, routine = Reason("lower_bound", rate_hz=60.0), Reason("low_passed", cutoff_hz=20.0)
    found = answer_of(
        {RATE: 200},
        {RATE: 150},
        more_before={"labels": {RATE: (slow, routine) if of_both else (routine,)}},
        more_after={"labels": {RATE: (slow, routine)}},
    )
    told = f"{'' if of_both else 'brace: '}60 Hz: too low where the foot falls fast"
    doubts = {each.title: each.doubts for each in draw_board([found], [found.findings]).rows}
    (doubt,) = doubts.pop("How fast it comes down")
    assert doubt.endswith(told) and not any(doubts.values())
    board = signs_and_board([found], ())
    assert f'<div class="doubt"><b>! 1</b> {doubt}</div>' in board
    assert board.count('<b class="doubt">! 1</b>') == 1
    assert f"! {told}" in answer_text(found) or not of_both, "no value is printed then"
    sure = answer_of({RATE: 200}, {RATE: 150})
    visits = [
        SimpleNamespace(
            visit=SimpleNamespace(code=f"v{n}", facts={"days_since_first_visit": n}), answer=each
        )
        for n, each in enumerate((sure, found, found))
    ]
    for own, said in ((visits, f"v1, v2: {told}"), (visits[1:], told)):
        panels = {each.title: each for each in draw_panels(own)}
        assert panels.pop("How fast it comes down").doubts == (said,)
        assert not any(each.doubts for each in panels.values())
        assert f'<div class="doubt"><b>! 1</b> {said}</div>' in panels_html(draw_panels(own))


def test_each_row_of_a_board_numbers_its_axis_for_where_the_board_has_no_head():
    """As over the board, on a phone."""
    found = answer_of({MID_SWING: 0}, {MID_SWING: 9})
    ticks = [label for _, label in draw_board([found], [found.findings]).ticks]
    (axis,) = re.findall('<div class="axis through".*?</div></div>', signs_and_board([found], ()))
    assert re.findall('data-at="(.*?)"', axis) == ticks and len(ticks) > 3


def test_every_answering_measure_has_its_words_and_every_verdict_its_chip():
    """A new measure in a ladder, or a new verdict, needs them."""
    assert set(PHRASES) == set(QUESTION_MEASURES) and set(CHIPS) == set(VERDICTS)


@pytest.mark.parametrize("person", ["P01", "P02", "P03", "P04"])
def test_sentences_and_plain_values_equal_the_rows(made_up, person):
    """Figures of JSON are their rows', changes in sentences larger; signs stand at a question."""
    comparison = made_up[f"{person} visit-3"][0]
    rows = {(row.measure, row.side): row for row in comparison.rows}
    for answer in answers(comparison):
        plain = as_plain_answer(answer)
        flags = {row.title for row in draw_board([answer], [answer.findings]).rows if row.has_sign}
        bends = any("knee" in sign.sign for sign in answer.new_signs)
        assert ("Whether the knee holds" in flags) == bends
        assert [each["question"] for each in plain["questions"] if each["side"] != "right"]
        for finding in plain["questions"]:
            side = answer.legs[0] if finding["side"] == "both" else finding["side"]
            for told in finding["measures"]:
                row = rows[told["measure"], side]
                assert told["verdict"] == row.verdict
                assert told["difference"] is None or told["difference"] == row.difference
        for finding in answer.changed:
            assert any(row.verdict == "larger" for row in finding.rows) or finding.has_heel_changed
        assert all(
            sentence[0].isupper() and sentence.endswith(".") for sentence in plain["sentences"]
        )
