"""HTML from the templates beside: every text that comes from a file or a person is escaped there.

In come texts, out come a table, a list of terms, a paragraph, a page. What is of the type
``Markup`` stands as it is; whatever else, a text made of such parts too, is escaped.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from gaittrack.compare.row_words import NO_NUMBER
from gaittrack.figures.plain_numbers import with_minus

_TEMPLATES: Final = files("gaittrack.report") / "templates"
_FONT: Final = "source-sans-3-latin-wght-normal.woff2"
_N_COLOURS: Final = 4


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table.

    Attributes
    ----------
    small : str
        Said below the text in small letters.
    kind : str
        Classes of the style sheet: ``number``, ``past``, ``full``.
    """

    text: str
    small: str = ""
    kind: str = ""


def filled(template: str, **given: object) -> Markup:
    """Return a template, every text in it escaped.

    Parameters
    ----------
    given
        What its names stand for.
    """
    return Markup(_ENVIRONMENT.get_template(template).render(given))


def drawn(part: str, *given: object, of: Environment | None = None) -> Markup:
    """Return a part of a page, every text in it escaped.

    Parameters
    ----------
    part : str
        Template and macro: ``board.chip``.
    given
        What the macro takes.
    of : Environment, optional
        Templates of another room.
    """
    template, _, macro = part.partition(".")
    module = (of or _ENVIRONMENT).get_template(f"{template}.html").module
    return Markup(getattr(module, macro)(*given))


def table(heads: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> Markup:
    """Return a table that becomes one block per row on a narrow screen.

    Parameters
    ----------
    rows : iterable of sequence of Cell
        Each as long as the heads.
    """
    return drawn("parts.table", heads, [list(zip(heads, row, strict=True)) for row in rows])


def terms(pairs: Iterable[tuple[str, str]]) -> Markup:
    """Return a list of terms with what they are."""
    return drawn("parts.terms", list(pairs))


def bullets(texts: Iterable[str]) -> Markup:
    """Return a list of points."""
    return drawn("parts.bullets", list(texts))


def paragraph(text: str, *, kind: str = "") -> Markup:
    """Return a paragraph.

    Parameters
    ----------
    kind : str
        Class of the style sheet.
    """
    return drawn("parts.paragraph", text, kind)


def numbered(doubts: Iterable[Sequence[str]]) -> dict[str, int]:
    """Return a number for each doubt of a board: it stands in the row, the words at the foot."""
    texts = dict.fromkeys(text for own in doubts for text in own)
    return {text: place for place, text in enumerate(texts, 1)}


def marks(told: Mapping[str, int], doubts: Iterable[str]) -> str:
    """Return what stands behind a number: which doubts of :func:`numbered` it has."""
    own = sorted(told[each] for each in doubts)
    return f" ! {', '.join(map(str, own))}" if own else ""


def of_condition(place: int) -> str:
    """Return the class that gives a condition's parts its colour and line."""
    return f"own c{place % _N_COLOURS + 1}"


def page(
    title: str,
    parts: Iterable[Markup],
    *,
    styles: Sequence[str],
    script: str = "",
    language: str = "en",
    kind: str = "",
    has_heading: bool = True,
) -> str:
    """Return a page that loads nothing: the browser itself then refuses to load anything.

    Parameters
    ----------
    parts : iterable of Markup
        What stands below the heading, which is the title.
    styles, script
        Names of templates, whose text stands in the page.
    kind : str
        Class of the style sheet for all of it.
    has_heading : bool
        Whether the title stands above the parts; else one of them has it.
    """
    style, own_script = (Markup(each) for each in (look(*styles), script and _template(script)))
    given = title, parts, style, own_script, language, kind, has_heading
    return str(drawn("parts.page", *given))


@cache
def look(*styles: str) -> str:
    """Return the style that screens and pages share, its typeface inside, and then further ones.

    Parameters
    ----------
    styles : str
        Names of templates.
    """
    font = base64.b64encode((_TEMPLATES / _FONT).read_bytes()).decode("ascii")
    face = (
        '@font-face{font-family:"gaittrack";font-weight:400 700;size-adjust:108%;'
        f'font-display:swap;src:url("data:font/woff2;base64,{font}") format("woff2")}}\n'
    )
    return face + "".join(map(_template, ("tokens.css", *styles)))


def _template(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def templates_of(package: str) -> Environment:
    """Return the templates of a package; every text in them is escaped, no name may be unknown."""
    return Environment(
        loader=PackageLoader(package),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        auto_reload=False,  # they do not change while the program runs
    )


_ENVIRONMENT: Final = templates_of("gaittrack.report")
_ENVIRONMENT.filters |= {"numbered": numbered, "own": of_condition, "minus": with_minus}
_ENVIRONMENT.globals["no_number"] = NO_NUMBER
