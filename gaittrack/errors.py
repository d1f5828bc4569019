"""Everything that can go wrong, in one place.

    GaitTrackError
    ├── BadFileError             a file cannot be used
    │   ├── UnknownFormatError   not a kind of file that is read here
    │   ├── EmptyFileError       there is nothing in it
    │   ├── TruncatedFileError   it ends before its own header says so
    │   ├── HeaderError          its header contradicts itself or the standard
    │   ├── DataError            its numbers cannot be trusted
    │   ├── LayoutError          a sheet whose layout must be told, not guessed
    │   │   ├── SheetDoubtError  a sheet of which a person must say what its columns are
    │   │   └── FactError        a recorded fact that cannot be
    │   └── ReaderFailedError    the reader died, overran its time or its memory
    ├── MissingSignalError       a landmark or angle that a step needs is not there
    ├── ComparisonError          two sets of walks that cannot be compared
    └── StudyError               the study folder or database cannot do what was asked

Mistakes of the calling code stay ``ValueError`` and ``TypeError``. What is wrong with a file but
does not spoil its numbers is a :class:`Problem` attached to the trial instead of an exception.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal, Self

from gaittrack.readable_names import readable
from gaittrack.reasons import Reason

Level = Literal["info", "warning", "error"]


@dataclass(frozen=True, slots=True, init=False)
class Spoiled:
    """What cannot be trusted because of a problem.

    Attributes
    ----------
    ingredients : frozenset of str
        Points by their key, and what else ``ingredients`` names.
    frames : tuple of (int, int) or None
        First and last frame it holds for; None for all. Strides that touch it are spoiled.
    cycles : tuple of str or None
        Ids of the strides it holds for; None for all.
    """

    ingredients: frozenset[str]
    frames: tuple[int, int] | None
    cycles: tuple[str, ...] | None

    def __init__(
        self,
        *ingredients: str,
        frames: tuple[int, int] | None = None,
        cycles: tuple[str, ...] | None = None,
    ) -> None:
        object.__setattr__(self, "ingredients", frozenset(ingredients))
        object.__setattr__(self, "frames", frames)
        object.__setattr__(self, "cycles", cycles)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing a person should know about a file or a result.

    Attributes
    ----------
    level : {"info", "warning", "error"}
        ``error`` makes numbers untrustworthy, ``warning`` may, ``info`` does not.
    reason : Reason
        What was found, and what was done about it.
    where : str
        File, parameter, label, column or time it concerns.
    spoils : tuple of Spoiled
        What nobody may take from the recording because of it; empty where it spoils no number.
    doubts : tuple of Spoiled
        What it may have moved: the number stays, and it stands beside it.
    """

    level: Level
    reason: Reason
    where: str
    spoils: tuple[Spoiled, ...] = ()
    doubts: tuple[Spoiled, ...] = ()

    def __post_init__(self) -> None:
        """Make the place readable: names of files hold any bytes."""
        object.__setattr__(self, "where", readable(self.where))

    @property
    def what(self) -> str:
        """What was found, and what was expected, in English."""
        return self.reason.say()

    @property
    def action(self) -> str:
        """What was done about it, or what the reader can do, in English."""
        return self.reason.say(part="action")

    def __str__(self) -> str:
        """Return the problem as one sentence for a terminal."""
        return f"{self.level}: {self.where}: {self.what} {self.action}".rstrip()


