"""What a notebook or a terminal shows of a result: a few lines, never its arrays.

In come names and values, out come a short ``repr`` and a small table in HTML. Every text is
escaped: it may come from a file.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from pathlib import PurePath
from typing import Final

from markupsafe import Markup

_WIDTH: Final = 100
_MOST_LINES: Final = 10
_LONGEST_WORDS: Final = 60
_MOST_NAMES: Final = 6

Cells = Sequence[object]


@dataclass(frozen=True, slots=True)
class SmallTable:
    """A few rows under a head, with what has to stand below them.

    Attributes
    ----------
    notes : tuple of str
        Paragraphs: signs, what to know, the caution that goes with results.
    """

    heads: Cells = ()
    rows: tuple[Cells, ...] = ()
    notes: tuple[str, ...] = ()


class Shown:
    """Gives a class a short ``repr``, and a small table where a notebook shows it.

    A dataclass below it says ``repr=False`` and, where its fields are not what to show, has
    ``_facts`` of its own; results also have ``_small_table``, with the notice.
    """

    __slots__ = ()

    def _facts(self) -> Mapping[str, object]:
        return {each.name: getattr(self, each.name) for each in fields(self)}  # type: ignore[arg-type]

    def _small_table(self) -> SmallTable:
        return SmallTable()

    def __repr__(self) -> str:
        """Return the facts on at most ten lines."""
        said = ", ".join(f"{name}={brief(value)}" for name, value in self._facts().items())
        text = f"{type(self).__name__}({said})"
        lines = textwrap.wrap(text, _WIDTH, subsequent_indent="    ", break_on_hyphens=False)
        return "\n".join(lines if len(lines) <= _MOST_LINES else [*lines[: _MOST_LINES - 1], "…"])

    def _repr_html_(self) -> str:
        facts = [(name, _unbracketed(value)) for name, value in self._facts().items()]
        table = self._small_table()
        parts = [Markup("<strong>{}</strong>").format(type(self).__name__), _table((), facts)]
        parts += [_table(table.heads, table.rows)] if table.rows else []
        parts += [Markup("<p>{}</p>").format(plain(note)) for note in table.notes]
        return str(Markup("<div>{}</div>").format(Markup().join(parts)))


def brief(value: object) -> str:
    """Return a value in a few words: of many values how many, of an array its shape."""
    if isinstance(value, float):
        return "-" if math.isnan(value) else f"{value:g}"
    if isinstance(value, str):
        return _cut(plain(value))
    if isinstance(value, PurePath):
        text = plain(value.as_posix())  # its end tells one file from another
        return text if len(text) <= _LONGEST_WORDS else f"…{text[1 - _LONGEST_WORDS :]}"
    if hasattr(value, "shape"):
        return f"<shape {value.shape}>"
    if isinstance(value, Mapping):
        return _names([" ".join(key) if isinstance(key, tuple) else str(key) for key in value])
    if isinstance(value, tuple | list | set | frozenset):
        is_words = all(isinstance(each, str) for each in value)
        return _names([str(each) for each in value]) if is_words else f"<{len(value)}>"
    return f"<{type(value).__name__}>" if is_dataclass(value) else _cut(plain(repr(value)))


def plain(text: str) -> str:
    """Return a text on one line, what a terminal would obey written out."""
    return "".join(each if each.isprintable() else repr(each)[1:-1] for each in _one_line(text))


def _one_line(text: str) -> str:
    return " ".join(text.splitlines())


def _unbracketed(value: object) -> str:
    is_many = isinstance(value, Mapping | tuple | list | set | frozenset)
    return (brief(value)[1:-1] or "-") if is_many else brief(value)


def _names(names: Sequence[str]) -> str:
    shown = [_cut(plain(each)) for each in names[:_MOST_NAMES]]
    more = [f"… ({len(names)})"] if len(names) > _MOST_NAMES else []
    return f"[{', '.join([*shown, *more])}]"


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_WORDS else f"{text[: _LONGEST_WORDS - 1]}…"


def _table(heads: Cells, rows: Sequence[Cells]) -> Markup:
    head = Markup("<thead>{}</thead>").format(_line(map(_head, heads))) if heads else ""
    lines = (
        _line([_head(row[0], "row"), *(Markup("<td>{}</td>").format(_text(x)) for x in row[1:])])
        for row in rows
    )
    return Markup("<table>{}<tbody>{}</tbody></table>").format(head, Markup().join(lines))


def _line(cells: Iterable[Markup]) -> Markup:
    return Markup("<tr>{}</tr>").format(Markup().join(cells))


def _head(cell: object, scope: str = "col") -> Markup:
    return Markup('<th scope="{}">{}</th>').format(scope, _text(cell))


def _text(cell: object) -> str:
    return plain(str(cell))
