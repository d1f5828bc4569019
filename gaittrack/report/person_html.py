"""The page for the person as HTML that loads nothing: for the screen, to keep, or to print.

In comes a :class:`PersonPage`, out comes its article, or one file's text around it.
"""

from __future__ import annotations

from typing import Final

from markupsafe import Markup

from gaittrack.report import html_parts
from gaittrack.report.patient import PersonPage

STYLE: Final = "patient.css"


def person_article(page: PersonPage) -> Markup:
    """Return the page as the part of a screen or file; every text is escaped."""
    return html_parts.filled("person.html", page=page)


def person_html(page: PersonPage) -> str:
    """Return the page as a file."""
    parts = [person_article(page)]
    return html_parts.page(
        page.title, parts, styles=(STYLE,), language=page.language, has_heading=False
    )
