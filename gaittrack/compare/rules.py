"""All rules and figures that a change is judged by, as one stamp.

Nothing comes in, out goes a hash: results that are kept hold as long as it stays the same.
"""

from __future__ import annotations

import hashlib
from functools import cache

from gaittrack.compare.certainty import ALPHA
from gaittrack.compare.holm import AIMS_SHARE
from gaittrack.compare.levels import LEAST_WALKS
from gaittrack.compare.marker_errors import FIGURES
from gaittrack.compare.questions import QUESTIONS
from gaittrack.compare.typical import POPULATIONS, typical_ranges
from gaittrack.compare.watch import INTERVAL_SIGNS, LIMIT_SIGNS


@cache
def stamp_of_rules() -> str:
    """Return another hash after any change of a question, an error, a range or a sign."""
    ranges = [typical_ranges(each) for each in POPULATIONS]
    rules = (ALPHA, AIMS_SHARE, LEAST_WALKS, FIGURES, QUESTIONS, ranges)
    signs = (LIMIT_SIGNS, INTERVAL_SIGNS)
    return hashlib.sha256(repr((*rules, *signs)).encode()).hexdigest()
