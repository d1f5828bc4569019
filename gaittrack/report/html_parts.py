"""Small pieces of HTML: every text that comes from a file or a person is escaped here.

In come texts, out come a table, a list of terms, a paragraph.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files
from typing import Final

_TEMPLATES: Final = files("gaittrack.report") / "templates"
_FONT: Final = "source-sans-3-latin-wght-normal.woff2"


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


def table(heads: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> str:
    """Return a table that becomes one block per row on a narrow screen.

    Parameters
    ----------
    rows : iterable of sequence of Cell
        Each as long as the heads.
    """
    head = "".join(
        f'<th scope="col" class="{escape(each.kind)}">{escape(each.text)}</th>' for each in heads
    )
    lines = (
        "".join(_cell(cell, each.text) for cell, each in zip(row, heads, strict=True))
        for row in rows
    )
    body = "".join(f"<tr>{line}</tr>" for line in lines)
    return (
        f'<div class="wide"><table class="stack"><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def _cell(cell: Cell, head: str) -> str:
    small = f"<small>{escape(cell.small)}</small>" if cell.small else ""
    opening = f'<td class="{escape(cell.kind)}" data-head="{escape(head)}">'
    return f"{opening}{escape(cell.text)}{small}</td>"


def terms(pairs: Iterable[tuple[str, str]], *, kind: str = "") -> str:
    """Return a list of terms with what they are.

    Parameters
    ----------
    kind : str
        Class of the style sheet for what they are.
    """
    items = (
        f'<dt>{escape(name)}</dt><dd class="{escape(kind)}">{escape(text)}</dd>'
        for name, text in pairs
    )
    return f"<dl>{''.join(items)}</dl>"


def bullets(texts: Iterable[str]) -> str:
    """Return a list of points."""
    return f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in texts)}</ul>"


def paragraph(text: str, *, kind: str = "") -> str:
    """Return a paragraph.

    Parameters
    ----------
    kind : str
        Class of the style sheet.
    """
    return f'<p class="{escape(kind)}">{escape(text)}</p>'


def page(
    title: str,
    parts: Iterable[str],
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
    parts : iterable of str
        HTML below the heading, which is the title.
    styles, script
        Names of templates, whose text stands in the page.
    kind : str
        Class of the style sheet for all of it.
    has_heading : bool
        Whether the title stands above the parts; else one of them has it.
    """
    allowed = "default-src 'none'; style-src 'unsafe-inline'; font-src data:"
    allowed += "; script-src 'unsafe-inline'" if script else ""
    style = look(*styles)
    own_class = f' class="{escape(kind)}"' if kind else ""
    return "".join(
        [
            f'<!doctype html><html lang="{escape(language)}"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f'<meta http-equiv="Content-Security-Policy" content="{allowed}">',
            f"<title>{escape(title)}</title><style>{style}</style></head>",
            f"<body><main{own_class}>{f'<h1>{escape(title)}</h1>' if has_heading else ''}",
            *parts,
            f"</main>{f'<script>{_template(script)}</script>' if script else ''}</body></html>\n",
        ]
    )


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
