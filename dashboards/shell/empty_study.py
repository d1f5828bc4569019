"""What a study without anybody shows: how to begin, and a made-up person to look at.

In comes whether somebody may add walks, out come three steps and the ways on.
"""

from __future__ import annotations

from typing import Final

from dash import dcc, html
from dash.development.base_component import Component

from dashboards.shell.guide_page import GUIDE
from dashboards.shell.made_up import MADE_UP

TITLE: Final = "This study is empty"
_STEPS: Final = (
    ("Choose the files", "C3D, or sheets of joint angles: CSV, text, XLSX"),
    ("Say who and what was worn", "a guess from folder and file names stands there already"),
    ("Look, then store", "each file says what can be measured from it"),
)
_BEGIN: Final = (
    "Begin with the walks of one person: some without the brace, some with it, best three or more "
    "of each."
)
_ONLY_LOOKS: Final = "Nobody is in this study yet. Somebody who may edit can add walks."


def empty_study(*, may_edit: bool, add_walks: str) -> Component:
    """Return the three steps and the ways on.

    Parameters
    ----------
    may_edit : bool
        Whether to offer to add walks.
    add_walks : str
        Address of the screen that adds them.
    """
    steps = [html.Li([html.B(name), html.Span(words)]) for name, words in _STEPS]
    made_up = html.A("Look at a made-up person", href=MADE_UP)
    guide = html.A("How a brace trial is recorded", href=GUIDE)
    add = [dcc.Link("Add walks", href=add_walks, className="main")] if may_edit else []
    parts = [
        html.P(_BEGIN if may_edit else _ONLY_LOOKS),
        html.Ol(steps, className="card"),
        html.Div([*add, made_up, guide], className="row ways"),
    ]
    return html.Section(parts, className="empty")
