"""Each kind of correction has one form in the table, and comes back from it."""

from typing import get_args

import pytest
from sqlalchemy import insert, select

from gaittrack import corrected
from gaittrack.corrected import Change
from gaittrack.pipeline import chain
from gaittrack.study.correction_rows import KINDS, change_of, row_of
from gaittrack.study.results.keeping import recompute
from gaittrack.study.tables import CORRECTION, EVENT, RESULT
from gaittrack.trial import EventId
from tests import correcting
from tests.study.conftest import WALK

BY = {"who": "Ada", "why": "seen in the film"}
CONTACT = EventId("left", "initial_contact", 1230)
ONE_EACH = (
    corrected.MoveEvent(CONTACT, 1.27, "late"),
    corrected.AddEvent("right", "toe_off", 2.345, "missing"),
    corrected.DeleteEvent(CONTACT, "a scuff"),
    corrected.ExcludeStride("left", 0.8637731123219906, None, "stumbled"),
    corrected.ExcludeStride("right", 0.0, "03", "another shoe"),
    corrected.ExcludeWalk("carried a bag"),
    corrected.TurnAngle("ankle", "upside down"),
    corrected.KeepAngle("knee", "a stiff knee"),
    corrected.SwapSides("exchanged"),
    corrected.MapLandmark("left_heel", "M1", "renamed"),
    corrected.LookedAt("fine"),
)


def test_every_kind_is_among_them():
    """A kind without a row is noticed."""
    assert set(KINDS) == {type(each) for each in ONE_EACH} == set(get_args(Change))


@pytest.mark.parametrize(
    "change", ONE_EACH, ids=lambda change: f"{KINDS[type(change)]} {change.reason}"
)
def test_a_change_comes_back_from_its_row(change):
    """Its row has a value in the columns of its kind only, all of which the table has."""
    row = row_of(change)
    assert set(row) == set(CORRECTION.c.keys()) - {"id", "trial_id", "is_undone"}
    assert change_of(row) == change


@pytest.mark.parametrize(
    "change", ONE_EACH, ids=lambda change: f"{KINDS[type(change)]} {change.reason}"
)
def test_the_other_side_of_the_other_side_is_the_same(change):
    """Sides are called the other way round, and back."""
    other = corrected.on_other_side(change)
    assert corrected.on_other_side(other) == change
    of_both = corrected.SwapSides | corrected.LookedAt | corrected.ExcludeWalk
    has_side = not isinstance(change, of_both | corrected.TurnAngle | corrected.KeepAngle)
    assert (other != change) == has_side


def numbers(study, trial):
    with study.read() as connection:
        return connection.execute(
            select(RESULT.c.numbers, RESULT.c.cycles).where(RESULT.c.trial_id == trial.id)
        ).one()


def test_a_row_that_names_an_event_by_its_exact_time_keeps_its_effect(study, trial_at):
    """Rows that were kept before events had ids: the same event moves to the same place."""
    trial = trial_at(study)
    mine = (EVENT.c.trial_id == trial.id, EVENT.c.side == "left", EVENT.c.kind == CONTACT.kind)
    with study.read() as connection:
        time_s = connection.execute(
            select(EVENT.c.time_s).where(*mine).order_by(EVENT.c.time_s).offset(1).limit(1)
        ).scalar()
    assert time_s != round(time_s, 3)
    correcting.move_event(study, trial, "left", CONTACT.kind, time_s, time_s + 0.031, **BY)
    after = numbers(study, trial)
    correcting.undo_correction(study, trial_at(study), 1, **BY)
    assert numbers(study, trial) != after
    row = {"trial_id": trial.id, "kind": "move_event", "side": "left", "is_undone": False}
    row |= {"event_kind": CONTACT.kind, "time_s": time_s, "new_time_s": time_s + 0.031}
    with study.write() as connection:
        connection.execute(insert(CORRECTION).values(**row, reason="kept long ago"))
    list(recompute(study, [trial_at(study)], who="Ada"))
    assert numbers(study, trial) == after


@pytest.mark.parametrize(
    ("name", "given"),
    [("map_landmark", ("left_knee", "right knee")), ("exclude_stride", ("left-01",))],
)
def test_a_correction_reads_its_file_once(study, trial_at, monkeypatch, name, given):
    """What is asked of the file before measuring it, and measuring it, is one reading."""
    read, walks = chain.read_trial, []

    def counted(path, **options):
        walks.append(path.name)
        return read(path, **options)

    monkeypatch.setattr(chain, "read_trial", counted)
    getattr(correcting, name)(study, trial_at(study, WALK), *given, **BY)
    assert walks.count("walk-1.c3d") == 1
