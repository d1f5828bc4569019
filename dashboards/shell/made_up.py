"""A made-up person to look at, where nobody is in the study yet: one comparison, as a page.

In comes nothing of the study and nothing goes into it, out comes the page of walks that were made
up a moment ago. It is made once for as long as the program runs.
"""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from threading import Lock
from typing import Final

from flask import Flask, Response

from dashboards.shell.access import require
from dashboards.shell.doors import content_policy
from gaittrack.commands.made_up_study import made_up_comparison
from gaittrack.report.comparison_page import comparison_page

MADE_UP: Final = "/made-up"
_TOLD: Final = (
    '<p class="watch">A made-up person: nobody walked so, and nothing of this is in your study. '
    '<a href="/">Back to your study</a></p>'
)
_SCRIPT: Final = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_LOCK: Final = Lock()


def register(server: Flask) -> None:
    """Give the page its address."""

    @server.get(MADE_UP)
    def show() -> Response:
        require("view")
        with _LOCK:
            page = _page()
        answer = Response(page, mimetype="text/html")
        answer.headers["Content-Security-Policy"] = content_policy(_hashes(page))
        return answer


@cache
def _page() -> str:
    return comparison_page(made_up_comparison()).replace("<main>", f"<main>{_TOLD}", 1)


def _hashes(page: str) -> list[str]:
    """Return what lets the page's own script run, and no other."""
    digests = [hashlib.sha256(one.encode()).digest() for one in _SCRIPT.findall(page)]
    return [f"'sha256-{base64.b64encode(each).decode()}'" for each in digests]
