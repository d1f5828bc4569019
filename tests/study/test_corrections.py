"""What a person changes counts, is on record, and can be undone without a trace in the numbers."""

import json
import re

import pytest
from sqlalchemy import insert, select

from gaittrack.errors import StudyError
from gaittrack.plain_files import hash_of
from gaittrack.reasons import Reason
from gaittrack.study.corrections.looking import corrections_of, look_at
from gaittrack.study.corrections.making import correct
from gaittrack.study.history import entries
from gaittrack.study.laboratory import MAP, set_setting
from gaittrack.study.originals import kept_files
from gaittrack.study.results.keeping import known_trials, recompute, stale_trials
from gaittrack.study.tables import CONDITION, EVENT, PERSON, RESULT, TRIAL, TRIAL_MEAN, VISIT
from gaittrack.study.upkeep.verifying import verify
from tests import correcting
from tests.study.planted_results import plant

BY = {"who": "Ada", "why": "seen in the film"}
CONTACT = ("left", "initial_contact")


def events(study, trial, side="left", kind="initial_contact"):
    query = select(EVENT.c.time_s, EVENT.c.source).where(
        EVENT.c.trial_id == trial.id, EVENT.c.side == side, EVENT.c.kind == kind
    )
    with study.read() as connection:
        return [tuple(row) for row in connection.execute(query.order_by(EVENT.c.time_s))]


def times(study, trial, **which):
    return [time_s for time_s, _ in events(study, trial, **which)]


def numbers(study, trial):
    """Return everything measured of a trial."""
    with study.read() as connection:
        blob = connection.execute(select(RESULT.c.numbers).where(RESULT.c.trial_id == trial.id))
        means = select(TRIAL_MEAN).where(TRIAL_MEAN.c.trial_id == trial.id)
        rows = connection.execute(means.order_by(TRIAL_MEAN.c.side, TRIAL_MEAN.c.measure)).all()
        return blob.scalar(), [tuple(row) for row in rows]


def cycles(study, trial):
    with study.read() as connection:
        query = select(RESULT.c.cycles).where(RESULT.c.trial_id == trial.id)
        return {one["id"]: one for one in json.loads(connection.execute(query).scalar())}


def test_a_moved_event_counts_and_undoing_gives_the_old_numbers(study, trial_at):
    """To the last bit; both steps stand in the history, with what was there before."""
    trial = trial_at(study)
    before, files = numbers(study, trial), [hash_of(path) for path in kept_files(study.folder)]
    old_s = times(study, trial)[1]
    correcting.move_event(study, trial, *CONTACT, old_s, old_s + 0.03, **BY)
    assert (old_s + 0.03, "corrected") in events(study, trial)
    assert old_s not in times(study, trial)
    assert numbers(study, trial) != before
    assert stale_trials(study) == []
    correcting.undo_correction(study, trial_at(study), 1, **BY)
    assert numbers(study, trial) == before
    assert [hash_of(path) for path in kept_files(study.folder)] == files
    with study.read() as connection:
        moved, undone = entries(connection, person="P01")[-2:]
    assert (moved["what"], undone["what"]) == ("move_event", "undo")
    assert moved["who"] == "Ada" and moved["why"] == "seen in the film"
    assert moved["before"]["time_s"] == old_s and moved["after"]["new_time_s"] == old_s + 0.03
    assert undone["before"]["kind"] == "move_event"
    assert verify(study) == []


@pytest.mark.parametrize("off_s", [-0.03, 0.03])
def test_a_time_names_the_event_within_two_frames_and_no_other(study, trial_at, off_s):
    """10 ms beside it, it is meant; 30 ms beside it, nothing is, and the times there are told."""
    trial = trial_at(study)
    before = times(study, trial)
    with pytest.raises(StudyError, match="no such event") as told:
        correcting.delete_event(study, trial, *CONTACT, before[1] + off_s, **BY)
    assert all(f"{time_s:.3f}" in str(told.value) for time_s in before)
    assert times(study, trial) == before
    correcting.delete_event(study, trial, *CONTACT, before[1] + off_s / 3, **BY)
    assert times(study, trial_at(study)) == [before[0], *before[2:]]


def test_an_event_moved_there_and_back_is_where_it_was(study, trial_at):
    """A corrected event can be corrected again; undoing goes backwards only."""
    trial = trial_at(study)
    before = times(study, trial)
    away = before[1] + 0.04
    correcting.move_event(study, trial, *CONTACT, before[1], away, **BY)
    correcting.move_event(study, trial_at(study), *CONTACT, away, before[1], **BY)
    assert times(study, trial) == before
    with pytest.raises(StudyError, match="Undo 2 first"):
        correcting.undo_correction(study, trial_at(study), 1, **BY)


