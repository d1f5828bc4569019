"""How an export was made, in clear: versions, selection, rules, cut-offs, errors, reference values.

In come the options of an export and what the laboratory has set, out come plain values.
"""

from __future__ import annotations

import platform
from dataclasses import asdict
from importlib.metadata import version
from typing import Any, Final

from gaittrack import __version__
from gaittrack.cohort.disclosure.counted_facts import Everybody
from gaittrack.cohort.disclosure.known_facts import ANCHORS, CORE, EXAMINED, SEEN
from gaittrack.cohort.disclosure.looking_alike import MOST_LOST
from gaittrack.cohort.disclosure.protection import DAYS_STEP, Release
from gaittrack.cohort.disclosure.shared_words import TOGETHER
from gaittrack.compare.fair.fairness import LEAST_STRIDES, LEAST_WALKS
from gaittrack.compare.rules import plain, rules_in_clear
from gaittrack.kinematics.smoothing import ANGLE_CUTOFF_HZ, RATE_CUTOFF_HZ

_PARTS: Final = ("numpy", "scipy", "pandas", "ezc3d", "pyarrow")


def method_of(
    everybody: Everybody, *, release: Release, least: int, selection: Any, reason: str
) -> dict[str, Any]:
    """Return how an export is made.

    Parameters
    ----------
    everybody : Everybody
        Carries the laboratory's own errors and reference values.
    selection : Selection
        Of people and visits.
    reason : str
        To show whoever stands out; empty where nobody does.
    """
    return {
        "versions": {
            "gaittrack": __version__,
            "python": platform.python_version(),
            **{name: version(name) for name in _PARTS},
        },
        "selection": {key: list(own) for key, own in asdict(selection).items() if own},
        "protection": {
            "release": release,
            "fewest_people_alike": least,
            "alike_in_all_of": [*CORE, *ANCHORS],
            "alike_in_any": {"number": TOGETHER, "of": [*CORE, *ANCHORS, *SEEN]},
            "alike_in_each_of": list(EXAMINED),
            "bands_are_joined_beyond_a_loss_of": MOST_LOST,
            "days_rounded_to": DAYS_STEP[release],
            "reason_to_show_who_stands_out": reason,
        },
        "cut_offs_hz": {
            "angles_and_clearance": ANGLE_CUTOFF_HZ,
            "loading_response_rate": RATE_CUTOFF_HZ,
        },
        "fewest": {"walks": LEAST_WALKS, "strides": LEAST_STRIDES},
        "rules": rules_in_clear(),
        "own_errors": plain(everybody.own_errors or {}),
        "own_reference_values": plain(everybody.typical or {}),
    }
