"""The page for the person: at most three points in plain words, one picture each.

In come a comparison, its walks and how the two ways of walking are called, out comes a
:class:`PersonPage` in one language, and from it one page of HTML that loads nothing. What is shown
is chosen in ``person_points.py``; every text stands in ``gaittrack/words/``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.walks import WalkRecord
from gaittrack.report.language import Language
from gaittrack.report.person_pictures import draw_point
from gaittrack.report.person_points import AT_ONE_MOMENT, ChosenPoints, Point, choose_points
from gaittrack.report.person_words import Called, Words

_MEASURED_OTHERWISE: Final = "measured_otherwise"
_NOT_WRITTEN_DOWN: Final = "not_written_down"


@dataclass(frozen=True, slots=True)
class PagePoint:
    """One point in words.

    Attributes
    ----------
    name : str
        Of its topic.
    about : str
        What the number is.
    picture : str
        SVG.
    alt, caption : str
        What the picture shows, and how to read it.
    """

    name: str
    heading: str
    lines: tuple[str, ...]
    about: str
    picture: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class PersonPage:
    """The page in words.

    Attributes
    ----------
    language : str
        Code.
    also, missing, unsure : tuple of str
        Sentences; each list with its heading.
    """

    language: str
    title: str
    where: str
    lead: tuple[str, ...]
    points: tuple[PagePoint, ...]
    also_heading: str
    also: tuple[str, ...]
    missing_heading: str
    missing: tuple[str, ...]
    unsure_heading: str
    unsure: tuple[str, ...]
    notice: str


def person_page(
    comparison: Comparison,
    records: Sequence[WalkRecord],
    called: Called,
    language: Language,
    *,
    n_stale: int = 0,
) -> PersonPage:
    """Write the page.

    Parameters
    ----------
    comparison : Comparison
        Of two conditions.
    records : sequence of WalkRecord
        The walks in it.
    n_stale : int
        Results that are not of today's software and settings.
    """
    chosen = choose_points(comparison, records)
    words = Words(language, called)
    points = tuple(_page_point(point, records, words) for point in chosen.points)
    also = [words.heading(point) + "." for point in chosen.also]
    also += [words.sign(item) for item in chosen.signs]
    if chosen.rest:
        names = ", ".join(
            words.name(point.topic, point.row.side, chosen.sides) for point in chosen.rest
        )
        also.append(language.say("page.rest", names=names))
    say = language.say
    return PersonPage(
        language=language.code,
        title=say(f"page.title_{called.kind}"),
        where=called.where,
        lead=tuple(_lead(comparison, records, words, chosen)),
        points=points,
        also_heading=say("page.also"),
        also=tuple(dict.fromkeys(also)),
        missing_heading=say("page.missing"),
        missing=tuple(
            line for each in chosen.missing for line in words.missing(each, chosen.sides)
        ),
        unsure_heading=say("page.unsure"),
        unsure=tuple(_unsure(comparison, called, language, n_stale)),
        notice=say("notice.text"),
    )


def _lead(
    comparison: Comparison, records: Sequence[WalkRecord], words: Words, chosen: ChosenPoints
) -> Iterator[str]:
    sides = chosen.sides
    reference = comparison.settings["reference"]
    counts = [0, 0]
    for record in records:
        n_steps = sum(len(record.contacts.get(side, ())) for side in sides)
        counts[record.condition != reference] += n_steps
    if not chosen.points:
        yield words.language.say("page.nothing")
    yield words.say("page.steps", n_before=counts[0], n_here=counts[1])
    if words.called.worn:
        yield words.called.worn
    if len(sides) == 1:
        yield words.say("page.side", side=words.side(sides[0]))
    elif chosen.points:
        yield words.say("page.both_sides", side=words.side(sides[0]))


def _page_point(point: Point, records: Sequence[WalkRecord], words: Words) -> PagePoint:
    topic = point.topic.name
    before, here = words.values(point)
    alt = words.say(f"{topic}.alt", value_before=before, value_here=here)
    say = words.language.say
    picture, caption = draw_point(
        point,
        records,
        labels=((words.called.before, before), (words.called.here, here)),
        alt=alt,
        floor=say("picture.floor"),
    )
    return PagePoint(
        topic,
        words.heading(point),
        tuple(_lines(point, words)),
        say(f"{topic}.about_moment" if point.row.measure in AT_ONE_MOMENT else f"{topic}.about"),
        picture,
        alt,
        say(caption),
    )


def _lines(point: Point, words: Words) -> Iterator[str]:
    row, language = point.row, words.language
    if point.outcome not in ("more", "less"):
        yield language.say(f"result.{point.outcome}")
    if point.outcome != "same" and point.n_here:
        word = language.say(f"{point.topic.name}.{'more' if point.is_up else 'less'}_word")
        yield words.say("result.count", n=point.n_beyond, n_all=point.n_here, word=word)
    if point.topic.name in ("landing", "foot_down") and point.heels[1] and point.heels_before[1]:
        yield words.heels(point)
    if math.isfinite(row.low) and point.outcome not in ("same", "one_walk"):
        low, high = words.change(point, row.low, -1), words.change(point, row.high, 1)
        yield language.say("result.range", low=low, high=high)
    if math.isfinite(row.measurement_error):
        error = language.quantity(row.measurement_error, row.unit, towards=1)
        yield language.say("result.error", error=error)


def _unsure(
    comparison: Comparison, called: Called, language: Language, n_stale: int
) -> Iterator[str]:
    if n_stale:
        yield language.say("fair.stale")
    keys = dict.fromkeys(
        fair_key(note.reason.code, note.level, language) for note in comparison.fairness
    )
    for key in sorted(keys, key=lambda key: key in (_MEASURED_OTHERWISE, _NOT_WRITTEN_DOWN)):
        yield language.say(f"fair.{key}")


def fair_key(code: str, level: str, language: Language) -> str:
    """Return the key of the sentence for a fairness note; technical ones share one."""
    if f"fair.{code}" in language.texts:
        return code
    return _MEASURED_OTHERWISE if level == "warning" else _NOT_WRITTEN_DOWN
