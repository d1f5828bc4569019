"""A page is printed by the browser of this computer, or an error says what to do."""

import shutil
import tempfile

import pytest

from gaittrack.errors import StudyError
from gaittrack.report.pdf import VARIABLE, browser, pdf_of

PAGE = "<!doctype html><title>Walking</title><p>Not defined"


@pytest.mark.skipif(browser() is None, reason="no browser on this machine")
def test_nothing_of_a_page_stays_behind(tmp_path, monkeypatch):
    """Neither the page nor what the browser keeps."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert pdf_of(PAGE).startswith(b"%PDF")
    assert list(tmp_path.iterdir()) == []


def test_without_a_browser_it_says_what_to_do(tmp_path, monkeypatch):
    """No program of the name on the path."""
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(StudyError, match="make the HTML page"):
        pdf_of(PAGE)


@pytest.mark.parametrize("program", ["false", "true"])
def test_a_program_that_prints_nothing_is_named(program, tmp_path, monkeypatch):
    """One that fails, and one that ends well without a file."""
    monkeypatch.setenv(VARIABLE, shutil.which(program))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with pytest.raises(StudyError, match=f"{program} printed nothing"):
        pdf_of(PAGE)
    assert list(tmp_path.iterdir()) == []
