"""Lines above a table's header: keys and values about the recording.

In come the rows above the header; out go rate, unit, side, day, device and row count, where a line
spells them. Nothing else of these lines is kept: they may hold a person's name.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any

from gaittrack.errors import Problem, TruncatedFileError
from gaittrack.part_names import person_key
from gaittrack.read.tables.number_cells import is_number, is_text, to_number
from gaittrack.read.tables.row_splitting import Rows
from gaittrack.reasons import Reason
from gaittrack.said_days import said_day
from gaittrack.vocabulary import Side

_RATE = re.compile(
    r"(?:data|camera|frame|sampling|sample|capture|recording|point|marker)?(?:rate|freq(?:uency)?)"
    r"(?:hz|fps)?|framespersecond|samplespersecond|fs|fps|trajectories|modeloutputs"
    r"|(?:abtast|aufnahme|mess|bild|sampling|optage|opptaks|mal|mat|meet|bemonsterings|opname)?"
    r"(?:rate|frequenz|frekvens|frequentie)(?:hz)?"
    r"|(?:frequen(?:ce|za|cia)|frecuencia)"
    r"(?:(?:d|de|di|da)?(?:acquisition|echantillonnage|mesure|muestreo|adquisicion|captura"
    r"|campionamento|acquisizione|amostragem|aquisicao))?(?:hz)?"
)
_RATE_OF_COLUMN = re.compile(r"(?:@|[\[(])\s*(\d+(?:[.,]\d+)?)\s*(?:hz|fps)\s*[\])]?", re.I)
"""In the name of a column: how often it was recorded."""
_ROWS = re.compile(
    r"(?:n(?:umber|um|o|r)?(?:of)?|data)(?:frames|rows|samples|points)|(?:frames|rows|samples)"
    r"(?:count|number|total)"
)
_UNITS = re.compile(r"units?|lengthunits?|angleunits?|unitof.*")
_OTHER_UNITS = frozenset("px pixel pixels".split())
_SIDE = re.compile(r"sides?|limb|leg|measuredside|testedside|body ?side")
_DAY = re.compile(
    r"(?:date|day)?of(?:recording|measurement|capture|trial|session|test)"
    r"|(?:recording|measurement|capture|trial|session|test|exam)?date(?:time)?"
    r"|(?:mess|aufnahme|untersuchungs)?datum|fecha|data|dato"
)
_DEVICE = re.compile(
    r"manufacturer|company|(?:motion|capture|motioncapture|camera|recording)?(?:system|device)"
    r"|(?:recording|capture)?software|system|anlage|hersteller"
)
_PERSON = re.compile(
    r"(?:subject|patient|person|participant|proband|client|sujet|soggetto)(?:id|code|name|nr|no)?"
)
_IN_DEGREES = re.compile(r"(?:angles)?in(degrees|radians)")


def key_values(rows: Rows) -> Iterator[tuple[str, str]]:
    """Yield keys (letters only, lower case) and values.

    A value stands behind its key, in the same cell after ``=``, ``:`` or a blank, in the next
    cell, or below its key in the next row.
    """
    for place, row in enumerate(rows):
        below = rows[place + 1] if place + 1 < len(rows) else ()
        for column, cell in enumerate(row):
            if not is_text(cell):
                continue
            key, mark, value = _split(cell)
            if mark and value:
                yield key, value
            elif column + 1 < len(row) and row[column + 1]:
                yield key, row[column + 1]
            if not mark and column < len(below) and below[column]:
                yield key, below[column]


def _split(cell: str) -> tuple[str, str, str]:
    match = re.match(r"([^=:]+)([=:]|\s(?=[\d.]+$))(.*)", cell)
    key, mark, value = match.groups() if match else (cell, "", "")
    letters = unicodedata.normalize("NFKD", key.lower())
    return re.sub(r"[^a-z]", "", letters), mark, value.strip()


def declared_rate_hz(rows: Rows) -> float | None:
    """Return the rate that a line declares, or None."""
    for key, value in key_values(rows):
        number = re.match(r"[\d.,]+", value)
        if _RATE.fullmatch(key) and number and is_number(number.group()):
            rate = to_number(number.group().replace(",", "."), ".")
            if rate > 0:
                return rate
    return None


def rate_of_columns_hz(names: Iterable[str]) -> float | None:
    """Return the one rate that names of columns tell, as ``knee @100Hz``; None for several."""
    found = {match[1] for name in names if (match := _RATE_OF_COLUMN.search(name))}
    rates = {float(each.replace(",", ".")) for each in found} - {0.0}
    return rates.pop() if len(rates) == 1 else None


def declared_unit(rows: Rows, allowed: tuple[str, ...]) -> str:
    """Return the unit that a line declares, one of ``allowed`` or its long form, or ""."""
    longs = {"degrees": "deg", "degree": "deg", "radians": "rad", "radian": "rad"}
    longs |= {"millimeters": "mm", "millimetres": "mm", "centimeters": "cm", "centimetres": "cm"}
    longs |= {"meters": "m", "metres": "m", "meter": "m", "metre": "m"}
    longs |= {"inch": "in", "inches": "in", "foot": "ft", "feet": "ft"}
    for key, value in key_values(rows):
        word = value.strip("[]() .").lower()
        word = longs.get(word, word)
        if _UNITS.fullmatch(key) and word in allowed:
            return word
        match = _IN_DEGREES.fullmatch(key)
        if match and "deg" in allowed and word in ("yes", "true", "1", "no", "false", "0"):
            is_so = word in ("yes", "true", "1")
            return "deg" if (match.group(1) == "degrees") == is_so else "rad"
    return ""


def other_unit(rows: Rows) -> str:
    """Return a unit of length that a line declares and no reader knows, or ""."""
    said = ((key, value.strip("[]() .").lower()) for key, value in key_values(rows))
    return next((word for key, word in said if _UNITS.fullmatch(key) and word in _OTHER_UNITS), "")


def names_day(name: str) -> bool:
    """Whether a key, or the name of a parameter, says when a recording was made.

    Common words, no source; what says when somebody was born is none.
    """
    return _DAY.fullmatch(re.sub(r"[^a-z]", "", name.lower())) is not None


def declared_day(rows: Rows) -> str:
    """Return the day that lines declare, in ISO form; empty for none, or several."""
    found = {said_day(value) for key, value in key_values(rows) if names_day(key)} - {""}
    return found.pop() if len(found) == 1 else ""


def declared_device(rows: Rows) -> tuple[str, ...]:
    """Return what a recording was made with, as lines say it."""
    found = (" ".join(value.split()) for key, value in key_values(rows) if _DEVICE.fullmatch(key))
    return tuple(dict.fromkeys(each for each in found if is_text(each)))


def declared_people(rows: Rows) -> frozenset[str]:
    """Return the keys of people that lines name; see :func:`gaittrack.part_names.person_key`."""
    found = (person_key(value) for key, value in key_values(rows) if _PERSON.fullmatch(key))
    return frozenset(found) - {""}


def said_above(rows: Rows) -> dict[str, Any]:
    """Return what lines say of a recording for its provenance: the day, the device, who."""
    return {
        "day": declared_day(rows),
        "device": declared_device(rows),
        "people": declared_people(rows),
    }


def declared_side(rows: Rows) -> Side | None:
    """Return the one side that a line such as ``side: left`` declares, or None."""
    for key, value in key_values(rows):
        if _SIDE.fullmatch(key):
            word = value.strip().lower()
            if word in ("left", "l"):
                return "left"
            if word in ("right", "r"):
                return "right"
    return None


def missing_rows(rows: Rows, n_rows: int, where: str, *, is_whole: bool) -> tuple[Problem, ...]:
    """Say when a table holds fewer rows than its own lines say.

    Parameters
    ----------
    is_whole : bool
        The last row is as long as the others, and a line end follows it.

    Raises
    ------
    TruncatedFileError
        The last row is not whole either.
    """
    for key, value in key_values(rows):
        if not (_ROWS.fullmatch(key) and value.isdigit() and int(value) > n_rows):
            continue
        if not is_whole:
            raise TruncatedFileError.of(
                "fewer_rows_than_told", where=where, value=value, n_rows=n_rows
            )
        return (Problem("warning", Reason("row_count_wrong", told=int(value), n=n_rows), where),)
    return ()
