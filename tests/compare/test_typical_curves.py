"""A laboratory's typical curves are read as they are, and hold where their people were."""

import math

import pytest

from gaittrack.compare.typical_values.typical_curves import curves_at, read_own_typical
from gaittrack.errors import LayoutError

RANGE = "[[typical]]\nmeasure='step_width_mm'\nlow=50\nhigh=90\nsource='s'\n"
FLAT = ", ".join(["1.5"] * 101)
SD = ", ".join(["2"] * 101)


def curve(mean=FLAT, sd=SD, more="", angle="ankle"):
    """Give the table of a curve as a laboratory writes it."""
    return f"[curves.{angle}]\nmean = [{mean}]\nsd = [{sd}]\nsource = 'own 30 adults'\n{more}"


def read(tmp_path, text):
    """Read a file with this text."""
    path = tmp_path / "own.toml"
    path.write_text(text)
    return read_own_typical(path)


def test_a_curve_is_read_with_its_band_and_source(tmp_path):
    """Beside the ranges; each per cent has its own bounds."""
    rising = ", ".join(str(percent) for percent in range(101))
    found = read(tmp_path, RANGE + curve(mean=rising))
    (own,) = found.curves
    assert list(found.ranges) == ["step_width_mm"]
    assert (own.joint, own.source) == ("ankle", "own 30 adults")
    low, high = own.bounds
    assert (low[0], high[0], low[100], high[100]) == (-4, 4, 96, 104)


def test_a_file_of_curves_alone_has_no_ranges(tmp_path):
    """The built-in ones stay in use."""
    found = read(tmp_path, curve() + curve(angle="knee"))
    assert (found.ranges, [each.joint for each in found.curves]) == ({}, ["ankle", "knee"])


def test_a_curve_holds_at_the_speeds_and_ages_of_its_people(tmp_path):
    """Of what is not known, it is silent; a band must lie in its reach whole."""
    reach = "lowest_speed_m_s=0.9\nhighest_speed_m_s=1.3\nyoungest_years=18\noldest_years=59\n"
    (own,) = read(tmp_path, curve(more=reach)).curves
    assert [own.holds_at(speed) for speed in (0.89, 0.9, 1.3, 1.31, math.nan)] == [
        *(False, True, True, False, False)
    ]
    assert [own.holds_for(band) for band in ("20-29", "55-64", "10-19", "")] == [
        *(True, False, False, False)
    ]
    assert own.holds_for("10-19", 18.0) and not own.holds_for("20-29", 60.0)
    assert own.words.endswith("own 30 adults; 0.9 to 1.3 m/s; 18 to 59 years")
    assert list(curves_at([own], [(1.0, None), (1.2, True)])) == ["ankle"]
    assert curves_at([own], [(1.0, None), (0.6, None)]) == {}


def test_a_curve_without_a_reach_holds_always(tmp_path):
    """At a speed and for an age that are not known, too."""
    (own,) = read(tmp_path, curve()).curves
    assert (
        own.holds_at(math.nan)
        and own.holds_at(0.2)
        and own.holds_for("")
        and "m/s" not in (own.words)
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (curve(mean="1, 2"), "mean has 2 values"),
        (curve(sd=f"{SD}, 2"), "sd has 102 values"),
        (curve(mean=FLAT.replace("1.5", "nan", 1)), "mean is nan at 0 %"),
        (curve(mean=f"{FLAT[:-3]}true"), "mean is True at 100 %"),
        (curve(sd=f"{SD[:-1]}0"), "sd is 0 at 100 %"),
        (curve(angle="elbow"), "'elbow' is not an angle"),
        (curve(more="lowest_speed_m_s='slow'"), "not a number"),
        (curve(more="highest_speed_m_s=inf"), "not a number"),
        (curve(more="youngest_years=60\noldest_years=18"), "above its upper"),
        (curve(more="colour='red'"), "colour"),
        ("[curves.ankle]\nsource='s'", "missing"),
        ("[curves]\nankle = 3", "table was expected"),
        ("curves = 3", "table was expected"),
        (RANGE + curve().replace("curves", "curve"), "curve"),
        ("[curves]\n", "no .curves.ANGLE."),
    ],
)
def test_a_damaged_curve_is_refused(tmp_path, text, words):
    """What, where, what to do."""
    with pytest.raises(LayoutError, match=words) as refused:
        read(tmp_path, text)
    assert refused.value.where.startswith("own.toml") and refused.value.action
