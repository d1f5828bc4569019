"""What the screen Add walks asks once for several files, and what it says of the others.

In come the files that wait with what was found in them, out come questions, each with its one act.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from markupsafe import Markup as SafeText

from dashboards.add_walks.draft import FileGroup, uses_of
from dashboards.add_walks.files_table import press_html
from dashboards.add_walks.places import waiting_places
from dashboards.add_walks.row_states import RowState, answered, contents_at
from dashboards.add_walks.turn import Turn
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn
from gaittrack.compare.row_words import count_words
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.study.recordings.planning_form import Use


class AskedOnce(NamedTuple):
    """What is asked once: its words, the first in bold, and the acts that answer it."""

    bold: str
    words: str
    acts: Sequence[SafeText]


def asked_of(turn: Turn, groups: Sequence[FileGroup]) -> list[AskedOnce]:
    """Return what is asked once for several files."""
    asked = _several_visits(turn)
    looks = [one for each in turn.draft.looks.values() for one in each]
    n = len({one.row.path for one in looks if one.row.state == "asked about"})
    if n:
        act = press_html("It is the same person", {"act": "same person"}, "main")
        question = (
            "Is it the same person? Segments are of other lengths, or the header names another."
        )
        asked.append(AskedOnce(f"Asked once, for {count_words(n, 'file')}.", f" {question}", [act]))
    found = [contents_at(turn.basket.files[n].path, turn.draft) for g in groups for n in g.files]
    lacking = [
        one
        for one in found
        if one
        and one.missing
        and len(one.landmarks) < len(one.labels)
        and len(answered(one, turn.entered.affected)) < len(QUESTION_CODES)
    ]
    if lacking:
        act = press_html("Map their labels", {"act": "part", "part": "map"})
        question = "Some body points were not found, and labels of the files are not used."
        bold = f"Once, for {count_words(len(lacking), 'file')}."
        asked.append(AskedOnce(bold, f" {question}", [act]))
    return asked


def without_rate(turn: Turn) -> dict[int, Use]:
    """Return the tables at hand that lack their frames a second, by their place in the basket."""
    looks = turn.draft.looks
    return {
        n: use
        for n, use in uses_of(turn.groups).items()
        if any(one.lacks_rate for one in looks.get(turn.basket.files[n].path or Path(), []))
    }


def rate_words(n: int) -> str:
    """Return the question for the frames a second of sheets."""
    says = "The sheet does not say how many frames a second it holds."
    if n > 1:
        says = "The sheets do not say how many frames a second they hold."
    return f"Asked once, for {count_words(n, 'file')}. {says}"


def _several_visits(turn: Turn) -> list[AskedOnce]:
    """Return the visits of a tree, one of which is open; or that folders name somebody else."""
    draft, person = turn.draft, turn.entered.about.person
    waiting = waiting_places(draft, turn.basket)
    if draft.place is not None:
        buttons = [
            press_html(
                f"{' · '.join(filter(None, place)) or 'no name'}, {count_words(n, 'file')}",
                {"act": "place", "place": place},
                "main" if place == draft.place else "",
            )
            for place, n in waiting.items()
        ]
        bold = f"The folders name {len(waiting)} visits."
        whole = press_html("All of them at once", {"act": "part", "part": "tree"})
        return [AskedOnce(bold, " One is stored after the other, or", [*buttons, whole])]
    named = next((name for name, _ in waiting if name), "")
    if not named or not person or named == person:
        return []
    act = press_html(f"It is {named}", {"act": "person", "person": named})
    return [AskedOnce(f"The folder names {named}", f", and above stands {person}.", [act])]


def note(states: Mapping[int, RowState]) -> Markup:
    """Return what becomes of the files that are not ready."""
    n = sum(state.kind in ("waits", "trouble") for state in states.values())
    leave = press_html("Leave out all that need a word", {"act": "leave out all"}) if n else ""
    others = "The other stays" if n == 1 else f"The {n} others stay"
    stay = f"{others} here until you come back. " if n else ""
    return Markup(drawn("add_walks.note", leave, stay))
