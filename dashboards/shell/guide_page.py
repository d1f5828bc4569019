"""The guide at its address: how to record, and what this laboratory's own walks can show.

In comes a study, out comes one page, made anew each time: it goes by the walks that there are.
"""

from __future__ import annotations

from typing import Final

from flask import Flask, Response

from dashboards.shell.access import require
from dashboards.shell.doors import content_policy
from gaittrack.report.guide import guide_of
from gaittrack.study.store import Study

GUIDE: Final = "/guide"
_BACK: Final = '<nav><a href="/">Back to the study</a></nav>'


def register(server: Flask, study: Study) -> None:
    """Give the page its address."""

    @server.get(GUIDE)
    def show_guide() -> Response:
        require("view")
        page = guide_of(study).replace("</title>", " · gaittrack</title>", 1)
        page = page.replace("<h1>", f"{_BACK}<h1>", 1)
        answer = Response(page, mimetype="text/html")
        answer.headers["Content-Security-Policy"] = content_policy(())
        return answer
