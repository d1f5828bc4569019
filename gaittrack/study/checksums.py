"""Checksums over all that a stored result says, so that what was changed since is never used.

In come the rows of a result as they are kept, out come their checksums; of results that are stored,
those that do not hold any more. Words, numbers, events and walk values have one each, so that a
reader checks what it reads and nothing else; the words' own is part of the other three. The file's
hash is part of it too: a result in the place of another trial's does not hold. Checksums find
damage and slips of a hand, not somebody who computes them anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Table, bindparam, select, true, update

from gaittrack.errors import StudyError
from gaittrack.reasons import Reason
from gaittrack.study.tables import (
    DOWN_TO_TRIAL,
    EVENT,
    KEPT_CHANGES,
    PERSON,
    RESULT,
    TRIAL,
    TRIAL_MEAN,
)

DAMAGED: Final = Reason("damaged_result")
_WORDS: Final = (
    *("software_version", "settings_hash"),
    *("refusal", "problems", "facts", "cycles"),
)
WORD_COLUMNS: Final = (*(RESULT.c[name] for name in _WORDS), RESULT.c.words_checksum)
"""What has to be read of a result, beside the file's hash, to know whether its words hold."""
EVENT_COLUMNS: Final = ("time_s", "side", "kind", "source", "contact")
MEAN_COLUMNS: Final = ("side", "measure", "value", "n_defined", "n_not_defined", "reasons")
_RESULTS_AT_ONCE: Final = 100

Row = Mapping[Any, Any]
Rows = dict[int, list[Sequence[Any]]]


class DamagedResultError(StudyError):
    """A stored result is not what was measured."""


def checksums(
    sha256: str, result: Row, events: Iterable[Sequence[Any]], means: Iterable[Sequence[Any]]
) -> dict[str, str]:
    """Return the checksum columns of a result.

    Parameters
    ----------
    sha256 : str
        Of the file it was measured from.
    result : mapping
        Row of ``result``, with or without more columns.
    events, means : iterable of sequence
        ``EVENT_COLUMNS`` and ``MEAN_COLUMNS`` of its rows in ``event`` and ``trial_mean``.
    """
    words = _of_words(sha256, result)
    return {
        "words_checksum": words,
        "numbers_checksum": _of_numbers(words, result),
        "events_checksum": _of_rows(words, events),
        "means_checksum": _of_rows(words, means),
    }


def words_hold(row: Row) -> bool:
    """Whether what a result says in words is what was kept.

    Parameters
    ----------
    row : mapping
        ``sha256`` of the trial and ``WORD_COLUMNS``.
    """
    return bool(row["words_checksum"] == _of_words(row["sha256"], row))


def result_holds(row: Row) -> bool:
    """Whether words and numbers of a result are what was kept.

    Parameters
    ----------
    row : mapping
        ``sha256`` of the trial and every column of ``result``.
    """
    numbers = _of_numbers(row["words_checksum"], row)
    return words_hold(row) and bool(row["numbers_checksum"] == numbers)


def damaged_result(place: str) -> DamagedResultError:
    """Return the error that says so of a trial."""
    return DamagedResultError.of("stored_result_damaged_not_used", where=place)


def kept_checksum(part: str, stamp: str, content: str) -> str:
    """Return the checksum of a part kept of a person; ``stamp`` tells whose it is."""
    return _of_texts(part, stamp, content)


def damaged_kept_changes(connection: Connection) -> list[str]:
    """Return the codes of people of whom what was kept does not hold."""
    kept = (KEPT_CHANGES.c[name] for name in ("part", "stamp", "content", "checksum"))
    query = select(PERSON.c.code, *kept).join_from(PERSON, KEPT_CHANGES).order_by(PERSON.c.code)
    rows = connection.execute(query)
    return list(dict.fromkeys(code for code, *kept, own in rows if own != kept_checksum(*kept)))


def damaged_results(
    connection: Connection, wanted: ColumnElement[bool], *, is_thorough: bool = False
) -> frozenset[int]:
    """Return the numbers of the trials whose stored result does not hold.

    Parameters
    ----------
    wanted : SQL expression
        On people, visits, conditions and trials.
    is_thorough : bool
        Also look at events and walk values, which only corrections and other programs read.
    """
    found: set[int] = set()
    for rows in _stored(connection, wanted):
        bad = {row["trial_id"] for row in rows if not result_holds(row)}
        found |= bad
        if is_thorough:
            own = _rows_of_results(connection, [row["trial_id"] for row in rows])
            found |= {row["trial_id"] for row in rows if not _rows_hold(row, *own)}
    return frozenset(found)


