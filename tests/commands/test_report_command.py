"""``gaittrack report`` as a person or a script uses it."""

import pytest

from gaittrack.report.clinic import clinic_page
from gaittrack.report.pdf import VARIABLE, browser
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import open_study
from tests.study.conftest import write_visit


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Give a study of P01 at two visits."""
    from click.testing import CliRunner

    from gaittrack.commands import main

    people = tmp_path_factory.mktemp("people")
    write_visit(people / "P01" / "visit-1", seed=1, standing=False)
    write_visit(people / "P01" / "visit-2", number=2, days=42, seed=2, standing=False)
    folder = tmp_path_factory.mktemp("study") / "study"
    done = CliRunner().invoke(main, ["import", str(people), "--study", str(folder)])
    assert done.exit_code == 0, done.output
    return folder


def test_page_is_that_of_the_fair_pair(run, folder, tmp_path):
    """Printed, or written whole into a file; the same as everywhere else."""
    given = ("report", "P01", "--study", folder, "--visit", "visit-2")
    printed = run(*given)
    assert printed.exit_code == 0, printed.output
    study = open_study(folder)
    choice = first_choice(conditions_of(study, 1))
    found = compare_stored(study, choice.conditions, reference=choice.reference)
    assert printed.stdout == clinic_page(study, [found])
    study.close()
    assert found.comparison.settings["reference"] == "without-brace"
    out = tmp_path / "page.html"
    assert run(*given, "--out", out).exit_code == 0
    assert out.read_text(encoding="utf-8") == printed.stdout
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.skipif(browser() is None, reason="no browser on this machine")
def test_a_name_that_ends_in_pdf_gets_a_pdf(run, folder, tmp_path):
    """Whole, in the place of what was there."""
    out = tmp_path / "page.PDF"
    out.write_text("before", encoding="utf-8")
    done = run("report", "P01", "--study", folder, "--visit", "visit-2", "--out", out)
    assert done.exit_code == 0, done.output
    assert out.read_bytes().startswith(b"%PDF")
    assert list(tmp_path.iterdir()) == [out]


def test_without_a_browser_what_was_there_stays(run, folder, tmp_path, monkeypatch):
    """Exit code 2, and what to do."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "no-such-browser"))
    out = tmp_path / "page.pdf"
    out.write_text("before", encoding="utf-8")
    done = run("report", "P01", "--study", folder, "--visit", "visit-2", "--out", out)
    assert done.exit_code == 2
    assert "no-such-browser" in done.stderr
    assert out.read_text(encoding="utf-8") == "before"


def test_reference_and_visits_can_be_chosen(run, folder):
    """The other way round, and over two visits."""
    turned = run(
        *("report", "P01", "--study", folder, "--visit", "visit-1", "--reference", "with-brace")
    )
    assert "<title>Walking: without-brace against with-brace</title>" in turned.stdout
    names = ("with-brace, visit-1", "with-brace, visit-2")
    both = run(
        *("report", "P01", "--study", folder, "--visit", "visit-1", "--visit", "visit-2"),
        *(text for name in names for text in ("--condition", name)),
    )
    assert both.exit_code == 0, both.output
    assert "Recorded on different days: visit-1 and visit-2." in both.stdout
    each = run("report", "P01", "--study", folder, "--visit", "visit-1", "--visit", "visit-2")
    assert each.exit_code == 0, each.output
    assert "Recorded on different days" not in each.stdout
    assert each.stdout.count('<th scope="col">visit-1</th><th scope="col">visit-2</th>') == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("P09", "--visit", "visit-1"), "no person 'P09'"),
        (("P01", "--visit", "visit-7"), "There are: visit-1; visit-2"),
        (("P01", "--visit", "visit-1", "--condition", "barefoot"), "with-brace; without-brace"),
        (("P01", "--visit", "visit-1", "--condition", "with-brace"), "Fewer than two conditions"),
        (("P01", "--visit", "visit-1", "--out", "/nowhere/at/all.html"), "--out"),
        (("P01",), "--visit"),
    ],
)
def test_wrong_use_is_explained(run, folder, arguments, said):
    """Exit code 2, what there is, and no page."""
    result = run("report", *arguments, "--study", folder)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "<html" not in result.stdout
