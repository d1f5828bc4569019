"""All rules and figures that a change is judged by, as one stamp.

Nothing comes in, out goes a hash: results that are kept hold as long as it stays the same.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from gaittrack.compare.intervals.certainty import ALPHA
from gaittrack.compare.intervals.holm import AIMS_SHARE
from gaittrack.compare.intervals.levels import LEAST_WALKS
from gaittrack.compare.judged.watch import INTERVAL_SIGNS, LIMIT_SIGNS
from gaittrack.compare.measurement_error.marker_errors import FIGURES
from gaittrack.compare.typical_values.typical import POPULATIONS, typical_ranges
from gaittrack.compare.walked.questions import QUESTIONS


@cache
def stamp_of_rules() -> str:
    """Return another hash after any change of a question, an error, a range or a sign."""
    ranges = [typical_ranges(each) for each in POPULATIONS]
    rules = (ALPHA, AIMS_SHARE, LEAST_WALKS, FIGURES, QUESTIONS, ranges)
    signs = (LIMIT_SIGNS, INTERVAL_SIGNS)
    return hashlib.sha256(repr((*rules, *signs)).encode()).hexdigest()


def rules_in_clear() -> dict[str, Any]:
    """Return the rules as plain values, by name: what stands behind the stamp."""
    return {
        "level": ALPHA,
        "share_of_the_level_for_aims": AIMS_SHARE,
        "fewest_walks": LEAST_WALKS,
        "questions": plain(QUESTIONS),
        "signs_by_limit": plain(LIMIT_SIGNS),
        "signs_by_interval": plain(INTERVAL_SIGNS),
        "typical_ranges": {each: plain(typical_ranges(each)) for each in POPULATIONS},
        "stamp": stamp_of_rules(),
    }


def plain(value: Any) -> Any:
    """Return values that JSON takes: facts of a class by name, None for what is no number."""
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, str | int | float | bool | None) else str(value)