def events_hold(connection: Connection, trial_id: int) -> bool:
    """Whether words and events of a trial's result are what was kept; also without a result."""
    query = select(TRIAL.c.sha256, *WORD_COLUMNS, RESULT.c.events_checksum)
    query = query.join_from(TRIAL, RESULT).where(TRIAL.c.id == trial_id)
    row = connection.execute(query).mappings().first()
    if row is None:
        return True
    events = _by_trial(connection, EVENT, EVENT_COLUMNS, [trial_id])[trial_id]
    own = _of_rows(row["words_checksum"], events)
    return words_hold(row) and bool(row["events_checksum"] == own)


def seal_results(connection: Connection) -> None:
    """Give every stored result the checksums of what it says now.

    Only for a study whose results have none yet: what was damaged before counts as sound then.
    """
    change = update(RESULT).where(RESULT.c.trial_id == bindparam("trial"))
    for rows in _stored(connection, true()):
        events, means = _rows_of_results(connection, [row["trial_id"] for row in rows])
        for row in rows:
            key = row["trial_id"]
            own = checksums(row["sha256"], row, events[key], means[key])
            connection.execute(change.values(own), {"trial": key})


def _stored(connection: Connection, wanted: ColumnElement[bool]) -> Iterator[Sequence[Row]]:
    """Give results with the hash of their file, some at a time: all would fill the memory."""
    tables = DOWN_TO_TRIAL.join(RESULT)
    query = select(TRIAL.c.sha256, RESULT).select_from(tables).where(wanted)
    query = query.order_by(RESULT.c.trial_id).limit(_RESULTS_AT_ONCE)
    last = 0
    while rows := connection.execute(query.where(RESULT.c.trial_id > last)).mappings().all():
        yield rows
        if len(rows) < _RESULTS_AT_ONCE:
            return
        last = rows[-1]["trial_id"]


def _rows_of_results(connection: Connection, trial_ids: Sequence[int]) -> tuple[Rows, Rows]:
    """Return events and walk values by their trial."""
    events = _by_trial(connection, EVENT, EVENT_COLUMNS, trial_ids)
    return events, _by_trial(connection, TRIAL_MEAN, MEAN_COLUMNS, trial_ids)


def _by_trial(
    connection: Connection, table: Table, names: Sequence[str], trial_ids: Sequence[int]
) -> Rows:
    found: Rows = {trial_id: [] for trial_id in trial_ids}
    query = select(table.c.trial_id, *(table.c[name] for name in names))
    for trial_id, *values in connection.execute(query.where(table.c.trial_id.in_(trial_ids))):
        found[trial_id].append(values)
    return found


def _rows_hold(row: Row, events: Rows, means: Rows) -> bool:
    words, key = row["words_checksum"], row["trial_id"]
    now = _of_rows(words, events[key]), _of_rows(words, means[key])
    return now == (row["events_checksum"], row["means_checksum"])


def _of_words(sha256: str, row: Row) -> str:
    return _of_texts(sha256, *(row[name] for name in _WORDS))


def _of_numbers(words: str, row: Row) -> str:
    return _of_texts(words, row["layout"], row["numbers"])


def _of_rows(words: str, rows: Iterable[Sequence[Any]]) -> str:
    """Return the checksum of rows in any order: databases promise none."""
    plain = list(rows)
    told = json.dumps(plain)
    if "-0.0," in told or "-0.0]" in told:  # SQLite keeps no minus before zero
        plain = [[one + 0.0 if isinstance(one, float) else one for one in row] for row in plain]
        told = json.dumps(plain)
    texts = told[1:-1].replace("], [", "]\n[").split("\n") if plain else []
    if len(texts) != len(plain):  # a word holds what stands between rows
        texts = list(map(json.dumps, plain))
    parts = [f"{len(text)}:{text}" for text in (words, *sorted(texts))]  # JSON is ASCII
    return hashlib.sha256("".join(parts).encode()).hexdigest()


def _of_texts(*texts: str | bytes) -> str:
    """Return the hash of texts one after the other, each with its length, so that none runs on."""
    contents = [text.encode() if isinstance(text, str) else text for text in texts]
    parts = [b"%d:%b" % (len(content), content) for content in contents]
    return hashlib.sha256(b"".join(parts)).hexdigest()
