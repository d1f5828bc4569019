"""The page for the person: the answer in plain words, at most three points, two pictures each.

In come a comparison, its walks and how the two ways of walking are called, out comes a
:class:`PersonPage` in one language for one audience. What is said is the answer of
``gaittrack.answer``; where it stands is chosen in ``person_points.py``; every text stands in
``gaittrack/words/``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup

from gaittrack.answer import Answer, Finding, answers
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_SHOWN,
)
from gaittrack.compare.judged.watch import SIGN_MEASURES
from gaittrack.compare.row_words import is_doubted
from gaittrack.compare.walked.questions import QUESTION_MEASURES
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.language import Audience, Language
from gaittrack.report.leg_drawing import svg
from gaittrack.report.person_everyday import everyday
from gaittrack.report.person_examined import broken_skin, examined
from gaittrack.report.person_pictures import MEASURES, drawings
from gaittrack.report.person_points import MOST_POINTS, Point, ToldPoints, told_points
from gaittrack.report.person_words import Called, Words

MEASURES_NEEDED: Final = MEASURES | QUESTION_MEASURES | SIGN_MEASURES
"""All that a comparison has to know for the page."""
_FULL_SIZE_CHARACTERS: Final = 800
_SHRINKING: Final = 7500
_SMALLEST: Final = 0.75
_BOX_CHARACTERS: Final = 400
"""So much text is printed in full size, so much more in none; the box for a child takes its room.
Tried with made-up people."""
_QUIET: Final = {
    "too_little": (CHANGE_IN_THESE_WALKS,),
    "no_change": (NO_CHANGE,),
    "not_shown": (NOT_SHOWN, NO_ERROR_FIGURE),
}
_MEASURED_OTHERWISE: Final = "measured_otherwise"
_NOT_WRITTEN_DOWN: Final = "not_written_down"
_BRACE: Final = "brace"
_MEET: Final = "how_the_foot_meets_the_floor"
_SIDES_OF_PAGE: Final = ("without", "with")


@dataclass(frozen=True, slots=True)
class PagePicture:
    """One picture: ``kind`` gives its colour, ``how`` and ``caption`` stand below it."""

    svg: Markup
    kind: str
    how: str
    caption: str


@dataclass(frozen=True, slots=True)
class PagePoint:
    """One point in words.

    Attributes
    ----------
    leg : str
        Whose it is; empty where the page is about one leg.
    notes : tuple of str
        How to read the pictures, and what was measured.
    """

    topic: str
    leg: str
    heading: str
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    pictures: tuple[PagePicture, ...]


@dataclass(frozen=True, slots=True)
class PageList:
    """A list below the points; ``name`` is its key, of an item ``(what, why)``."""

    name: str
    heading: str
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PersonPage:
    """The page in words.

    Attributes
    ----------
    language : str
        Code.
    first : tuple of str
        What stands first on every page: skin that is broken.
    lists : tuple of PageList
        The rest, none of them empty.
    in_words : tuple of str
        For a child: heading, and the words; else empty.
    """

    language: str
    where: str
    sheet: str
    title: str
    first: tuple[str, ...]
    lead: tuple[str, ...]
    points: tuple[PagePoint, ...]
    lists: tuple[PageList, ...]
    in_words: tuple[str, ...]
    notice: str

    @property
    def has_untold_column(self) -> bool:
        """Whether what cannot be told stands beside the points."""
        return len(self.points) < MOST_POINTS and any(e.name == "untold" for e in self.lists)

    @property
    def fit(self) -> float:
        """How large letters and pictures are printed, to keep to one sheet; 1 is full size."""
        told = [text for point in self.points for text in (*point.lines, *point.notes)]
        told += [text for each in self.lists for item in each.items for text in item]
        n = sum(map(len, (*told, *self.first, *self.in_words)))
        n += _BOX_CHARACTERS * bool(self.in_words)
        return round(min(1.0, max(_SMALLEST, 1 - (n - _FULL_SIZE_CHARACTERS) / _SHRINKING)), 3)


def person_page(
    comparison: Comparison,
    records: Sequence[WalkRecord],
    called: Called,
    language: Language,
    *,
    audience: Audience = "person",
    visit: VisitFacts | None = None,
    n_stale: int = 0,
) -> PersonPage:
    """Write the page.

    Parameters
    ----------
    comparison : Comparison
        Of two conditions, with the ``MEASURES_NEEDED``.
    records : sequence of WalkRecord
        The walks in it; with the curves of ``CURVES`` a knee and a thigh are drawn as measured.
    visit : VisitFacts, optional
        What was examined on the day.
    n_stale : int
        Results that are not of today's software and settings.
    """
    (answer, *_) = answers(comparison)
    words = Words(language, called, audience, records)
    told = told_points(answer, words.is_told_apart)
    draft = _Draft(comparison, records, answer, told, words)
    lists = [
        ("also", [_in_full(point, draft) for point in told.also]),
        ("talk", list(_signs(draft))),
        ("examined", [(text, "") for text in (examined(visit, words) if visit else ())]),
        ("everyday", list(everyday(comparison, words))),
        ("untold", list(_untold(draft))),
        *((name, list(_quiet(draft, verdicts))) for name, verdicts in _QUIET.items()),
        ("about", [(text, "") for text in _about(draft, language, n_stale)]),
    ]
    return PersonPage(
        language=language.code,
        where=" · ".join(filter(None, (called.where, words.leg(answer.legs)))),
        sheet=words.say("page.sheet"),
        title=words.say(f"page.title_{called.kind}"),
        first=tuple(broken_skin(visit, words) if visit else ()),
        lead=tuple(_lead(draft)),
        points=tuple(_page_point(point, draft) for point in told.points),
        lists=tuple(
            PageList(name, words.say(f"page.{name}"), tuple(dict.fromkeys(items)))
            for name, items in lists
            if items
        ),
        in_words=tuple(_in_words(draft)),
        notice=words.say("notice.text"),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Draft:
    """What the parts of a page are written from."""

    comparison: Comparison
    records: Sequence[WalkRecord]
    answer: Answer
    told: ToldPoints
    words: Words

    @property
    def n_legs(self) -> int:
        """Of how many legs the page tells."""
        return len(self.answer.legs)

    @property
    def worn(self) -> tuple[str, str]:
        """Class of the brace in the reference and in the condition; empty without one."""
        settings: dict[str, dict[str, Any]] = self.comparison.settings["conditions"]
        names = (self.answer.reference, self.answer.condition)
        worn = [Condition(name, **settings.get(name, {})) for name in names]
        braced = [each.is_braced for each in worn]
        if self.words.called.kind == "brace":
            braced = [False, True]
        before, here = (
            str(each.facts.get("orthosis_class") or _BRACE) if is_braced else ""
            for each, is_braced in zip(worn, braced, strict=True)
        )
        return before, here


def _lead(draft: _Draft) -> Iterator[str]:
    words, answer = draft.words, draft.answer
    counts = {answer.reference: 0, answer.condition: 0}
    for record in draft.records:
        counts[record.condition] += sum(len(record.contacts.get(leg, ())) for leg in answer.legs)
    before, here = counts.values()
    legs = "_legs" if draft.n_legs > 1 else ""
    leg = words.leg(answer.legs)
    if before == here and words.called.kind == "brace":
        yield words.say(f"page.steps_each{legs}", n=here, leg=leg)
    else:
        yield words.say(f"page.steps{legs}", n_before=before, n_here=here, leg=leg)
    if words.called.worn:
        yield words.called.worn
    if not any(point.is_sure for point in (*draft.told.points, *draft.told.also)):
        yield words.say("page.nothing")


def _page_point(point: Point, draft: _Draft) -> PagePoint:
    words, answer = draft.words, draft.answer
    captions = words.captions(point)
    said = words.rulers(point)
    rows = {(row.measure, row.side): row for row in draft.comparison.rows}
    names = (answer.reference, answer.condition)
    drawn = drawings(point, rows, draft.records, draft.worn, said, names)
    called = (words.called.before, words.called.here)
    pictures = tuple(
        PagePicture(svg(parts, f"{how}: {caption}", kind), kind, how, caption)
        for (parts, _), kind, how, caption in zip(
            drawn, _SIDES_OF_PAGE, called, captions, strict=True
        )
    )
    notes = [words.say(f"picture.{code}") for _, codes in drawn for code in codes]
    if any(row.measure == "toe_height_under_hip_mm" for row in point.rows):
        notes.append(words.say("picture.under_hip"))
    if len(point.legs) > 1:
        notes.append(words.say("picture.one_leg", leg=words.leg(point.legs[:1])))
    return PagePoint(
        point.topic,
        words.leg(point.legs) if draft.n_legs > 1 and point.legs else "",
        words.heading(point),
        tuple(words.lines(point)),
        tuple(dict.fromkeys(notes)),
        pictures,
    )


def _in_full(point: Point, draft: _Draft) -> tuple[str, str]:
    """Return a change that has no place among the points."""
    words = draft.words
    leg = point.legs and (draft.n_legs > 1 or point.legs != draft.answer.legs)
    heading = words.heading(point) + (f" ({words.leg(point.legs)})" if leg else "")
    return f"{heading}.", " ".join(words.lines(point))


def _signs(draft: _Draft) -> Iterator[tuple[str, str]]:
    for item in draft.told.signs:
        yield draft.words.sign(item), ""
    for item in draft.answer.signs_without_too:
        yield draft.words.sign(item, is_in_both=True), ""


def _untold(draft: _Draft) -> Iterator[tuple[str, str]]:
    """Yield what could not be told, and why; a heel contact that is not known too."""
    words = draft.words
    for findings in _of_questions(draft.told.untold):
        yield words.name(findings, n_legs=draft.n_legs), words.why(findings[0])
    if any(each.question == _MEET and each.heel is None for each in draft.answer.findings):
        yield words.say("heel.name"), words.why_no_heel()


def _quiet(draft: _Draft, verdicts: Sequence[str]) -> Iterator[tuple[str, str]]:
    own = [each for each in draft.told.quiet if each.verdict in verdicts]
    for findings in _of_questions(own):
        yield draft.words.quiet(findings, n_legs=draft.n_legs), ""


def _of_questions(findings: Sequence[Finding]) -> list[list[Finding]]:
    found: dict[str, list[Finding]] = {}
    for each in findings:
        found.setdefault(each.question, []).append(each)
    return list(found.values())


def _in_words(draft: _Draft) -> Iterator[str]:
    """Yield what a child is told: the first point, in words to the child."""
    words = draft.words
    if words.audience == "parent" and draft.told.points:
        child = Words(words.language, words.called, "child", words.records)
        point = draft.told.points[0]
        yield words.say("page.in_words")
        yield f"{child.heading(point)}. {' '.join(child.lines(point))}"


def _about(draft: _Draft, language: Language, n_stale: int) -> Iterator[str]:
    if n_stale:
        yield language.texts["fair.stale"]
    rows = [row for finding in draft.answer.findings for row in finding.rows]
    if any(is_doubted(row.labels) for row in rows):
        yield language.texts["fair.doubted"]
    keys = dict.fromkeys(
        fair_key(note.reason.code, note.level, language) for note in draft.comparison.fairness
    )
    for key in sorted(keys, key=lambda key: key in (_MEASURED_OTHERWISE, _NOT_WRITTEN_DOWN)):
        yield language.texts[f"fair.{key}"]


def fair_key(code: str, level: str, language: Language) -> str:
    """Return the key of the sentence for a fairness note; technical ones share one."""
    if f"fair.{code}" in language.texts:
        return code
    return _MEASURED_OTHERWISE if level == "warning" else _NOT_WRITTEN_DOWN
