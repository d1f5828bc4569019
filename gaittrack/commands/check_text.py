"""What is in a file as text for a terminal.

In comes a measured walk, out come what was recorded, which landmarks were found, what cannot be
measured and why, events by source with their disagreement, cycles and problems.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from gaittrack.commands.walk_text import cycle_name, title_line, wrapped
from gaittrack.compare.row_words import number
from gaittrack.contents import marker_lines, missing_points, not_measured
from gaittrack.kinematics import LabAxes
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.readable_names import readable
from gaittrack.trial import Event
from gaittrack.vocabulary import EVENT_KINDS, EVENT_SOURCES, SIDES

_LONGEST_LIST: Final = 12


def check_text(walk: MeasuredWalk) -> str:
    """Return what is in a file, as text."""
    sections = {
        "file": _file(walk),
        "landmarks": _landmarks(walk),
        "cannot be measured": _not_measured(walk),
        "events": _events(walk),
        "cycles": _cycles(walk),
        "problems": [f"{p.level}: {p.where}: {p.what} {p.action}".rstrip() for p in walk.problems],
    }
    lines = [readable(walk.path)]
    for title, entries in sections.items():
        lines.append(f"{title}:")
        lines += [wrapped(entry, indent="  ") for entry in entries] or ["  none"]
    return "\n".join(lines)


def _file(walk: MeasuredWalk) -> Iterator[str]:
    trial = walk.trial
    yield title_line(walk)
    yield f"sha256 {trial.provenance.sha256}"
    if trial.provenance.day:
        yield f"recorded on {trial.provenance.day}, as the file says"
    if trial.provenance.device:
        yield f"recorded with {', '.join(trial.provenance.device)}, as the file says"
    if trial.first_frame != 1:
        yield f"first stored frame: {trial.first_frame}; times count from it"
    if trial.markers:
        flat = ", a side view" if trial.n_dimensions == 2 else ""
        yield f"{len(trial.markers)} markers{flat}"
    if trial.angles:
        yield "joint angles over time: " + _angle_list(list(trial.angles))
    if trial.curves:
        cycles = {(curve.side, curve.cycle, curve.condition) for curve in trial.curves}
        yield f"joint angles over 0-100 % of {len(cycles)} cycles: " + _angle_list(
            [(curve.side, curve.joint) for curve in trial.curves]
        )
    for plate in trial.plates:
        yield f"force {plate.name} at {plate.rate_hz:g} Hz"
    if walk.motion.axes is not None:
        yield _axes(walk.motion.axes)
    for side, neutral in walk.motion.neutral.items():
        reason = f" ({neutral.reason})" if neutral.reason else ""
        yield f"zero of the {side} foot: {neutral.source}{reason}"
    yield f"smoothing: {walk.motion.smoothing}"
    yield from (f"step: {step}" for step in trial.provenance.steps)


def _angle_list(keys: Sequence[tuple[str, str]]) -> str:
    return ", ".join(f"{side} {joint}" for side, joint in dict.fromkeys(keys))


def _axes(axes: LabAxes) -> str:
    n_passes = int(axes.pass_number.max(initial=0))
    where = f"treadmill at {axes.belt_speed_m_s:.2f} m/s" if axes.is_treadmill else "overground"
    return f"up is {axes.up_axis}; {n_passes} straight pass{'es' if n_passes != 1 else ''}; {where}"


def _landmarks(walk: MeasuredWalk) -> Iterator[str]:
    motion = walk.motion
    if not walk.trial.markers:
        return
    for key, label in motion.landmark_labels.items():
        yield f"{key} = {label}"
    used = set(motion.landmark_labels.values())
    unused = [label for label in walk.trial.markers if label not in used]
    if unused:
        yield f"markers without a landmark: {', '.join(unused)}"
    yield from marker_lines(motion.markers)
    for missing in missing_points(walk):
        yield f"missing: {', '.join(missing.names)}: needed for {missing.serves}"


def _not_measured(walk: MeasuredWalk) -> Iterator[str]:
    """Give the measures that no kept cycle of a side shows, by reason."""
    for one in not_measured(walk):
        yield f"{one.side}: {one.reason}: {', '.join(one.titles) or 'nothing'}"


def _events(walk: MeasuredWalk) -> Iterator[str]:
    chosen = Counter(event.source for event in walk.events.events)
    for source in EVENT_SOURCES:
        events = walk.events.by_source.get(source, ())
        if events:
            yield f"from {source}: {_event_counts(events)}; {chosen[source]} used"
    differences = walk.events.disagreements
    if differences:
        largest_ms = 1000 * max(abs(one.difference_s) for one in differences)
        yield f"{len(differences)} seen by two sources; largest difference {largest_ms:.0f} ms"
    for one in sorted(differences, key=lambda d: -abs(d.difference_s))[:_LONGEST_LIST]:
        yield (
            f"{one.side} {one.kind.replace('_', ' ')} at {one.time_s:.3f} s: {one.other_source} "
            f"differs from {one.source} by {1000 * one.difference_s:+.0f} ms"
        )


def _event_counts(events: Sequence[Event]) -> str:
    counts = Counter((event.side, event.kind) for event in events)
    return ", ".join(
        f"{counts[side, kind]} {side} {kind.replace('_', ' ')}"
        for side in SIDES
        for kind in EVENT_KINDS
        if counts[side, kind]
    )


def _cycles(walk: MeasuredWalk) -> Iterator[str]:
    for cycle in walk.cycles:
        words = [f"{cycle.contact} contact" if cycle.contact != "unknown" else "contact unknown"]
        if not math.isnan(cycle.speed_m_s):
            words.append(f"{number(cycle.speed_m_s, 2)} m/s")
        words += [f"rejected: {reason}" for reason in cycle.reject_reasons] or ["kept"]
        words += [f"to review: {reason}" for reason in cycle.review_reasons]
        yield f"{cycle_name(cycle)}: {'; '.join(words)}"
