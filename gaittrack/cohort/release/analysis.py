"""The notebook and the script that make the main table of an export again.

In come the texts beside this module, out come the files as they lie in an export.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final

NOTEBOOK: Final = "analysis.ipynb"
SCRIPT: Final = "analysis.R"
_CELL: Final = "# %%"
_WORDS: Final = " [markdown]"


def analysis_files() -> dict[str, str]:
    """Return the files by name."""
    folder = files("gaittrack.cohort.release")
    cells = (folder / "analysis_cells.txt").read_text(encoding="utf-8")
    return {
        NOTEBOOK: json.dumps(_notebook(cells), indent=1) + "\n",
        SCRIPT: (folder / SCRIPT).read_text(encoding="utf-8"),
    }


def _notebook(text: str) -> dict[str, Any]:
    """Return a notebook, format 4.5, from cells parted by ``# %%``."""
    parts = text.split(_CELL)[1:]
    return {
        "cells": [_cell(number, part) for number, part in enumerate(parts, 1)],
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def _cell(number: int, part: str) -> dict[str, Any]:
    named: dict[str, Any] = {"id": f"cell-{number}", "metadata": {}}
    if part.startswith(_WORDS):
        lines = part.removeprefix(_WORDS).strip().splitlines()
        words = [line.removeprefix("#").removeprefix(" ") for line in lines]
        return named | {"cell_type": "markdown", "source": _lines("\n".join(words))}
    code: dict[str, Any] = {"cell_type": "code", "execution_count": None, "outputs": []}
    return named | code | {"source": _lines(part.strip())}


def _lines(text: str) -> list[str]:
    return text.splitlines(keepends=True)
