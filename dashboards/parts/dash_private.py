"""What leans on the insides of Dash, which may change with any version of it, and nowhere else.

In come Dash's own classes, script tags and components, out come an app whose page reads scripts in
our order, a component of our own, and what a component of ``dash.html`` was given. In the browser
``assets/answers.js``, ``later.js`` and ``markup.js`` lean on the same; ``test_dash_private.py``
watches all.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

from dash import Dash, Input, State, no_update
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.parts.sent_kinds import checked
from dashboards.parts.sent_values import kinds_of, same_parts

UPDATE: Final = "/_dash-update-component"
"""Address that every callback is sent to."""
SUITES: Final = "/_dash-component-suites/"
"""Beginning of the addresses of Dash's own scripts."""
LATER: Final = {"plotly": "plotly-cartesian"}
"""Scripts that ``assets/later.js`` reads when a screen asks: their name there, and what their
address holds. Drawing is half of all scripts."""
_NEVER: Final = "/dash_table/"
"""A table that no screen uses."""
AT_ONCE: Final = "".join(
    f'<link rel="preload" as="fetch" crossorigin href="/_dash-{name}">'
    for name in ("layout", "dependencies")
)
"""What Dash asks for when its scripts have run: asked for while they are read."""
_SCRIPT: Final = re.compile(r'<script src="([^"]*)"></script>\s*')


class LeanDash(Dash):
    """Dash with the scripts of its page sorted, whose callbacks look at what they are sent."""

    def callback(self, *given: Any, **named: Any) -> Any:
        """Register a callback; it stays the function that it is."""
        register = super().callback(*given, **named)
        read = [each for each in given if isinstance(each, Input | State)]
        kinds, alike = kinds_of(read), same_parts(read)

        def put(function: Callable[..., Any]) -> Callable[..., Any]:
            register(checked(function, kinds, alike))
            return function

        return put

    def interpolate_index(self, **parts: str) -> str:  # type: ignore[override]
        """Return the page, as Dash asks for it."""
        parts["scripts"] = AT_ONCE + sorted_scripts(parts["scripts"])
        return str(super().interpolate_index(**parts))  # type: ignore[no-untyped-call]


def nothing_new(outputs: Any) -> Any:
    """Return what a callback gives to change nothing: a list where it fills several places."""
    return [nothing_new(each) for each in outputs] if isinstance(outputs, list) else no_update


def sorted_scripts(tags: str) -> str:
    """Return script tags without those that nothing needs, and the later ones as mere addresses."""
    return _SCRIPT.sub(_sorted, tags)


def _sorted(tag: re.Match[str]) -> str:
    address = tag[1]
    if _NEVER in address:
        return ""
    for name, part in LATER.items():
        if part in address:
            return f'<data hidden id="later-{name}" value="{address}"></data>\n'
    return tag[0]


class Markup(Component):
    """Ready HTML, shown by ``assets/markup.js``; it takes no room of its own.

    Parameters
    ----------
    html : markupsafe.Markup
        Every text from elsewhere in it is escaped.
    """

    _children_props: list[str] = []
    _base_nodes: list[str] = []
    _namespace = "gaittrack"
    _type = "Markup"
    _prop_names = ["html"]  # noqa: RUF012  as Dash's own components have it
    _valid_wildcard_attributes: list[str] = []
    available_properties = _prop_names
    available_wildcard_properties: list[str] = []

    def __init__(self, html: SafeText) -> None:
        super().__init__(html=html)  # type: ignore[no-untyped-call]
        self.html = html


def html_element(part: Component) -> tuple[str, dict[str, Any]] | None:
    """Return the element that a component of ``dash.html`` is, and the properties it was given.

    Returns None for a component of another library.
    """
    if part._namespace != "dash_html_components":
        return None
    given = {
        name: value
        for name, value in vars(part).items()
        if not name.startswith(("_", "available_"))  # what it knows of itself
    }
    return part._type.lower(), given
