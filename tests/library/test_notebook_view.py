"""What a notebook or a terminal shows of results: short, escaped, with the caution."""

import dataclasses
import html
import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from markupsafe import escape

import gaittrack
from gaittrack.notebook_view import Shown, brief
from gaittrack.notice import NOTICE

SAMPLES = Path(__file__).parents[2] / "sample_trials"
EVIL = "<img src=x onerror=alert(1)>&\x1b[31m.c3d"


@pytest.fixture(scope="module")
def compared():
    """Give a comparison of recordings, with all that it was made from."""
    visit = SAMPLES / "P01" / "visit-2"
    return gaittrack.compare({name: visit / name for name in ("without-brace", "with-brace")})


def parts_of(value, seen=None):
    """Yield a result and every dataclass in it, once."""
    seen = set() if seen is None else seen
    if id(value) in seen:
        return
    seen.add(id(value))
    if dataclasses.is_dataclass(value):
        yield value
        inside = [getattr(value, each.name) for each in dataclasses.fields(value)]
    elif isinstance(value, Mapping):
        inside = list(value.values())
    else:
        inside = list(value) if isinstance(value, tuple | list) else []
    for each in inside:
        yield from parts_of(each, seen)


def test_every_result_is_shown_in_ten_lines(compared):
    """The comparison and whatever is in it: trials, motions, cycles, walks, bands, rows."""
    parts = list(parts_of(compared))
    kinds = {type(part).__name__ for part in parts}
    assert {"Trial", "Motion", "Cycle", "WalkRecord", "Band", "Comparison"} <= kinds
    for part in parts:
        assert len(repr(part).splitlines()) <= 10, type(part)
        assert len(repr(part)) <= 1200, type(part)


def test_dataclasses_that_are_shown_have_no_repr_of_their_own(compared):
    """The one a dataclass makes by itself would print every array."""
    shown = [part for part in parts_of(compared) if isinstance(part, Shown)]
    assert shown and all("__repr__" not in vars(type(part)) for part in shown)


def test_results_come_with_the_notice(compared):
    """Where numbers or rows stand; a recording as it stands in its file has none."""
    walk = compared.walks["with-brace"][0]
    measured = gaittrack.measure(walk.path)
    for result in (compared, compared.comparison, walk, measured):
        assert str(escape(NOTICE)) in result._repr_html_(), type(result)
    assert "not a medical device" not in walk.trial._repr_html_()


def test_headline_rows_are_shown_in_the_words_of_the_page(compared):
    """Title, unit, verdict; what fires and what is not fair below them."""
    shown = html.unescape(compared._repr_html_())
    for words in ("Peak swing dorsiflexion", "measurement error", "95 % interval"):
        assert words in shown
    assert all(str(note.reason) in shown for note in compared.comparison.fairness)
    assert len(shown) < 20_000


def test_names_of_files_are_escaped(tmp_path):
    """A tag is shown, not run; what a terminal would obey is written out."""
    walk = tmp_path / EVIL
    shutil.copy(SAMPLES / "P01" / "visit-2" / "with-brace" / "walk-1.c3d", walk)
    broken = tmp_path / f"broken{EVIL}"
    broken.write_text("nothing")
    found = gaittrack.measure([walk, broken])
    trial = found[0].trial
    assert [len(found), type(found[1]).__name__] == [2, "RefusedFile"]
    for result in (found, found[0], found[1], trial):
        assert "<img" not in result._repr_html_() and "&lt;img" in result._repr_html_()
        assert "\x1b" not in result._repr_html_() + repr(result)


def test_refused_file_says_why_in_rows(tmp_path):
    """The refusal and each fault found, with where and what to do; the batch keeps it."""
    (tmp_path / "empty.c3d").touch()
    found = gaittrack.measure(tmp_path)
    rows = found[0].refusals()
    assert rows["file"].tolist() == [(tmp_path / "empty.c3d").as_posix()]
    assert rows.loc[0, "reason"] == "The file is empty."
    assert rows.loc[0, "action"] == "Export the recording again."
    assert found.values().empty and found.strides().empty
    assert found.files()[["state", "n_kept"]].iloc[0].tolist() == ["refused", 0]


def test_sheet_of_several_conditions_has_no_walk_value(tmp_path):
    """Nothing is averaged over conditions; the reason names them, the strides stand there."""
    lines = ["condition,cycle,side,percent,ankle dorsiflexion (deg),toe-off (%),cycle time (s)"]
    for name in ("without", "with"):
        lines += [f"{name},1,left,{x},{10 - abs(x - 45) / 5:.3f},60,1.1" for x in range(101)]
    (tmp_path / "both.csv").write_text("\n".join(lines))
    found = gaittrack.measure(tmp_path / "both.csv")
    assert found.strides()["value"].notna().sum() > 2
    assert found.values()["value"].isna().all()
    assert set(found.values()["reason"]) == {"the sheet holds several conditions (without, with)"}


def test_value_in_few_words():
    """Numbers short, of many values some names and how many, nothing too long."""
    assert brief(float("nan")) == "-"
    assert brief(0.25) == "0.25"
    assert brief(tuple("abcdefgh")) == "[a, b, c, d, e, f, … (8)]"
    assert brief({("left", "ankle"): 1}) == "[left ankle]"
    assert len(brief("x" * 500)) == 60
    assert brief(Path("/some" * 50, "walk.c3d")).endswith("/walk.c3d")
    assert brief("one\ntwo") == "one two"
