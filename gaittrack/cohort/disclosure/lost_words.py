"""Say what an export loses so that nobody stands out.

In comes the table of what was lost, out come lines for people.
"""

from __future__ import annotations

from typing import Final

import pandas as pd

from gaittrack.cohort.disclosure.protection import LOST
from gaittrack.record.registry import FACTS, LEG
from gaittrack.record.wording import fact_label

EXACT_VALUES: Final = (
    "Measured values are exact: by them the rows of two releases can be put together, and a person "
    "who has the values elsewhere can be found."
)
"""What no withholding changes; told before an export is written, and in it."""
_SAID: Final = {
    LOST[0]: "left out, because too few have the same side affected",
    LOST[1]: "later visits left out, because too few have so many",
    LOST[2]: "in coarser bands",
    LOST[3]: "withheld",
}
_OWN: Final = {"brace_classes": "classes of braces", "age_band": "age"}


def lost_lines(lost: pd.DataFrame) -> list[str]:
    """Return one line for each way in which something was lost.

    Parameters
    ----------
    lost : DataFrame
        From ``Protection.lost``.
    """
    lines = []
    for way, said in _SAID.items():
        own = lost[lost["lost"] == way]
        if own.empty:
            continue
        if way in LOST[:2]:
            number = int(own["n_people"].iloc[0])
            lines.append(f"{said}: {number} {'person' if number == 1 else 'people'}")
            continue
        names = zip(own["fact"], own["n_people"], strict=True)
        each = "; ".join(f"{_label(name)} ({number})" for name, number in names)
        lines.append(f"{said}, with the number of people: {each}")
    return lines


def _label(name: str) -> str:
    if name in _OWN:
        return _OWN[name]
    lines = {**LEG, **FACTS["condition"], **FACTS["visit"], **FACTS["person"]}
    return fact_label(lines[name])
