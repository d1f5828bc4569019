"""The mean change of a cohort along the cycle: its title answers, bars stand where it is not 0."""

import numpy as np
import plotly.graph_objects as go
import pytest

from gaittrack.cohort.asking.mean_curves import CohortCurve, where_not_0
from gaittrack.compare.intervals.curve_bands import mean_band
from gaittrack.figures.cohort_curve import curve_rows, draw_cohort_curve


def curve_of_people(n_people, size):
    """Make changes of people: size up in the first half of the cycle, down in the second."""
    rng = np.random.default_rng(0)
    shape = np.where(np.arange(101) < 50, 1.0, -1.0)
    band = mean_band(size * shape + rng.normal(scale=0.5, size=(n_people, 1)) * np.ones(101))
    return CohortCurve("ankle", band, where_not_0(band), tuple(map(str, range(n_people))), ())


def test_the_title_answers_and_bars_stand_where_the_mean_is_not_0():
    """With band, mean and one bar a stretch, as plotly takes it; the numbers are those drawn."""
    curve = curve_of_people(20, 4.0)
    figure = draw_cohort_curve(curve)
    layout = go.Figure(figure).layout
    assert layout.title.text == "Ankle: higher at 0–49 %, lower at 50–100 %"
    bars = [(each.x0, each.x1) for each in layout.shapes]
    assert bars == list(curve.stretches) and len(bars) == 2
    band, mean = figure["data"]
    assert band["y"][0] == pytest.approx(curve.band.high[0], abs=0.005)
    assert band["y"][-1] == pytest.approx(curve.band.low[0], abs=0.005)
    assert mean["y"] == pytest.approx(curve.band.mean, abs=0.005)
    rows = curve_rows(curve)
    assert [float(row[0]) for row in rows] == list(range(101))
    told = np.array([[float(cell) for cell in row[1:]] for row in rows])
    assert told == pytest.approx(
        np.stack([curve.band.mean, curve.band.low, curve.band.high], 1), abs=0.006
    )


def test_without_a_difference_or_a_band_the_title_says_so():
    """Nobody is told where there is nothing to tell."""
    assert draw_cohort_curve(curve_of_people(20, 0.0))["layout"]["title"]["text"] == (
        "Ankle: nowhere is a mean change shown"
    )
    few = draw_cohort_curve(curve_of_people(3, 4.0))
    assert few["layout"]["title"]["text"] == "Ankle: too few people for a band"
    assert len(few["data"]) == 1 and not few["layout"]["shapes"]
    assert curve_rows(curve_of_people(3, 4.0))[0][2:] == ["-", "-"]
