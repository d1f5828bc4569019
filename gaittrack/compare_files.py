"""The second half of the main job as one call: from files of several conditions to a comparison.

In come the files of each condition, out comes a :class:`FileComparison`: the comparison, every
measured or refused file, and what was set aside. A refused file costs itself only, as long as every
condition has a walk left.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Final

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.judged.family import Affected
from gaittrack.compare.measurement_error.marker_errors import OwnErrors
from gaittrack.compare.typical_values.typical import Population, TypicalRange
from gaittrack.compare.typical_values.typical_curves import TypicalCurve
from gaittrack.compare.walked.questions import QuestionCode
from gaittrack.compare.walked.same_points import NO_STRIDE, not_measured_so
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, Sample, WalkRecord, sample_of
from gaittrack.errors import ComparisonError, GaitTrackError, LayoutError, Problem
from gaittrack.file_comparison import FileComparison
from gaittrack.kinematics.shared import Shared
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.part_names import on_disk
from gaittrack.pipeline import (
    MeasureOptions,
    measure_file,
    measure_files,
    measure_recording,
    read_standing,
)
from gaittrack.plain_files import hash_of
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.trial import Trial
from gaittrack.vocabulary import Side
from gaittrack.walk_records import match_name, walk_records

STANDING_NAME: Final = "standing"
"""A file whose name begins so is quiet standing, not a walk."""


def compare_files(
    conditions: Mapping[str, Sequence[Path]],
    *,
    reference: str,
    options: MeasureOptions | None = None,
    standing: Mapping[str, Path] | None = None,
    events: Mapping[Path, Path] | None = None,
    worn: Mapping[str, Condition] | None = None,
    affected: Affected | None = None,
    aims: Sequence[QuestionCode] = (),
    own_errors: OwnErrors | None = None,
    typical: Population | Mapping[str, TypicalRange] = "adult",
    typical_curves: Sequence[TypicalCurve] = (),
) -> FileComparison:
    """Measure the walks of several conditions and compare them.

    Parameters
    ----------
    conditions : mapping of name to sequence of Path
        Files of each condition; see :func:`gaittrack.pipeline.files_in` for folders. A file whose
        name begins with ``standing``, or in which nobody walks, is not a walk.
    reference : str
        Name of the condition the others are compared with.
    options : MeasureOptions, optional
        What holds for all files; ``standing`` for conditions without their own.
    standing : mapping of name to Path, optional
        Quiet standing of a condition. Without it, the only file of the condition whose name begins
        with ``standing`` is taken.
    events : mapping of Path to Path, optional
        Events tables, by the file they belong to.
    worn : mapping of name to Condition, optional
        What was worn; names need only mean the same (``match_name``).
    aims : sequence of QuestionCode, optional
        Questions that were recorded as aims before the first comparison.
    own_errors : mapping, optional
        The laboratory's own measurement errors.

    Raises
    ------
    ComparisonError
        A condition has no walk left, a walk is given twice, or names do not fit.
    GaitTrackError
        A standing trial or an events table cannot be used.
    ValueError
        As :func:`gaittrack.pipeline.measure_files`.
    """
    chosen = _Chosen(options or MeasureOptions(), dict(standing or {}), dict(events or {}))
    _refuse_unknown_names(chosen.standing, conditions)
    measured = {name: _measure(name, files, chosen) for name, files in conditions.items()}
    for name, one in measured.items():
        _refuse_no_walk(name, one)
    records = tuple(record for one in measured.values() for record in one.records)
    comparison = compare_walks(
        records,
        reference=reference,
        conditions=worn_by(conditions, worn or {}),
        affected=affected,
        aims=aims,
        own_errors=own_errors,
        typical=typical,
        typical_curves=typical_curves,
        again=_Again(measured, chosen).measure,
    )
    files = _file_settings(measured)
    return FileComparison(
        comparison=replace(comparison, settings={**comparison.settings, **files}),
        walks={name: tuple(one.walks) for name, one in measured.items()},
        records=records,
        refused=tuple(refused for one in measured.values() for refused in one.refused),
        problems=tuple(problem for one in measured.values() for problem in one.problems),
    )


def worn_by(names: Iterable[str], worn: Mapping[str, Condition]) -> dict[str, Condition]:
    """Return what was worn in each condition that is described.

    Parameters
    ----------
    names : iterable of str
        Conditions of the comparison.
    worn : mapping of name to Condition
        As described, perhaps under other names of the same meaning.

    Returns
    -------
    dict of name to Condition
        By the names of the comparison.
    """
    found = {name: match_name(name, worn) for name in names}
    return {
        name: worn[described].known_as(name)
        for name, described in found.items()
        if described is not None
    }


def described_standing(worn: Mapping[str, Condition], folder: Path) -> dict[str, Path]:
    """Return the standing trials that a description of conditions names.

    Parameters
    ----------
    folder : Path
        Folder of the description; paths in it are relative to it.

    Raises
    ------
    LayoutError
        A file that is named is not there.
    """
    found = {
        name: folder / condition.standing_trial
        for name, condition in worn.items()
        if condition.standing_trial
    }
    for name, path in found.items():
        if not path.is_file():
            raise LayoutError.of(
                "no_file", where=f"conditions.{name} standing_trial", path=readable(path)
            )
    return found


@dataclass(frozen=True, slots=True)
class _Chosen:
    options: MeasureOptions
    standing: dict[str, Path]
    events: dict[Path, Path]


@dataclass(frozen=True, eq=False, slots=True)
class _Again:
    """Measures walks again, from the trials that were read, on what they share."""

    measured: Mapping[str, MeasuredCondition]
    chosen: _Chosen

    def measure(self, walks: Sequence[WalkRecord], shared: Shared) -> list[WalkRecord]:
        found: dict[str, WalkRecord] = {}
        refused: dict[str, str] = {}
        for name in dict.fromkeys(walk.condition for walk in walks):
            for result in self._results(name, shared):
                if isinstance(result, RefusedFile):
                    refused[str(result.sha256)] = result.error.what
                else:
                    found |= {each.walk_id: each for each in walk_records(result, name)}
        return [
            found.get(walk.walk_id)
            or not_measured_so(walk, refused.get(walk.sha256, Reason(NO_STRIDE)))
            for walk in walks
        ]

    def _results(self, name: str, shared: Shared) -> Iterator[Result]:
        one = self.measured[name]
        standing = one.standing if shared.uses_standing else None
        options = replace(self.chosen.options, standing=standing, events_csv=None)
        given = [replace(options.recording(walk.path), shared=shared) for walk in one.walks]
        still = read_standing(given[0])
        for recording, walk in zip(given, one.walks, strict=True):
            yield measure_recording(recording, trial=partial(_itself, walk.trial), standing=still)


def _itself(trial: Trial) -> Trial:
    return trial


@dataclass(eq=False, slots=True)
class MeasuredCondition:
    """The files of one condition, sorted out.

    Attributes
    ----------
    standing : Path or None
        Standing trial in use.
    records : list of WalkRecord
        The walks in them.
    """

    standing: Path | None
    walks: list[MeasuredWalk]
    records: list[WalkRecord]
    refused: list[RefusedFile]
    not_walks: list[Path]
    problems: list[Problem]

    def samples(self) -> Iterator[tuple[str, Side, Sample]]:
        """Yield measure, side and walk values, where there are any."""
        for measure, side in dict.fromkeys(key for each in self.records for key in each.tables):
            tables = [
                each.tables[measure, side]
                for each in self.records
                if (measure, side) in each.tables
            ]
            sample = sample_of(tables, MEASURE_BY_NAME[measure])
            if sample.n_walks:
                yield measure, side, sample


def is_standing(path: Path) -> bool:
    """Tell whether a file is quiet standing by its name."""
    return path.name.lower().startswith(STANDING_NAME)


def measure_condition(
    name: str, files: Sequence[Path], *, options: MeasureOptions
) -> MeasuredCondition:
    """Measure the files of one condition.

    Parameters
    ----------
    files : sequence of Path
        Standing trials and walks.

    Raises
    ------
    ComparisonError
        No walk is left.
    GaitTrackError
        The standing trial cannot be used.
    """
    found = _measure(name, files, _Chosen(options, {}, {}))
    _refuse_no_walk(name, found)
    return found


def _measure(name: str, files: Sequence[Path], chosen: _Chosen) -> MeasuredCondition:
    candidates = [path for path in files if is_standing(path)]
    problems: list[Problem] = []
    standing = chosen.standing.get(name) or chosen.options.standing
    if standing is None and len(candidates) == 1:
        standing = candidates[0]
        problems.append(Problem("info", Reason("standing_found", file=readable(standing)), name))
    elif standing is None and candidates:
        problems.append(_several_standing(name, candidates))
    found = MeasuredCondition(standing, [], [], [], list(candidates), problems)
    for result in _results([path for path in files if path not in candidates], standing, chosen):
        _sort_in(result, name, found)
    return found


def _several_standing(name: str, candidates: Sequence[Path]) -> Problem:
    return Problem(
        "warning",
        Reason(
            "several_standing",
            n=len(candidates),
            names=tuple(readable(path.name) for path in candidates),
        ),
        name,
    )


def _results(files: Sequence[Path], standing: Path | None, chosen: _Chosen) -> Iterable[Result]:
    options = replace(chosen.options, standing=standing)
    tables = {path.resolve(): table for path, table in chosen.events.items()}
    plain = [path for path in files if path.resolve() not in tables]
    measured = measure_files(plain, options)
    for path in files:
        table = tables.get(path.resolve())
        if table is None:
            yield next(measured)
        else:
            yield measure_file(path, replace(options, events_csv=table))


def _sort_in(result: Result, name: str, found: MeasuredCondition) -> None:
    if isinstance(result, RefusedFile):
        found.refused.append(result)
        return
    is_walk = any(cycle.is_kept for cycle in result.cycles)
    try:
        records = walk_records(result, name) if is_walk else []
    except ComparisonError as error:
        found.refused.append(RefusedFile(result.path, result.trial.provenance.sha256, error))
        return
    if not records:
        found.not_walks.append(result.path)
        found.problems.append(_nobody_walks(result))
        return
    found.walks.append(result)
    found.records += records
    found.problems += [
        replace(problem, where=_place(result, problem))
        for problem in result.problems
        if problem.level != "info"
    ]


def _place(result: MeasuredWalk, problem: Problem) -> str:
    path = readable(result.path)
    return path if problem.where in ("", result.path.name) else f"{path}: {problem.where}"


def _nobody_walks(result: MeasuredWalk) -> Problem:
    reasons = dict.fromkeys(reason for cycle in result.cycles for reason in cycle.reject_reasons)
    reason = Reason("nobody_walks")
    if reasons:
        reason = Reason("no_cycle_kept_here", reasons=tuple(reasons))
    return Problem("warning", reason, readable(result.path))


def _refuse_unknown_names(standing: Mapping[str, Path], names: Iterable[str]) -> None:
    for name in standing:
        if name not in (known := list(names)):
            raise ComparisonError.of(
                "standing_trial_given_no_walks", where="standing", name=name, known=", ".join(known)
            )


def _refuse_no_walk(name: str, measured: MeasuredCondition) -> None:
    if measured.records:
        return
    refusals = [f"{readable(each.path.name)}: {each.error.what}" for each in measured.refused]
    aside = [f"{readable(path.name)}: not a walk" for path in measured.not_walks]
    raise ComparisonError.of(
        "no_walk_can_used", where="; ".join([*refusals, *aside]) or name, name=name
    )


def _file_settings(measured: Mapping[str, MeasuredCondition]) -> dict[str, Any]:
    return {
        "standing": {
            name: None if one.standing is None else _named(one.standing)
            for name, one in measured.items()
        },
        "refused": [
            {"condition": name, **_refusal(each)}
            for name, one in measured.items()
            for each in one.refused
        ],
        "not_walks": [
            {"condition": name, "file": readable(path.name)}
            for name, one in measured.items()
            for path in one.not_walks
            if path != one.standing
        ],
    }


def _refusal(refused: RefusedFile) -> dict[str, Any]:
    error: GaitTrackError = refused.error
    return {"file": readable(refused.path.name), "sha256": refused.sha256, "why": str(error)}


def _named(path: Path) -> dict[str, str]:
    return {"file": readable(path.name), "sha256": hash_of(on_disk(path))}