def test_an_event_is_not_moved_into_another_step(study, trial_at):
    """A toe-off before its contact is refused; a time that the message names is taken."""
    trial = trial_at(study)
    toe_off = ("left", "toe_off")
    contacts, (_, first, *_) = times(study, trial), times(study, trial, kind="toe_off")
    before_it = max(each for each in contacts if each < first)
    with pytest.raises(StudyError, match="beyond the initial contact .*another step") as told:
        correcting.move_event(study, trial, *toe_off, first, before_it - 0.1, **BY)
    low, high = map(float, re.search(r"between ([\d.]+) and ([\d.]+) s", str(told.value)).groups())
    assert low == pytest.approx(before_it, abs=1e-3)
    assert times(study, trial, kind="toe_off")[1] == first
    inside = round(low + 0.4 * (high - low), 3)
    correcting.move_event(study, trial, *toe_off, first, inside, **BY)
    assert times(study, trial, kind="toe_off")[1] == inside
    with pytest.raises(StudyError, match="another step"):
        correcting.move_event(study, trial_at(study), *CONTACT, before_it, inside + 0.1, **BY)


def test_a_deleted_event_is_gone_from_every_source(study, trial_at):
    """No less trusted source brings it back; one stride is less."""
    trial = trial_at(study)
    before = times(study, trial)
    correcting.delete_event(study, trial, *CONTACT, before[1], **BY)
    assert times(study, trial) == [before[0], *before[2:]]


def test_an_added_event_is_there_and_not_twice(study, trial_at):
    """Where one is near it is to be moved instead."""
    trial = trial_at(study)
    first = times(study, trial)[0]
    with pytest.raises(StudyError, match="Move that one"):
        correcting.add_event(study, trial, *CONTACT, first + 0.1, **BY)
    correcting.delete_event(study, trial, *CONTACT, first, **BY)
    correcting.add_event(study, trial_at(study), *CONTACT, first + 0.01, **BY)
    assert events(study, trial)[0] == (first + 0.01, "corrected")


def test_an_event_is_copied_to_the_other_foot_by_the_step(study, trial_at):
    """Half a stride later, by the next of its kind, by the one before for the last."""
    right = ("right", "initial_contact")
    for own_s in times(study, trial_at(study), side="right"):
        correcting.delete_event(study, trial_at(study), *right, own_s, **BY)
    left = times(study, trial_at(study))
    look = look_at(study, trial_at(study))
    first, last = (
        look.on_other_foot(look.event_near(*CONTACT, each), reason="no marks of it")
        for each in (left[0], left[-1])
    )
    assert last.time_s == pytest.approx(left[-1] + (left[-1] - left[-2]) / 2, abs=1e-3)
    correct(study, look, first, who="Ada")
    ((copied_s, source),) = events(study, trial_at(study), side="right")
    assert copied_s == pytest.approx((left[0] + left[1]) / 2, abs=1e-3)
    assert source == "corrected"
    for own_s in left[1:]:
        correcting.delete_event(study, trial_at(study), *CONTACT, own_s, **BY)
    look = look_at(study, trial_at(study))
    with pytest.raises(StudyError, match="only one of its kind.*at its own time"):
        look.on_other_foot(look.event_near(*CONTACT, left[0]), reason="")


def test_an_excluded_stride_gives_no_value_and_keeps_its_reason(study, trial_at):
    """It stays in the list of strides, rejected by a person."""
    trial = trial_at(study)
    kept = [name for name, one in cycles(study, trial).items() if not one["reject_reasons"]]
    correcting.exclude_stride(study, trial, kept[0], **BY)
    now = cycles(study, trial)
    assert now[kept[0]]["reject_reasons"] == [
        {"code": "excluded_because", "text": "seen in the film"}
    ]
    assert [name for name, one in now.items() if not one["reject_reasons"]] == kept[1:]
    with pytest.raises(StudyError, match="out already"):
        correcting.exclude_stride(study, trial_at(study), kept[0], **BY)


def test_swapped_sides_change_places_and_twice_is_nothing(study, trial_at):
    """Left events become right ones; a second swap, or undoing it, gives the old numbers."""
    trial = trial_at(study, "P01/visit-2/with-brace/walk-1")
    before = numbers(study, trial)
    left, right = times(study, trial), times(study, trial, side="right")
    correcting.swap_trial_sides(study, trial, **BY)
    place = "P01/visit-2/with-brace/walk-1"
    assert times(study, trial, side="right") == pytest.approx(left, abs=0.011)
    assert times(study, trial) == pytest.approx(right, abs=0.011)
    correcting.swap_trial_sides(study, trial_at(study, place), **BY)
    assert numbers(study, trial) == before


def test_a_correction_keeps_its_foot_when_sides_are_swapped_later(study, trial_at):
    """The event that was moved is the same foot's, whatever the side is called."""
    place = "P01/visit-2/with-brace/walk-1"
    trial = trial_at(study, place)
    old_s = times(study, trial)[1]
    correcting.move_event(study, trial, *CONTACT, old_s, old_s + 0.03, **BY)
    correcting.swap_trial_sides(study, trial_at(study, place), **BY)
    assert (old_s + 0.03, "corrected") in events(study, trial, side="right")
    assert "corrected" not in {source for _, source in events(study, trial)}