class GaitTrackError(Exception):
    """Base of all errors this package raises on purpose.

    Parameters
    ----------
    what : str
        What was expected and what was found.
    where : str
        The file, argument or record.
    action : str
        What to do about it.
    problems : tuple of Problem
        All faults found, when there is more than one.

    Attributes
    ----------
    sha256 : str or None
        Hash of the file's bytes that were refused, where they were read.
    """

    sha256: str | None = None

    def __init__(
        self, what: str, *, where: str = "", action: str = "", problems: tuple[Problem, ...] = ()
    ) -> None:
        self.what = what
        self.where = readable(where)
        self.action = action
        self.problems = problems
        super().__init__(what, self.where, action, problems)

    @classmethod
    def of(
        cls, code: str, /, *, where: object = "", problems: tuple[Problem, ...] = (), **gaps: Any
    ) -> Self:
        """Return the error whose words stand under a code in ``words/``.

        Parameters
        ----------
        **gaps
            What its sentences need.
        """
        said = Reason(code, **gaps)
        return cls(said.say(), where=str(where), action=said.say(part="action"), problems=problems)

    @property
    def code(self) -> str:
        """Kind of the error, as it is stored and compared: ``truncated_file``."""
        name = type(self).__name__.removesuffix("Error")
        return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name).lower()

    def __str__(self) -> str:
        """Return where, what and what to do, in that order."""
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.what} {self.action}".rstrip()

    def __reduce__(self) -> tuple[object, ...]:
        """Rebuild from keywords, so that the error crosses from the child process intact."""
        words = type(self), self.what, self.where, self.action, self.problems
        return _rebuild, words, {"sha256": self.sha256}


def _rebuild(
    kind: type[GaitTrackError], what: str, where: str, action: str, problems: tuple[Problem, ...]
) -> GaitTrackError:
    return kind(what, where=where, action=action, problems=problems)


class BadFileError(GaitTrackError):
    """A file cannot be used."""


class UnknownFormatError(BadFileError):
    """The file is not of a kind that is read here."""


class EmptyFileError(BadFileError):
    """The file has no content, or no frames."""


class TruncatedFileError(BadFileError):
    """The file ends before its own header says so."""


class HeaderError(BadFileError):
    """The file's header contradicts itself or the format."""


class DataError(BadFileError):
    """The file's numbers cannot be trusted."""


class LayoutError(BadFileError):
    """A sheet's layout, a map or a table says what cannot be, or too little."""


class SheetDoubtError(LayoutError):
    """A sheet that must be told, not guessed; the action holds a map file to complete.

    Attributes
    ----------
    asked : object
        The same as a screen may ask it; lost once the error has crossed from another process.
    """

    asked: object = None


class AboutFact(GaitTrackError):
    """Something that is wrong with one recorded fact; a form says it beside the field.

    Attributes
    ----------
    fact : str
        Name under which it is stored; empty once the error has crossed from another process.
    reason : Reason or None
        Its sentences name the fact as files do, in the gap ``key``.
    """

    fact: str = ""
    reason: Reason | None = None

    @classmethod
    def about(cls, fact: str, code: str, /, *, where: object = "", **gaps: Any) -> Self:
        """Return the error about a fact whose words stand under a code in ``words/``."""
        error = cls.of(code, where=where, key=fact, **gaps)
        error.fact, error.reason = fact, Reason(code, key=fact, **gaps)
        return error

    def said_of(self, label: str) -> str:
        """Return its sentences with the fact called as a form calls it, without a place."""
        if self.reason is None:
            return str(self)
        said = Reason(self.reason.code, **{**dict(self.reason.parameters), "key": label})
        return f"{said.say()} {said.say(part='action')}".rstrip()


class FactError(AboutFact, LayoutError):
    """A recorded fact that cannot be."""


class ReaderFailedError(BadFileError):
    """The reader process died, or overran its time or memory."""


class MissingSignalError(GaitTrackError):
    """A landmark or angle that a step needs is not in the trial."""


class ComparisonError(GaitTrackError):
    """The walks given cannot be compared as asked."""


class StudyError(GaitTrackError):
    """The study cannot do what was asked."""


class StudyBusyError(StudyError):
    """Another process kept writing to the study for as long as one waits for it."""


class UntoldFactError(AboutFact, StudyError):
    """A fact that has to be said is not."""


class DiffersError(AboutFact, StudyError):
    """A fact that is given otherwise than the study holds it."""
