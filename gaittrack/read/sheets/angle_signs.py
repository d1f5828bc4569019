"""Settle the signs of a file's angles as a person says, and look at the angles again.

In come a trial and the joints whose sign somebody answered for, out comes the trial with those
angles turned or kept, without the doubts that were answered, and with what the checks say now.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Final

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import file_angle_of
from gaittrack.lab_map import LabMap
from gaittrack.read.sheets.angle_phase import PHASE_CODES, curve_phase_problems, marked_cycles
from gaittrack.read.sheets.angle_phase import phase_problems as series_phase_problems
from gaittrack.read.sheets.ankle_votes import stance_vote
from gaittrack.reasons import Reason
from gaittrack.trial import Trial, with_step
from gaittrack.vocabulary import SIDES, Joint

_DOUBTS: Final[Mapping[str, tuple[Joint, ...]]] = {
    "plantarflexion_positive": ("ankle",),
    "knee_flexion_negative": ("knee",),
    "hip_mostly_extended": ("hip_pelvis_thigh", "hip_thigh_vertical"),
}
"""What a check suspects of a sign, and of which angles it may be said."""


def joint_in_doubt(problem: Problem) -> Joint | None:
    """Return the angle whose sign a problem doubts and leaves as it is; None for any other."""
    given = dict(problem.reason.parameters)
    doubt = given.get("doubt")
    joints = _DOUBTS.get(doubt.code, ()) if isinstance(doubt, Reason) else ()
    spoiled = {name for each in problem.spoils for name in each.ingredients}
    named = (j for j in joints if any(file_angle_of(side, j) in spoiled for side in SIDES))
    return next(named, next(iter(joints), None))


def settle_signs(trial: Trial, *, turned: Collection[Joint], kept: Collection[Joint]) -> Trial:
    """Return a trial with the signs that a person settled.

    Parameters
    ----------
    turned, kept : collections of Joint
        Angles of the file that get the other sign on both sides, and those that are right.
    """
    if not turned and not kept:
        return trial
    trial = replace(
        trial,
        angles={
            key: replace(signal, values=-signal.values) if key[1] in turned else signal
            for key, signal in trial.angles.items()
        },
        curves=tuple(
            replace(one, values_deg=-one.values_deg) if one.joint in turned else one
            for one in trial.curves
        ),
        problems=tuple(
            problem
            for problem in trial.problems
            if joint_in_doubt(problem) not in {*turned, *kept}
            and problem.reason.code not in PHASE_CODES
        ),
    )
    said = [f"sign of the {joint} turned by a person" for joint in turned]
    said += [f"sign of the {joint} found right by a person" for joint in kept]
    return with_step(trial, "; ".join(said), *_phase_problems(trial))


def doubts_between_events(trial: Trial, maps: Collection[LabMap] = ()) -> tuple[Problem, ...]:
    """Return what the angles of a sheet say against events that were given with it.

    Parameters
    ----------
    maps : collection of LabMap
        An ankle whose column one of them names has the sign that somebody told.
    """
    if trial.markers or not trial.angles:
        return ()
    columns = [each for lab_map in maps for each in lab_map.sheet.columns]
    told = {each.side for each in columns if each.name in trial.provenance.columns}
    cycles = marked_cycles(trial.events, trial.rate_hz)
    ankles = [side for side in SIDES if (side, "ankle") in trial.angles and cycles.get(side)]
    votes = [stance_vote(trial.angles[side, "ankle"].values, cycles[side]) for side in ankles]
    problems = _phase_problems(trial)
    if votes and all(vote < 0 for vote in votes) and not told.intersection(ankles):
        spoils = (Spoiled(*(file_angle_of(side, "ankle") for side in ankles)),)
        looks = Reason("on_looking", doubt=Reason("plantarflexion_positive"))
        problems.insert(0, Problem("warning", looks, "ankle", spoils))
    return tuple(problems)


def _phase_problems(trial: Trial) -> list[Problem]:
    if trial.curves:
        return curve_phase_problems(trial.curves)
    values = {key: signal.values for key, signal in trial.angles.items()}
    return series_phase_problems(values, marked_cycles(trial.events, trial.rate_hz))
