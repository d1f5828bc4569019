"""What somebody writes in Python; the strict type checker reads it with the package."""

import pandas as pd

import gaittrack
from gaittrack import compare, measure

walks = measure(["sample_trials/P04/visit-1/with-brace"], rate_hz=None)
strides: pd.DataFrame = walks.strides()
refused: list[str] = [each.path.name for each in walks if isinstance(each, gaittrack.RefusedFile)]
changes: pd.DataFrame = compare("sample_trials/P04/visit-1", affected="right").changes()


def people_of(folder: str) -> pd.DataFrame:
    """Return who is in a study."""
    with gaittrack.open_study(folder) as study:
        return study.people()


def slip() -> None:
    """Ask for a name there is none of: the type checker sees it."""
    gaittrack.mesure("walk.c3d")  # type: ignore[attr-defined]
