"""What waits for a look, what was done to a walk, and what a correction changed."""

import pytest

from gaittrack.cycles import PARTIAL
from gaittrack.errors import StudyError
from gaittrack.pipeline import measure_recording
from gaittrack.reasons import Reason, as_plain
from gaittrack.study.corrections.changed_values import changed_values
from gaittrack.study.recordings.reviewing import (
    known_trial,
    reasons_to_look,
    trial_history,
    trials_of_person,
)
from gaittrack.study.results.sources import recording_of
from tests.correcting import confirm_trial, exclude_stride, move_event, undo_correction
from tests.study.planted_results import plant

REASON = {"who": "tester", "why": "looked at the heel"}


IN_DOUBT = {
    "level": "warning",
    "reason": as_plain(Reason("on_looking", doubt=Reason("plantarflexion_positive"))),
}
ONE = Reason("warnings", n=1)
LEFT_OUT = Reason("excluded_because", text="stumbled")


def cycle(reject=(), review=()):
    return {
        "reject_reasons": [as_plain(reason) for reason in reject],
        "review_reasons": [as_plain(reason) for reason in review],
    }


def listed(study, place):
    with study.read() as connection:
        found = {one.trial.place: one for one in trials_of_person(connection, 1)}
    return found[place]


def measured(study, trial):
    with study.read() as connection:
        recording = recording_of(connection, study, trial.id)
    return measure_recording(recording)


@pytest.mark.parametrize(
    ("cycles", "problems", "said"),
    [
        ([cycle([Reason(PARTIAL)])], [], ()),
        ([cycle([LEFT_OUT])], [], ()),
        ([cycle([LEFT_OUT, Reason("starting")])], [], (Reason("strides_not_counted", n=1),)),
        ([cycle([], [Reason("starting")] * 2)], [], (Reason("times_seen_differently", n=2),)),
        ([], [{"level": "info"}, {"level": "warning"}], (Reason("warnings", n=1),)),
        ([], [IN_DOUBT, {"level": "warning"}], (Reason("sign_in_doubt", angle="ankle"), ONE)),
    ],
)
def test_only_what_a_person_can_judge_asks_for_a_look(cycles, problems, said):
    """Not the stride that no recording ends, nor what somebody left out already."""
    assert reasons_to_look("", problems, cycles) == said
    assert reasons_to_look("no markers", problems, cycles) == (Reason("not_measurable"),)


def test_walks_that_wait_come_first_until_somebody_looked(study, trial_at):
    """A warning puts the second walk first; being found right ends that; undoing brings it back."""
    trial = trial_at(study, "P01/visit-1/with-brace/walk-2")
    with study.write() as connection:
        plant(connection, trial.id, problems='[{"level": "warning"}]')
    with study.read() as connection:
        names = [
            one.trial.code
            for one in trials_of_person(connection, 1)
            if (one.trial.visit, one.trial.condition) == ("visit-1", "with-brace")
        ]
    assert names == ["walk-2", "walk-1", "standing/with-brace"]
    assert listed(study, trial.place).reasons == (Reason("warnings", n=1),)
    before = measured(study, trial)
    after = confirm_trial(study, trial, **REASON)
    assert changed_values(before, after) == []
    assert listed(study, trial.place).reasons == ()


def test_history_of_a_walk_tells_which_correction_each_entry_made(study, trial_at):
    """Import, move, undo: in order, with who; only a correction that counts can be undone."""
    trial = trial_at(study)
    event = next(e for e in measured(study, trial).events.events if e.kind == "initial_contact")
    move_event(study, trial, event.side, event.kind, event.time_s, event.time_s + 0.03, **REASON)
    with study.read() as connection:
        trial, kind = known_trial(connection, trial.id)
        found = trial_history(connection, trial)
    assert kind == "walk"
    assert [entry["what"] for entry in found] == ["import", "move_event"]
    assert found[1]["correction"] is not None and found[1]["who"] == "tester"
    undo_correction(study, trial, found[1]["correction"], **REASON)
    with study.read() as connection:
        found = trial_history(connection, trial)
    assert [entry["what"] for entry in found] == ["import", "move_event", "undo"]
    assert [entry["correction"] for entry in found] == [None] * 3


def test_changed_values_are_those_that_the_measures_give(study, trial_at):
    """Leaving out one stride takes it from every count, and the mean is that of the others."""
    trial = trial_at(study)
    before = measured(study, trial)
    out = next(one for one in before.cycles if one.is_kept and one.side == "left")
    after = exclude_stride(study, trial, out.id, **REASON)
    found = {(one.measure.name, one.side): one for one in changed_values(before, after)}
    one = found["stride_time_s", "left"]
    own = [c for c in before.cycles if c.is_kept and c.side == "left"]
    rest = [c.duration_s for c in own if c.id != out.id]
    assert one.before.n_strides == len(own) and one.after.n_strides == len(rest)
    assert one.after.value == pytest.approx(sum(rest) / len(rest), abs=0.002)
    assert ("stride_time_s", "right") not in found


def test_a_trial_that_is_gone_is_said_to_be_gone(study):
    """A number of a trial that is no longer there is an error that says what to do."""
    with study.read() as connection, pytest.raises(StudyError, match="no longer in the study"):
        known_trial(connection, 10_000)
