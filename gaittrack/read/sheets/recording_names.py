"""What columns are called that say whose, or which recording, a row is of.

In comes a column's name, out goes whether it is such a column. Common words in nine languages, no
source.
"""

from __future__ import annotations

import re
from typing import Final

_NUMBERED: Final = r"(?:[ _.-]?(?:id|nr|no|number|num|code|name|#))?"
_PEOPLE: Final = re.compile(
    r"(?:subjects?|subj|persons?|patients?|pat|participants?|proband(?:in)?|sujet|sujeto|soggetto"
    rf"|paziente|paciente|persoon|deelnemer|deltag(?:er|are)){_NUMBERED}"
)
_TRIALS: Final = re.compile(
    r"(?:trials?|walks?|recordings?|files?|file ?name|filename|runs?|versuch|messung|aufnahme|datei"
    r"|essai|enregistrement|fichier|prova|prueba|ensayo|registro|fors(?:ø|ö)(?:g|k)|opname|meting)"
    rf"{_NUMBERED}"
)


def names_people(label: str) -> bool:
    """Whether a column says whose a row is."""
    return _PEOPLE.fullmatch(label.lower()) is not None


def names_trials(label: str) -> bool:
    """Whether a column says of which recording a row is."""
    return _TRIALS.fullmatch(label.lower()) is not None
