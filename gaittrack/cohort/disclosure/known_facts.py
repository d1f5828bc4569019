"""What of each person stands in an export and can be known from elsewhere: which facts, what words.

In come values of facts, out come their words, as fine or as coarse as bands are joined. Measured
results, as walks, tests and scales, are not among the facts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from gaittrack.cohort.people.leaving import (
    AGE_STARTS,
    BANDED_IN_EXPORTS,
    BANDS,
    OF_CONDITION,
    OF_LEG,
    OF_VISIT,
    band_of,
)
from gaittrack.record.published_errors import OUTCOMES
from gaittrack.record.registry import band_words, ladder_of
from gaittrack.record.wording import NOT_RECORDED

CORE: Final = ("sex", "cause", "age_band", "brace_classes")
"""Known to whoever met a person: told apart by all of them together."""
ANCHORS: Final = ("affected_side", "n_visits")
"""Likewise, but no table can do without: rows are left out in their place."""
_COUNTED: Final = {
    name: fact
    for facts in (OF_CONDITION, OF_VISIT)
    for name, fact in facts.items()
    if fact.counts and name not in ("orthosis_class", "age_band")
}
SEEN: Final = tuple(_COUNTED)
"""What others can see or ask: told apart by any three of all that is known."""
EXAMINED: Final = tuple(
    name
    for facts in (OF_VISIT, OF_LEG, OF_CONDITION)
    for name, fact in facts.items()
    if not fact.counts
    and (fact.step or fact.kind not in ("number", "repeats", "ratings"))
    and name not in (*OUTCOMES, "orthosis", "order", "kind")
)
"""What is found by examining and asking: rare values are counted one by one."""
_STARTS: Final[Mapping[str, tuple[float, ...]]] = {
    "age_band": AGE_STARTS,
    **{name: fact.bands for facts in (BANDS, BANDED_IN_EXPORTS) for name, fact in facts.items()},
}


def word_of_value(name: str, value: Any) -> str:
    """Return the word that an export shows of a value; empty where nothing is recorded."""
    if value is None or value != value or value == NOT_RECORDED:
        return ""
    if name in BANDED_IN_EXPORTS and not isinstance(value, str):
        return band_of(value, BANDED_IN_EXPORTS[name].bands)
    return str(value)


def coarser(name: str, step: int) -> dict[str, str]:
    """Return what the bands of a fact are called when every ``2**step`` of them are one.

    Returns
    -------
    dict of word to word
        Empty for the finest bands, and for what has no bands.
    """
    starts = _STARTS.get(name, ())
    ladder = ladder_of(starts) if starts else ()
    if not 0 < step < len(ladder):
        return {}
    wide = band_words(ladder[step])
    return {word: wide[place >> step] for place, word in enumerate(band_words(starts))}


def n_steps(name: str) -> int:
    """Return how many ladders of bands a fact has; 1 for what has none."""
    return len(ladder_of(_STARTS[name])) if name in _STARTS else 1


def columns_that_say(name: str) -> Sequence[str]:
    """Return the columns from which a fact can be read."""
    return ("brace_classes", "orthosis_class") if name == "brace_classes" else (name,)
