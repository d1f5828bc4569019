"""What to say of one file on the screen Add walks: ready, waits, or what is wrong and what to do.

In come what was sent, what was said of it and what was found in it, out comes its state with at
most one act.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from dashboards.add_walks.draft import FilesDraft
from dashboards.add_walks.look_and_store import Looked
from dashboards.add_walks.sheets.sheet_draft import is_asked_about
from dashboards.add_walks.uploads import Basket, Received
from gaittrack.compare.row_words import count_words
from gaittrack.compare.walked.questions import QUESTION_CODES, QuestionCode
from gaittrack.contents import Contents
from gaittrack.errors import LayoutError, MissingSignalError
from gaittrack.part_names import as_given
from gaittrack.study.recordings.planning import EVENTS_ENDING
from gaittrack.study.recordings.planning_form import Use
from gaittrack.vocabulary import SIDES, Side

Kind = Literal["ready", "waits", "trouble", "left out"]


@dataclass(frozen=True, slots=True)
class RowState:
    """What to say of one file.

    Attributes
    ----------
    kind : Kind
        Only who is ready goes into the study.
    act : str
        What can be done, as a link; empty for nothing.
    press : mapping
        What pressing it sends.
    """

    kind: Kind
    words: str
    act: str = ""
    press: Mapping[str, Any] = field(default_factory=dict)


def states_of(basket: Basket, draft: FilesDraft, uses: Mapping[int, Use]) -> dict[int, RowState]:
    """Return the state of each file that has a use; a table of events has that of its recording."""
    found = {n: _state(n, basket.files[n], draft, use) for n, use in uses.items()}
    ready = {
        (one.folder, Path(one.name).stem)
        for n in uses
        if found[n].kind == "ready" and not _is_events(one := basket.files[n])
    }
    for n in uses:
        one = basket.files[n]
        with_it = one.folder, one.name.removesuffix(EVENTS_ENDING)
        if found[n].kind == "ready" and _is_events(one) and with_it not in ready:
            found[n] = RowState("waits", "waits for its recording")
    return found


def _is_events(one: Received) -> bool:
    return one.name.endswith(EVENTS_ENDING)


def _state(n: int, one: Received, draft: FilesDraft, use: Use) -> RowState:
    leave = {"act": "leave out", "files": [n]}
    if n in draft.left_out:
        return RowState("left out", "left out", "take it in", {"act": "tick", "files": [n]})
    if one.path is None:
        return RowState("trouble", one.refusal, "leave it out", leave)
    if _is_events(one):
        return RowState("ready", "goes with its recording")
    if use.kind == "not said":
        return RowState("waits", "waits for what was worn")
    looks = draft.looks.get(one.path, [])
    if not looks:
        return RowState("waits", "is being looked at")
    return _found(looks, leave)


def _found(looks: Sequence[Looked], leave: Mapping[str, Any]) -> RowState:
    states = {look.row.state: look for look in looks}
    if good := states.get("would add"):
        return RowState("ready", _ready(looks) or good.row.message or "ready")
    if asked := states.get("asked about"):
        return RowState("waits", f"waits for the one question above: {asked.row.message}")
    first = states.get("known") or states.get("refused") or looks[0]
    if first.known:
        return RowState("trouble", f"is known already, as {first.known}:", "leave it out", leave)
    if first.lacks_rate:
        return RowState("waits", "waits for the one question above")
    if is_asked_about(first):
        press = {"act": "part", "part": "sheet"}
        words = "it is not sure which column is which angle:"
        return RowState("trouble", words, "choose columns", press)
    if isinstance(first.error, MissingSignalError | LayoutError) and first.labels:
        press = {"act": "part", "part": "map"}
        return RowState("trouble", first.error.what, "map its labels", press)
    return RowState("trouble", _why(first), "leave it out", leave)


def _ready(looks: Sequence[Looked]) -> str:
    """Say of a sheet of several walks how many of them can go in, and what is wrong with others."""
    walks = [look for look in looks if look.row.path != as_given(look.row.path)]
    if not walks:
        return ""
    good = [look for look in walks if look.row.state == "would add"]
    bad = [f"{look.name}: {_why(look)}" for look in walks if look.row.state == "refused"]
    return "; ".join([f"{len(good)} of {count_words(len(walks), 'walk')}", *bad])


def _why(look: Looked) -> str:
    """Return why a file cannot go in, and what to do; of a sheet that is a map to fill in."""
    if look.error is None:
        return look.row.message
    action = "" if isinstance(look.error, LayoutError) else look.error.action
    return f"{look.error.what} {action}".rstrip()


def contents_at(path: Path | None, draft: FilesDraft) -> Contents | None:
    """Return what was found in a file; None where it could not be measured."""
    looks = draft.looks.get(path, []) if path else []
    return next((look.contents for look in looks if look.contents is not None), None)


def answered(contents: Contents, affected: str | None) -> tuple[QuestionCode, ...]:
    """Return the questions that a recording can answer, of the affected leg where it is known."""
    sides: Sequence[Side] = [side for side in SIDES if side == affected] or SIDES
    found = {code for side in sides for code in contents.questions[side]}
    return tuple(code for code in QUESTION_CODES if code in found)
