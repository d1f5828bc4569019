"""One correction of a trial in one line, as a person makes it: look, name, correct."""

from gaittrack.corrected import (
    AddEvent,
    DeleteEvent,
    LookedAt,
    MapLandmark,
    MoveEvent,
    SwapSides,
    Undo,
)
from gaittrack.study.corrections.looking import look_at
from gaittrack.study.corrections.making import correct


def move_event(study, trial, side, kind, time_s, new_time_s, *, who, why):
    """Move the event near a time."""
    look = look_at(study, trial)
    event = look.event_near(side, kind, time_s)
    return correct(study, look, MoveEvent(event, new_time_s, why), who=who)


def add_event(study, trial, side, kind, time_s, *, who, why):
    """Add an event."""
    return correct(study, look_at(study, trial), AddEvent(side, kind, time_s, why), who=who)


def delete_event(study, trial, side, kind, time_s, *, who, why):
    """Take out the event near a time."""
    look = look_at(study, trial)
    return correct(study, look, DeleteEvent(look.event_near(side, kind, time_s), why), who=who)


def exclude_stride(study, trial, cycle, *, who, why):
    """Leave a stride out."""
    look = look_at(study, trial)
    return correct(study, look, look.stride(cycle, reason=why), who=who)


def swap_trial_sides(study, trial, *, who, why):
    """Let left and right change places."""
    return correct(study, look_at(study, trial), SwapSides(why), who=who)


def map_landmark(study, trial, landmark, label, *, who, why):
    """Say which label a landmark is."""
    return correct(study, look_at(study, trial), MapLandmark(landmark, label, why), who=who)


def confirm_trial(study, trial, *, who, why):
    """Say that a trial is right."""
    return correct(study, look_at(study, trial), LookedAt(why), who=who)


def undo_correction(study, trial, number, *, who, why):
    """Undo a correction."""
    return correct(study, look_at(study, trial), Undo(number, why), who=who)
