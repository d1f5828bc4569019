"""Measure both conditions again where their values come from different points.

In comes a pair of conditions, out comes the same pair: what was made otherwise in one of them is
measured again on what both have, or is told to be of other points.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from gaittrack.compare.fair.fairness import Group
from gaittrack.compare.fair.pair import Pair, Samples, samples_of
from gaittrack.compare.walked.same_points import (
    Again,
    Key,
    Made,
    left_out,
    made_otherwise,
    measured_again,
    shared_by,
    why_other_points,
)
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.reasons import Reason


def on_same_points(pair: Pair, keys: Iterable[Key], again: Again | None) -> Pair:
    """Return a pair whose values of one measure all come from the same points.

    Parameters
    ----------
    keys : iterable of (measure, side)
        Those that are compared.
    again : callable or None
        Measures walks again; see ``Again``.
    """
    walks = (*pair.reference.walks, *pair.own.walks)
    found = {key: made_otherwise(walks, key) for key in keys}
    differing = {key: made for key, made in found.items() if made}
    if not differing:
        return pair
    own, reference = _again(pair, walks, differing, again)
    samples = samples_of(own.walks), samples_of(reference.walks)
    labels: dict[Key, tuple[Reason, ...]] = {}
    others: dict[Key, Reason] = {}
    for key, made in differing.items():
        if _is_same(own, reference, samples, key):
            every = (*reference.walks, *own.walks)
            labels[key] = measured_again(every, key, made), *left_out(every, key)
        elif why := why_other_points(pair.own.walks, pair.reference.walks, key):
            others[key] = why
    return replace(
        pair,
        own_samples={**pair.own_samples, **{key: samples[0][key] for key in labels}},
        reference_samples={**pair.reference_samples, **{key: samples[1][key] for key in labels}},
        other_points=others,
        again=labels,
    )


def _again(
    pair: Pair, walks: Sequence[WalkRecord], differing: Mapping[Key, Made], again: Again | None
) -> tuple[Group, Group]:
    """Return both groups measured again."""
    made = again(walks, shared_by(walks, differing.values())) if again is not None else ()
    groups = [
        replace(group, walks=tuple(walk for walk in made if walk.condition == group.name))
        for group in (pair.own, pair.reference)
    ]
    return groups[0], groups[1]


def _is_same(own: Group, reference: Group, samples: tuple[Samples, Samples], key: Key) -> bool:
    has_values = all(key in each and each[key].n_walks for each in samples)
    return has_values and not made_otherwise((*own.walks, *reference.walks), key)
