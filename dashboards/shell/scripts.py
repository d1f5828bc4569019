"""Which of a page's scripts are read before the first screen, and which when they are needed.

In come the script tags that Dash collected, out come those the first screen needs. Drawing and the
grid are two thirds of all scripts and half of the time to the first screen; ``assets/later.js``
reads them when a screen asks.
"""

from __future__ import annotations

import re
from html import escape
from typing import Final

from dash import Dash

LATER: Final = {"plotly": "plotly-cartesian", "grid": "dash_ag_grid"}
"""What ``assets/later.js`` reads: its name there, and what its address holds."""
_NEVER: Final = "/dash_table/"
"""A table that no screen uses."""
_SCRIPT: Final = re.compile(r'<script src="([^"]*)"></script>\s*')


class LeanDash(Dash):
    """Dash with the scripts of its page sorted."""

    def interpolate_index(self, **parts: str) -> str:  # type: ignore[override]
        """Return the page, as Dash asks for it."""
        parts["scripts"] = sorted_scripts(parts["scripts"])
        return str(super().interpolate_index(**parts))  # type: ignore[no-untyped-call]


def sorted_scripts(tags: str) -> str:
    """Return script tags without those that nothing needs, and the later ones as mere addresses."""
    return _SCRIPT.sub(_sorted, tags)


def _sorted(tag: re.Match[str]) -> str:
    address = tag[1]
    if _NEVER in address:
        return ""
    for name, part in LATER.items():
        if part in address:
            return f'<data hidden id="later-{name}" value="{escape(address)}"></data>\n'
    return tag[0]
