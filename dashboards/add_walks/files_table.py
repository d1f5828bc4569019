"""The table of files on the screen Add walks, in groups by what was worn, as ready HTML.

In come groups with the state of each file, out comes one table whose ticks, choices and links send
what was pressed to one store.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup as SafeText

from dashboards.add_walks.draft import FileGroup, FilesDraft, options_of
from dashboards.add_walks.row_states import RowState, answered, contents_at
from dashboards.add_walks.uploads import Basket, Received
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn
from gaittrack.compare.row_words import count_words
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.reasons import Reason
from gaittrack.study.recordings.planning import EVENTS_ENDING

PRESSED: Final = "add-walks-pressed"
"""``dcc.Store`` that takes what is pressed or chosen in ready HTML."""
_SIGNS: Final = ("ready", "trouble")
"""States that have a sign of their own."""


@dataclass(frozen=True, slots=True)
class FilesShown:
    """All that the table is made of.

    Attributes
    ----------
    worn, heads : mapping of str to str
        What was worn in each condition of the form: in a few words, and as the head of a group.
    affected : str or None
        Side.
    """

    basket: Basket
    draft: FilesDraft
    groups: Sequence[FileGroup]
    states: Mapping[int, RowState]
    worn: Mapping[str, str]
    heads: Mapping[str, str]
    affected: str | None


def press_html(words: str, press: Mapping[str, Any], kind: str = "") -> SafeText:
    """Return a button that sends what it stands for."""
    return drawn("parts.button", PRESSED, press, words, kind, "")


def sign(name: str) -> SafeText:
    """Return the tick of what is ready, or the diamond of what is in the way."""
    return drawn("parts.sign", name)


def files_table(shown: FilesShown) -> Markup:
    """Return the table."""
    return Markup(drawn("add_walks.files", [_group(shown, each) for each in shown.groups]))


def _group(shown: FilesShown, group: FileGroup) -> dict[str, Any]:
    files = [shown.basket.files[n] for n in group.files]
    return {
        "called": _called(shown, group),
        "choice": _choice(shown, group, files),
        "said": group.said,
        "many": count_words(len(files), "file"),
        "rows": [_row(shown, group, n) for n in group.files],
    }


def _called(shown: FilesShown, group: FileGroup) -> str:
    use = group.use
    named = {"not said": "What was worn?", "several": "Sheets", "standing": "Standing trial"}
    return named.get(use.kind) or shown.heads.get(use.condition, use.condition)


def _choice(shown: FilesShown, group: FileGroup, files: Sequence[Received]) -> dict[str, Any]:
    """Return the choice of what was worn in all files of a group."""
    where = files[0].folder or "these files"
    if group.use.kind != "not said":
        where = " ".join(filter(None, (_called(shown, group), group.use.condition)))
    now = f"{group.use.kind}:{group.use.condition}"
    given = options_of(list(shown.worn), files)
    worn = {f"walk:{name}": words for name, words in shown.worn.items()}
    return {
        "label": f"What was worn, {where}",
        "press": {"act": "use", "files": group.files},
        "choices": ({} if now in given else {"": "choose"})
        | {value: worn.get(value) or words for value, words in given.items()},
        "now": now if now in given else "",
    }


def _row(shown: FilesShown, group: FileGroup, n: int) -> dict[str, Any]:
    one, state = shown.basket.files[n], shown.states[n]
    is_on = state.kind in ("ready", "waits")
    act = {"words": state.act, "press": state.press, "kind": "as-link"}
    return {
        "kind": state.kind.replace(" ", "-"),
        "is_on": is_on,
        "is_off": not is_on and state.kind != "left out",
        "tick": {"act": "tick", "files": [n]},
        "place": one.place,
        "what": _what(shown.draft, one),
        "asks": _asks(shown, one) if group.use.kind in ("walk", "several") else None,
        "sign": state.kind if state.kind in _SIGNS else "",
        "words": state.words,
        "act": act | {"label": f"{state.act}: {one.place}"} if state.act else None,
        "move": _move(shown, group, n),
    }


def _what(draft: FilesDraft, one: Received) -> str:
    if one.name.endswith(EVENTS_ENDING):
        return "table of events"
    looks = draft.looks.get(one.path, []) if one.path else []
    known = next((look.what for look in looks if look.what), "")
    return known or one.name.rpartition(".")[2].upper()


def _asks(shown: FilesShown, one: Received) -> dict[str, Any] | None:
    """Return which of the eight questions the file can answer, and the others in words."""
    contents = contents_at(one.path, shown.draft)
    if contents is None:
        return None
    codes = answered(contents, shown.affected)
    lacking = "; ".join(str(Reason(code)) for code in QUESTION_CODES if code not in codes)
    return {"boxes": [code in codes for code in QUESTION_CODES], "lacking": lacking}


def _move(shown: FilesShown, group: FileGroup, n: int) -> dict[str, Any] | None:
    """Return the choice that moves one file of several to another group."""
    one = shown.basket.files[n]
    if one.path is None or len(group.files) == 1:
        return None
    options = options_of(list(shown.worn), [one])
    options.pop(f"{group.use.kind}:{group.use.condition}", None)
    return {
        "label": f"Move {one.place} alone",
        "press": {"act": "use", "files": [n]},
        "choices": {"": "move", **options},
        "now": "",
    }
