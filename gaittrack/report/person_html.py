"""The page for the person as HTML that loads nothing, to keep, to send along or to print.

In comes a :class:`PersonPage`, out comes one file's text.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib.resources import files
from typing import Final

from gaittrack.report.html_parts import bullets, paragraph
from gaittrack.report.patient import PagePoint, PersonPage

_TEMPLATES: Final = files("gaittrack.report") / "templates"
_ALLOWED: Final = "default-src 'none'; style-src 'unsafe-inline'"
"""The browser itself then refuses to load anything."""


def person_html(page: PersonPage) -> str:
    """Return the page as HTML."""
    style = (_TEMPLATES / "patient.css").read_text(encoding="utf-8")
    lead = "".join(paragraph(text) for text in page.lead)
    return "".join(
        [
            f'<!doctype html><html lang="{escape(page.language)}"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f'<meta http-equiv="Content-Security-Policy" content="{_ALLOWED}">',
            f"<title>{escape(page.title)}</title><style>{style}</style></head>",
            f'<body><main class="person-page"><h1>{escape(page.title)}</h1>',
            f'{paragraph(page.where, kind="where")}<div class="lead">{lead}</div>',
            *(_point(point) for point in page.points),
            _list(page.also_heading, page.also),
            _list(page.missing_heading, page.missing),
            _list(page.unsure_heading, page.unsure),
            paragraph(page.notice, kind="notice"),
            "</main></body></html>\n",
        ]
    )


def _point(point: PagePoint) -> str:
    lines = "".join(paragraph(line) for line in point.lines)
    return (
        f'<section class="point"><figure>{point.picture}'
        f"<figcaption>{escape(point.caption)}</figcaption></figure>"
        f"<div><h2>{escape(point.heading)}</h2>{lines}{paragraph(point.about, kind='about')}"
        "</div></section>"
    )


def _list(heading: str, texts: Sequence[str]) -> str:
    return f"<h3>{escape(heading)}</h3>{bullets(texts)}" if texts else ""