def test_nobodys_change_is_overwritten(study, trial_at):
    """Who looked before another's change must look again; nothing of theirs is stored."""
    looked = trial_at(study)
    first = times(study, looked)[1]
    correcting.move_event(study, looked, *CONTACT, first, first + 0.03, **BY)
    after = numbers(study, looked)
    with pytest.raises(StudyError, match="changed by somebody else"):
        correcting.swap_trial_sides(study, looked, **BY)
    assert numbers(study, looked) == after
    with study.read() as connection:
        assert len(corrections_of(connection, looked)) == 1


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("delete_event", (*CONTACT, 99.0), "Events of this kind"),
        ("add_event", (*CONTACT, 99.0), "outside of the recording"),
        ("exclude_stride", ("left-99",), "Strides are: left-01"),
        ("undo_correction", (5,), "no correction 5"),
    ],
)
def test_a_wrong_correction_says_what_there_is(study, trial_at, name, given, words):
    """Times, strides and numbers that do not exist are answered with those that do."""
    with pytest.raises(StudyError, match=words):
        getattr(correcting, name)(study, trial_at(study), *given, **BY)


def test_an_unknown_trial_is_answered_with_the_persons_trials(study, trial_at):
    """The message lists what there is."""
    with pytest.raises(StudyError, match="P01/visit-1/with-brace/walk-1"):
        trial_at(study, "P01/visit-1/with-brace/walk-99")


def test_stale_results_are_shown_and_measured_again(study, trial_at, tmp_path):
    """Another version or another map makes results stale; recomputing gives today's stamp."""
    trial = trial_at(study)
    before = numbers(study, trial)
    with study.write() as connection:
        plant(connection, trial.id, software_version="0.0.1", numbers=b"")
    stale = stale_trials(study)
    assert [(one.place, why) for one, why in stale] == [
        (trial.place, Reason("measured_by_version", version="0.0.1"))
    ]
    assert [one.id for one, _ in recompute(study, [one for one, _ in stale], who="Ada")] == [
        trial.id
    ]
    assert numbers(study, trial) == before and stale_trials(study) == []
    path = tmp_path / "map.toml"
    path.write_text("[sheet]\nrate_hz = 100.0\n")
    set_setting(study, MAP, path, who="Ada", why="new names")
    with study.read() as connection:
        assert len(stale_trials(study)) == len(known_trials(connection))


def test_a_swapped_standing_trial_makes_its_walks_stale(study, trial_at):
    """The zero of the feet changes sides: the walks must be measured again."""
    with study.read() as connection:
        standing = known_trials(connection, kind="standing")[0]
    assert correcting.swap_trial_sides(study, standing, **BY) is None
    assert {one.place for one, _ in stale_trials(study)} == {
        "P01/visit-1/with-brace/walk-1",
        "P01/visit-1/with-brace/walk-2",
    }


def test_one_persons_trials_are_those_of_the_study(study, trial_at):
    """Asked of one person, the same trials are known and stale as when asked of all."""
    add_second_person(study)
    with study.write() as connection:
        plant(connection, software_version="0.0.1")
    with study.read() as connection:
        everybody = {kind: known_trials(connection, kind=kind) for kind in ("walk", "standing")}
        for kind, trials in everybody.items():
            for person in ("P01", "P02"):
                own = [trial for trial in trials if trial.person == person]
                assert own and known_trials(connection, kind=kind, person=person) == own
    stale = stale_trials(study)
    assert [one for one, _ in stale] == everybody["walk"]
    assert stale_trials(study, person="P02") == [each for each in stale if each[0].person == "P02"]
    assert stale_trials(study, person="P99") == []
    assert trial_at(study, "P02/visit-1/with-brace/walk-1").person == "P02"
    with pytest.raises(StudyError, match="The study has: P02/visit-1/with-brace/walk-1"):
        trial_at(study, "P02/visit-1/with-brace/walk-9")
    with pytest.raises(StudyError, match="The study has: P01, P02"):
        trial_at(study, "P03/visit-1/with-brace/walk-1")


def add_second_person(study):
    """Give P02 a visit, a condition, a standing trial and a walk like P01's, by rows alone."""
    with study.write() as connection:
        parent = connection.execute(insert(PERSON).values(code="P02")).inserted_primary_key[0]
        for table, key in ((VISIT, "person_id"), (CONDITION, "visit_id")):
            row = connection.execute(select(table)).mappings().first()
            row = {name: value for name, value in row.items() if name != "id"} | {key: parent}
            if table is CONDITION:
                row["code"] = "with-brace"
            parent = connection.execute(insert(table).values(row)).inserted_primary_key[0]
        standing = None
        for kind in ("standing", "walk"):
            query = select(TRIAL).where(TRIAL.c.kind == kind)
            row = dict(connection.execute(query).mappings().first())
            old = row.pop("id")
            row |= {"condition_id": parent, "standing_id": standing, "code": "walk-1"}
            standing = connection.execute(insert(TRIAL).values(row)).inserted_primary_key[0]
        result = dict(
            connection.execute(select(RESULT).where(RESULT.c.trial_id == old)).mappings().one()
        )
        connection.execute(insert(RESULT).values(result | {"trial_id": standing}))
