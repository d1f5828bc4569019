"""The page for the person as HTML that loads nothing: for the screen, to keep, or to print.

In comes a :class:`PersonPage`, out comes its article, or one file's text around it.
"""

from __future__ import annotations

from typing import Final

from jinja2 import Environment, PackageLoader

from gaittrack.report import html_parts
from gaittrack.report.patient import PersonPage

STYLE: Final = "patient.css"
_TEMPLATES: Final = Environment(
    loader=PackageLoader("gaittrack.report"), autoescape=True, trim_blocks=True
)


def person_article(page: PersonPage) -> str:
    """Return the page as the part of a screen or file; every text is escaped."""
    return _TEMPLATES.get_template("person.html").render(page=page)


def person_html(page: PersonPage) -> str:
    """Return the page as a file."""
    parts = [person_article(page)]
    return html_parts.page(
        page.title, parts, styles=(STYLE,), language=page.language, has_heading=False
    )
