"""What stands around the files on the screen Add walks: the sentence, the three steps, what holds.

In come counts and who it is about, out come the sentence on top, the strip of steps and the card
that says what is taken over from the last visit.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from dashboards.add_walks.draft import FilesDraft
from dashboards.add_walks.files_table import press_html
from dashboards.add_walks.row_states import RowState
from dashboards.add_walks.uploads import Basket
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn
from gaittrack.compare.row_words import count_words

_NUMBERS: Final = (
    *("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth"),
    "Tenth",
)
_TITLES: Final = ("Files", "Who, which visit, what was worn", "Look and store")


@dataclass(frozen=True, slots=True)
class About:
    """Who and which visit, as far as it is said.

    Attributes
    ----------
    known : mapping
        Of the person: ``last``, ``code`` and ``number`` of the next visit.
    """

    person: str
    visit: str
    known: Mapping[str, Any]

    @property
    def words(self) -> str:
        """Whose visit it is; empty while nobody is named."""
        if not self.person:
            return ""
        number = self.known.get("number")
        if self.visit != self.known.get("code") or not isinstance(number, int):
            return f"{self.visit or 'A visit'} of {self.person}"
        is_word = 0 < number <= len(_NUMBERS)
        return f"{_NUMBERS[number - 1] if is_word else f'Visit {number}'}" + (
            f" visit of {self.person}" if is_word else f" of {self.person}"
        )


def headline(about: About, states: Collection[RowState], looking: str) -> str:
    """Return the sentence over the files that wait.

    Parameters
    ----------
    looking : str
        How far looking at them is; empty when that is over.
    """
    meant = [state for state in states if state.kind != "left out"]
    if not states:
        return "Add walks: drop the files of a visit, or choose them"
    whose = about.words or f"{count_words(len(meant), 'file')}: say who walked"
    if looking:
        return f"{whose}: {looking}"
    n_ready = sum(state.kind == "ready" for state in meant)
    n_left = len(meant) - n_ready
    if not about.words:
        return f"{whose}; {n_ready} can be read"
    if not n_left:
        return f"{whose}: {'the file is' if n_ready == 1 else f'all {n_ready} files are'} ready"
    needs = f"{n_left} {'needs' if n_left == 1 else 'need'} a word from you"
    are = "is" if n_ready == 1 else "are"
    return f"{whose}: {n_ready} of {count_words(len(meant), 'file')} {are} ready, {needs}"


def strip(draft: FilesDraft, basket: Basket, done: str) -> Markup:
    """Return the three steps.

    Parameters
    ----------
    done : str
        What became of the files; empty before step 3 is over.
    """
    waiting = [one for one in basket.files if not one.is_stored]
    folders = len({one.folder for one in waiting})
    where = f" in {folders} folders" if folders > 1 else ""
    notes = (
        f"{len(waiting)}{where}" if basket.files else "drop them, or choose them",
        "guessed from folder and file names: look it over",
        done or "each file says what it can answer",
    )
    may = (True, bool(waiting), draft.step == 3)
    steps = [_step(n, draft.step, notes[n - 1], is_open=may[n - 1] and n < 3) for n in (1, 2, 3)]
    return Markup(drawn("add_walks.strip", steps))


def _step(n: int, now: int, note: str, *, is_open: bool) -> dict[str, Any]:
    return {
        "n": n,
        "kind": "here" if n == now else "done" if n < now else "",
        "title": _TITLES[n - 1],
        "note": note,
        "press": {"act": "step", "step": n} if is_open and n != now else None,
    }


def received(basket: Basket) -> Markup:
    """Return the folders that came, and the files that were not taken with the reason."""
    waiting = [one for one in basket.files if not one.is_stored]
    folders = []
    for folder in sorted({one.folder for one in waiting}):
        own = [one for one in waiting if one.folder == folder]
        size = sum(one.n_bytes for one in own if one.path is not None) / 1e6
        refused = [one for one in own if one.path is None]
        folders.append(
            (folder or "no folder", count_words(len(own), "file"), f"{size:.1f} MB", refused)
        )
    go_on = press_html("Go on", {"act": "step", "step": 2}, "main")
    return Markup(drawn("add_walks.received", folders, go_on))


def taken_over(known: Mapping[str, Any], worn: Sequence[str], *, is_open: bool) -> Markup:
    """Return what is taken over from the last visit, or proposed at a first one.

    Parameters
    ----------
    worn : sequence of str
        What was worn, condition by condition, as it stands in the form now.
    is_open : bool
        The form stands beside it.
    """
    last = known.get("last")
    title = f"Taken over from {last}" if last else "What was worn: proposed"
    to_files = {"act": "part", "part": "files"}
    if is_open:
        acts = [press_html("Back to the files", to_files)]
    else:
        changed = "Something changed" if last else "Say what was worn"
        acts = [
            press_html("Still so" if last else "That is so", to_files),
            press_html(changed, {"act": "part", "part": "form"}),
        ]
    return Markup(drawn("add_walks.taken_over", title, worn, acts))
