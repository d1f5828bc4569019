"""The page for the person says what the answer says: of everybody, in both languages."""

import re
from dataclasses import replace
from itertools import product

import pytest
from markupsafe import Markup

from gaittrack.answer import answers
from gaittrack.report import html_parts
from gaittrack.report.board import answers_html
from gaittrack.report.language import language_codes
from gaittrack.report.pdf import browser, pdf_of
from gaittrack.report.person_html import STYLE, person_article
from tests.report.agreement import disagreements
from tests.report.board_agreement import board_disagreements
from tests.report.person_pages import (
    EVERY,
    LAST,
    SOME,
    MadeUpComparisons,
    called,
    of_some,
    page_of,
    pieces,
    prose,
    visit_of,
    with_rows,
)
from tests.report.readability import grade, sentences_of, words_of
from tests.sweeps import SWEEP

MOST_WORDS = 15
HIGHEST_GRADE = 6.0


@pytest.fixture(scope="module")
def pairs(tmp_path_factory):
    """Give each made-up comparison with its walks, by name."""
    return MadeUpComparisons(tmp_path_factory)


@of_some
@pytest.mark.parametrize("code", language_codes())
def test_every_point_and_name_agrees_with_the_answer(pairs, code, names, subtests):
    """Side, direction, condition, values, certainty; every question is told somewhere."""
    for name in names:
        pair = pairs[name]
        (answer,) = answers(pair[0])
        with subtests.test(name):
            assert disagreements(page_of(pair, code), answer) == []


@of_some
def test_every_sentence_and_board_agrees_with_the_rows(pairs, names, subtests):
    """As Compare, the pages and the terminal have them: leg, way, figures, verdicts."""
    for name in names:
        (answer,) = answers(pairs[name][0])
        with subtests.test(name):
            assert board_disagreements(answers_html([answer]), answer) == []


def other_sign(row):
    return replace(row, difference=-row.difference)


def other_condition(row):
    return replace(row, value=row.reference_value, reference_value=row.value)


def other_side(row):
    return replace(row, side={"left": "right", "right": "left"}[row.side])


def surer(row):
    is_less = row.verdict == "change_in_these_walks"
    return replace(row, verdict="larger") if is_less else row


@pytest.mark.parametrize("code", language_codes())
@pytest.mark.parametrize("fault", [other_sign, other_condition, other_side, surer])
def test_a_planted_flip_is_found(pairs, code, fault):
    """Another sign, condition, side or verdict on the page of anybody with a change."""
    for name in ("P01 visit-3", "P02 visit-3", "P03 visit-1", "P04 visit-2 -"):
        (answer,) = answers(pairs[name][0])
        planted = page_of(with_rows(pairs[name], fault), code)
        assert disagreements(planted, answer), name


@pytest.mark.parametrize("fault", [other_sign, other_condition, other_side, surer])
def test_a_planted_flip_of_a_board_is_found(pairs, fault):
    """Of a sign, condition, side or verdict, of anybody with a change."""
    for name in ("P01 visit-3", "P02 visit-3", "P03 visit-1", "P04 visit-2 -"):
        (answer,) = answers(pairs[name][0])
        (planted,) = answers(with_rows(pairs[name], fault)[0])
        assert board_disagreements(answers_html([planted]), answer), name


@pytest.mark.parametrize("code", language_codes())
def test_conditions_called_by_each_others_name_are_found(pairs, code, monkeypatch):
    """As if whoever words the page took the one for the other."""
    pair = pairs["P02 visit-3"]
    own = called(code)
    turned = replace(own, before=own.here, here=own.before)
    monkeypatch.setattr("tests.report.person_pages.called", lambda *_: turned)
    (answer,) = answers(pair[0])
    assert disagreements(page_of(pair, code), answer)


def test_the_leg_of_another_is_found(pairs):
    """A page that calls the right leg left."""
    pair = pairs["P02 visit-3"]
    page = page_of(pair)
    (answer,) = answers(pair[0])
    assert disagreements(replace(page, where=page.where.replace("right", "left")), answer)


ASKED = list(product(("person", "relatives", "parent"), ("brace", "visits")))
"""To whom a page is written, and what it compares."""


@pytest.mark.parametrize(
    "told",
    [
        pytest.param([(name, ASKED[n % 6]) for n, name in enumerate(SOME)], id="some"),
        pytest.param(list(product(EVERY, ASKED)), id="every", marks=SWEEP),
    ],
)
@pytest.mark.parametrize("code", language_codes())
def test_every_page_reads_at_grade_six_with_short_sentences(pairs, code, told, subtests):
    """By the formula of each language (``readability.py`` names them); numbers and all."""
    for name, (audience, kind) in told:
        more = {"audience": audience, "kind": kind, "visit": visit_of(name), "n_stale": 1}
        page = page_of(pairs[name], code, **more)
        with subtests.test(name, audience=audience, kind=kind):
            assert grade(code, " ".join(prose(page))) <= HIGHEST_GRADE
            sentences = [each for text in pieces(page) for each in sentences_of(text)]
            assert [each for each in sentences if len(words_of(each)) > MOST_WORDS] == []


@of_some
@pytest.mark.parametrize("code", language_codes())
def test_no_page_speaks_of_intervals_rates_or_a_middle_step(pairs, code, names):
    """What a person cannot use is not there."""
    words = "a second'?s? (slower|faster)|degrees a second|Grad je Sekunde|interval|95|middle step"
    for name in names:
        text = " ".join(pieces(page_of(pairs[name], code)))
        assert not re.search(f"{words}|mittlere", text), name


def test_a_heel_contact_regained_is_told_first(pairs):
    """Of P02: 0 of 12 steps with the heel first, 12 of 12 with the brace."""
    first = page_of(pairs["P02 visit-3"]).points[0]
    assert first.heading == "Your heel lands first"
    assert first.lines == (
        "Without the brace: the front of the foot lands first, in 12 of 12 steps.",
        "With the brace: the heel lands first, in 12 of 12 steps.",
    )
    lost = page_of(pairs["P02 visit-3 -"])
    assert "Your heel does not land first" in [point.heading for point in lost.points]


def test_the_ankle_at_contact_is_told_where_files_hold_angles_only(pairs):
    """Of P04, to a parent, with words for the child; what cannot be told has its column."""
    page = page_of(pairs["P04 visit-3"], audience="parent")
    assert page.title.startswith("Your child’s walk")
    assert page.points[0].heading == "As the foot lands, the toes are held higher"
    assert "points down by 18 degrees" in page.points[0].lines[0]
    assert page.has_untold_column and page.in_words[0] == "in words for the child"


def printed(pages):
    """Return the number of sheets of pages that are printed one after the other."""
    own = Markup('<div style="break-after: page">{}</div>')
    articles = [own.format(person_article(page)) for page in pages]
    whole = html_parts.page("all", articles, styles=(STYLE,), has_heading=False)
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf_of(whole)))


@pytest.mark.skipif(browser() is None, reason="needs Chromium")
@pytest.mark.parametrize("code", language_codes())
def test_every_page_prints_on_one_sheet(pairs, code):
    """Of everybody at the last visit, with what was examined, and the other way round."""
    pages = [
        page_of(pairs[name], code, audience=audience, visit=visit_of(name), n_stale=1)
        for name in (*LAST, *(f"{name} -" for name in LAST))
        for audience in (("parent",) if name.startswith("P04") else ("person", "relatives"))
    ]
    assert printed(pages) == len(pages) > 10
    assert printed([replace(pages[0], points=pages[0].points * 2)]) == 2
