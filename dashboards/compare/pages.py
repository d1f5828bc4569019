"""What of a comparison is taken away: the page for the file, everything on one page, a workbook.

In come what was picked and the right to export, out come files.
"""

from __future__ import annotations

from typing import Any

from dash import Dash, Input
from dash import no_update as unchanged

from dashboards.compare import side_by_side
from dashboards.compare.comparison_parts import EVERYTHING, PAPER, WORKBOOK
from dashboards.compare.looks import CHOICE, WORKING, Looks
from dashboards.shell.access import require, visitor
from dashboards.shell.handing_out import file_output, hand_out_bytes, hand_out_page
from gaittrack.file_comparison import FileComparison
from gaittrack.report.clinic import clinic_page, made_now
from gaittrack.report.comparison_page import comparison_page
from gaittrack.report.comparison_workbook import XLSX, comparison_workbook
from gaittrack.study.results.comparing import StoredComparison, compare_stored

PAGES = "compare"


def register(app: Dash, looks: Looks) -> None:
    """Register the callbacks that hand out."""
    _register_pages(app, looks)
    _register_workbook(app, looks)


def _register_pages(app: Dash, looks: Looks) -> None:
    @app.callback(
        file_output(PAGES),
        Input(PAPER, "data"),
        *CHOICE,
        prevent_initial_call=True,
    )
    def write_paper(pressed: Any, choice: Any, picked: Any) -> Any:
        require("export")
        if not pressed:
            return unchanged
        found = [looks.compared(choice, picked)]
        page = clinic_page(looks.study, found, made_now(visitor().name))
        return hand_out_page(page, "page-for-the-file.html")

    @app.callback(
        file_output(PAGES, is_shared=True),
        Input(EVERYTHING, "data"),
        *CHOICE,
        running=WORKING,
        prevent_initial_call=True,
    )
    def write_everything(pressed: Any, choice: Any, picked: Any) -> Any:
        require("export")
        if not pressed:
            return unchanged
        found = looks.compared(choice, picked)
        visits = looks.visits(picked["conditions"])
        page = comparison_page(_with_all_curves(looks, found, picked), visits)
        return hand_out_page(page, "comparison.html")


def _register_workbook(app: Dash, looks: Looks) -> None:
    @app.callback(
        file_output(PAGES, is_shared=True),
        Input(WORKBOOK, "data"),
        *CHOICE,
        prevent_initial_call=True,
    )
    def write_workbook(pressed: Any, choice: Any, picked: Any) -> Any:
        require("export")
        if not pressed:
            return unchanged
        book = comparison_workbook(looks.compared(choice, picked))
        return hand_out_bytes(book, "comparison.xlsx", XLSX)


def _with_all_curves(looks: Looks, found: StoredComparison, picked: Any) -> FileComparison:
    """Return what is compared with the curves of all angles and a walk of each to replay."""
    whole = compare_stored(looks.study, list(found.names), reference=picked["reference"])
    walks = side_by_side.replay_walks(looks.study, looks.walks, found)
    return FileComparison(whole.comparison, walks, whole.records, (), ())
