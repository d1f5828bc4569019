"""What the laboratory has set over time, and the way back to any of it.

In comes a study, out come the changes of its settings, newest first; in comes the number of one,
and the setting is again as it was before that change. That is a change too, with who and why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from gaittrack.errors import StudyError
from gaittrack.study.history import entries
from gaittrack.study.laboratory import name_today, put_setting
from gaittrack.study.store import Study

_BEGINS: Final = "set "
_ROW: Final = ("file_name", "content")


@dataclass(frozen=True, slots=True)
class LaboratoryChange:
    """One change of one setting.

    Attributes
    ----------
    number : int
        Of its entry in the history.
    name : str
        Of the setting.
    before, after : mapping of str to str
        ``file_name`` and ``content``; empty where the laboratory had set, or sets, nothing.
    """

    number: int
    name: str
    utc: str
    who: str
    why: str
    before: Mapping[str, str]
    after: Mapping[str, str]


def setting_changes(connection: Connection) -> list[LaboratoryChange]:
    """Return every change of a setting of the laboratory, newest first."""
    return [
        LaboratoryChange(
            number=entry["sequence"],
            name=name_today(entry["what"].removeprefix(_BEGINS)),
            utc=entry["utc"],
            who=entry["who"],
            why=entry["why"],
            before=_row(entry["before"]),
            after=_row(entry["after"]),
        )
        for entry in reversed(entries(connection, begins=_BEGINS))
    ]


def put_back(study: Study, number: int, *, who: str, why: str) -> LaboratoryChange:
    """Let a setting be as it was before one of its changes.

    Parameters
    ----------
    number : int
        Of the change.

    Raises
    ------
    StudyError
        There is no such change, or the setting is so already.
    """
    with study.write() as connection:
        found = setting_changes(connection)
        change = next((each for each in found if each.number == number), None)
        if change is None:
            raise StudyError.of("no_such_change_of_setting", where="laboratory", number=number)
        now = next(each.after for each in found if each.name == change.name)
        if now == change.before:
            raise StudyError.of("setting_is_so_already", where=change.name, number=number)
        put_setting(connection, change.name, change.before, who=who, why=why)
    return change


def _row(stored: Mapping[str, str]) -> dict[str, str]:
    return {name: stored[name] for name in _ROW if name in stored}
