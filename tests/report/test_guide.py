"""The guide says each question with its drawing, its definition, and what walks can show of it."""

import re
import xml.etree.ElementTree as ElementTree
from html import unescape

from gaittrack.compare.intervals.smallest_change import LEFT_ON, FromWalkToWalk, shown_changes
from gaittrack.compare.walked.questions import QUESTION_CODES, QUESTION_MEASURES
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.notice import NOTICE
from gaittrack.report.guide import guide_html

TOE = "minimum_toe_clearance_mm"


def text_of(page):
    """Return what a reader reads, in one line."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.split("<main>")[1])))


def test_each_question_has_its_drawing_definition_and_numbers():
    """In order; own scatter says so; it advises nothing and loads nothing."""
    scatters = {TOE: FromWalkToWalk(2.0, 40, 20.0)}
    page = guide_html(scatters)
    text = text_of(page)
    drawings = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert len(drawings) == len(set(drawings)) == len(QUESTION_CODES)
    for each in drawings:
        ElementTree.fromstring(each)
    assert all(MEASURE_BY_NAME[name].definition in text for name in QUESTION_MEASURES)
    (shown,) = (each for each in shown_changes(scatters, LEFT_ON) if each.measure == TOE)
    cells = [
        f"{aim:.1f} · {rest:.1f} mm"
        for aim, rest in zip(shown.as_aim, shown.without_aims, strict=True)
    ]
    assert " ".join(cells) in text
    assert "2.00 mm, of this laboratory's walks" in text
    assert "2.50°, published" in text and "not known before some walks" in text
    assert NOTICE in text
    assert not re.search(r"https?://|\bshould\b|\brecommend|\badvise", page)
