"""Parts of a screen that only show, as HTML: one component in the place of hundreds.

In come components of ``dash.html``, out come the same with everything that has no id and no
callback joined into :class:`Markup`. The program in the browser looks at each component again
whenever anything changes; a table of a thousand cells made it wait for seconds. Every text is
escaped here, or in the templates that :func:`drawn` fills. Buttons in such parts name a store that
takes what they stand for.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText
from markupsafe import escape

from dashboards.parts.dash_private import Markup, html_element
from gaittrack.report import html_parts
from gaittrack.report.html_parts import templates_of

BRAND: Final = SafeText(
    '<svg viewBox="0 0 24 24" aria-hidden="true"><path d="M8 3v11l-3 4v2h14v-2l-6-3V3"/>'
    '<path d="M5 3v9"/></svg>'
)
"""The mark beside the name."""
_NAMES: Final = {
    **{"className": "class", "colSpan": "colspan", "rowSpan": "rowspan"},
    **{"htmlFor": "for", "tabIndex": "tabindex", "viewBox": "viewBox"},
}
"""Properties that HTML calls otherwise."""
_SAME: Final = frozenset("title scope open hidden lang role type alt src disabled href".split())
_VOID: Final = {"br", "hr", "img"}
_OPEN_TO_JOINING: Final = (html.Div, html.Section, html.Article, html.Details)
"""Where parts may be joined: a box among the parts of a table or a list would not be HTML."""


_TEMPLATES: Final = templates_of("dashboards")
_TEMPLATES.filters["json"] = json.dumps


def drawn(part: str, *given: object) -> SafeText:
    """Return a macro of a template of the screens, as :func:`gaittrack.report.html_parts.drawn`."""
    return html_parts.drawn(part, *given, of=_TEMPLATES)


def pressing(store: str, value: Any) -> dict[str, Any]:
    """Return what makes a button put a value into a store when it is pressed.

    Parameters
    ----------
    store : str
        Id of a ``dcc.Store``; its data become ``{"value": …, "at": …}``.
    value
        Plain. It comes back from a browser: look rows up again.

    Returns
    -------
    dict
        Attributes for ``html.Button``.
    """
    return {"data-press": store, "data-value": json.dumps(value)}


def still(parts: Sequence[Any]) -> list[Any]:
    """Return parts of a screen with all that only shows joined into HTML.

    Parameters
    ----------
    parts : sequence
        Texts and components, in a box that flows or a grid.

    Returns
    -------
    list
        Components with an id or of other libraries stay, in their place.
    """
    found: list[Any] = []
    joined = SafeText()
    for part in parts:
        text = None if isinstance(part, html.Summary) else html_of(part)  # first in its details
        if text is not None:
            joined += text
            continue
        if joined:
            found.append(Markup(joined))
        joined = SafeText()
        found.append(_opened(part))
    return [*found, Markup(joined)] if joined else found


def _opened(part: Component) -> Component:
    """Return a part that stays with what is in it joined, where that may be."""
    inside = getattr(part, "children", None)
    if isinstance(part, _OPEN_TO_JOINING) and isinstance(inside, Sequence | Component):
        several = inside if isinstance(inside, list | tuple) else [inside]
        part.children = still(several)
    return part


def html_of(part: Any) -> SafeText | None:
    """Return a part as HTML; None if it, or something in it, has to stay a component.

    Parameters
    ----------
    part
        Text, number, component, or a sequence of them.
    """
    if part is None:
        return SafeText()
    if isinstance(part, str | int | float):
        return escape(part)
    if isinstance(part, Markup):
        return part.html
    if isinstance(part, Component):
        return _element(part)
    inside = [html_of(each) for each in part]
    return None if None in inside else SafeText().join(filter(None, inside))


def _element(part: Component) -> SafeText | None:
    found = html_element(part)
    if found is None:
        return None
    name, properties = found
    inside = html_of(properties.pop("children", None))
    attributes = _attributes(properties)
    if inside is None or attributes is None:
        return None
    end = "" if name in _VOID else f"</{name}>"
    return SafeText(f"<{name}{attributes}>{inside}{end}")


def _attributes(properties: Mapping[str, Any]) -> str | None:
    """Return attributes as HTML writes them; None with one that only a component has."""
    words = []
    for name, value in sorted(properties.items()):
        own = _NAMES.get(name, name)
        if name not in _NAMES and name not in _SAME and not name.startswith(("data-", "aria-")):
            return None
        if value is None or value is False or value == "" and own == "class":
            continue
        words.append(f" {own}" if value is True else f' {own}="{escape(value)}"')
    return "".join(words)
