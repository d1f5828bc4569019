"""The page for the person as HTML that loads nothing, to keep, to send along or to print.

In comes a :class:`PersonPage`, out comes one file's text.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from gaittrack.report import html_parts
from gaittrack.report.html_parts import bullets, paragraph
from gaittrack.report.patient import PagePoint, PersonPage


def person_html(page: PersonPage) -> str:
    """Return the page as HTML."""
    parts = [
        f'{paragraph(page.where, kind="where")}<div class="lead">',
        *(paragraph(text) for text in page.lead),
        "</div>",
        *(_point(point) for point in page.points),
        _list(page.also_heading, page.also),
        _list(page.missing_heading, page.missing),
        _list(page.unsure_heading, page.unsure),
        paragraph(page.notice, kind="notice"),
    ]
    return html_parts.page(
        page.title, parts, styles=("patient.css",), language=page.language, kind="person-page"
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
