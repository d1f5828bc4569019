"""The table of files on the screen Add walks, in groups by what was worn, as ready HTML.

In come groups with the state of each file, out comes one table whose ticks, choices and links send
what was pressed to one store.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

from dashboards.add_walks.draft import FileGroup, FilesDraft, options_of
from dashboards.add_walks.row_states import RowState, answered, contents_at
from dashboards.add_walks.uploads import Basket, Received
from dashboards.parts.dash_private import Markup
from gaittrack.compare.questions import QUESTION_CODES
from gaittrack.reasons import Reason
from gaittrack.study.recordings.planning import EVENTS_ENDING

PRESSED: Final = "add-walks-pressed"
"""``dcc.Store`` that takes what is pressed or chosen in ready HTML."""
_HEADS: Final = ("", "file", "what it is", "questions it can answer", "state")
_SIGNS: Final = {
    "ready": '<path d="M5 13l5 5L20 7"/>',
    "trouble": '<path d="M12 2L22 12 12 22 2 12Z"/><path d="M12 7v6"/><path d="M12 16v1"/>',
}


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


def press_html(words: str, press: Mapping[str, Any], kind: str = "", label: str = "") -> str:
    """Return a button that sends what it stands for."""
    named = f' aria-label="{escape(label)}"' if label else ""
    return (
        f'<button type="button" class="{kind}" data-press="{PRESSED}"{named} '
        f'data-value="{escape(json.dumps(press))}">{escape(words)}</button>'
    )


def sign(name: str) -> str:
    """Return the tick of what is ready, or the diamond of what is in the way."""
    return f'<svg class="sign" viewBox="0 0 24 24" aria-hidden="true">{_SIGNS[name]}</svg>'


def files_table(shown: FilesShown) -> Markup:
    """Return the table."""
    heads = "".join(f'<th scope="col">{words}</th>' for words in _HEADS)
    heads = heads.replace('<th scope="col"></th>', "<td></td>", 1)
    bodies = "".join(_body(shown, group) for group in shown.groups)
    return Markup(
        '<div class="card add-files"><table><caption class="unseen">Files by what was worn'
        f"</caption><thead><tr>{heads}</tr></thead>{bodies}</table></div>"
    )


def _body(shown: FilesShown, group: FileGroup) -> str:
    files = [shown.basket.files[n] for n in group.files]
    many = "1 file" if len(files) == 1 else f"{len(files)} files"
    called, choice = escape(_called(shown, group)), _choice(shown, group, files)
    head = (
        f'<tr class="group"><th colspan="5" scope="rowgroup"><div><b>{called}</b>{choice}'
        f"<span>{escape(group.said)}</span><small>{many}</small></div></th></tr>"
    )
    return f"<tbody>{head}{''.join(_row(shown, group, n) for n in group.files)}</tbody>"


def _called(shown: FilesShown, group: FileGroup) -> str:
    use = group.use
    named = {"not said": "What was worn?", "several": "Sheets", "standing": "Standing trial"}
    return named.get(use.kind) or shown.heads.get(use.condition, use.condition)


def _choice(shown: FilesShown, group: FileGroup, files: Sequence[Received]) -> str:
    """Return the choice of what was worn in all files of a group."""
    where = files[0].folder or "these files"
    if group.use.kind != "not said":
        where = " ".join(filter(None, (_called(shown, group), group.use.condition)))
    now = f"{group.use.kind}:{group.use.condition}"
    given = options_of(list(shown.worn), files)
    worn = {f"walk:{name}": words for name, words in shown.worn.items()}
    return select_html(
        f"What was worn, {where}",
        {"act": "use", "files": group.files},
        {value: worn.get(value) or words for value, words in given.items()},
        now,
        "choose",
    )


def select_html(
    label: str, press: Mapping[str, Any], options: Mapping[str, str], now: str, empty: str
) -> str:
    """Return a choice that sends what it stands for with what was chosen.

    Parameters
    ----------
    empty : str
        What stands there while nothing is chosen.
    """
    first = "" if now in options else f'<option value="" selected>{escape(empty)}</option>'
    rest = "".join(
        f'<option value="{escape(value)}"{" selected" if value == now else ""}>'
        f"{escape(words)}</option>"
        for value, words in options.items()
    )
    return (
        f'<select aria-label="{escape(label)}" data-press="{PRESSED}" '
        f'data-value="{escape(json.dumps(press))}">{first}{rest}</select>'
    )


def _row(shown: FilesShown, group: FileGroup, n: int) -> str:
    one, state = shown.basket.files[n], shown.states[n]
    cells = (
        ("tick", _tick(n, one, state)),
        ("path", escape(one.place)),
        ("what", escape(_what(shown.draft, one))),
        ("asks", _boxes(shown, one) if group.use.kind in ("walk", "several") else ""),
        ("state", _state(shown, group, n)),
    )
    tds = "".join(f'<td class="{name}">{cell}</td>' for name, cell in cells)
    return f'<tr class="{state.kind.replace(" ", "-")}">{tds}</tr>'


def _tick(n: int, one: Received, state: RowState) -> str:
    is_on = state.kind in ("ready", "waits")
    press = escape(json.dumps({"act": "tick", "files": [n]}))
    off = "" if is_on or state.kind == "left out" else " disabled"
    return (
        f'<button type="button" role="checkbox" aria-checked="{str(is_on).lower()}"{off} '
        f'aria-label="Store {escape(one.place)}" data-press="{PRESSED}" data-value="{press}">'
        "</button>"
    )


def _what(draft: FilesDraft, one: Received) -> str:
    if one.name.endswith(EVENTS_ENDING):
        return "table of events"
    looks = draft.looks.get(one.path, []) if one.path else []
    known = next((look.what for look in looks if look.what), "")
    return known or one.name.rpartition(".")[2].upper()


def _boxes(shown: FilesShown, one: Received) -> str:
    """Return eight boxes, filled for the questions that the file can answer, and their count."""
    contents = contents_at(one.path, shown.draft)
    if contents is None:
        return ""
    codes = answered(contents, shown.affected)
    boxes = "".join(f"<i{' class=can' if code in codes else ''}></i>" for code in QUESTION_CODES)
    lacking = "; ".join(str(Reason(code)) for code in QUESTION_CODES if code not in codes)
    title = f' title="not: {escape(lacking)}"' if lacking else ""
    return f'<span class="boxes" aria-hidden="true"{title}>{boxes}</span> {len(codes)} of 8'


def _state(shown: FilesShown, group: FileGroup, n: int) -> str:
    state, one = shown.states[n], shown.basket.files[n]
    icon = sign(state.kind) if state.kind in _SIGNS else ""
    label = f"{state.act}: {one.place}"
    act = press_html(state.act, state.press, "as-link", label) if state.act else ""
    words = f"{icon}<span>{escape(state.words)} {act}</span>"
    if one.path is None or len(group.files) == 1:
        return f"<div>{words}</div>"
    options = options_of(list(shown.worn), [one])
    options.pop(f"{group.use.kind}:{group.use.condition}", None)
    press = {"act": "use", "files": [n]}
    move = select_html(f"Move {one.place} alone", press, options, "", "move")
    return f"<div>{words}{move}</div>"


def asked_once(parts: Sequence[str]) -> Markup:
    """Return what is asked once for several files, above their table."""
    mark = sign("trouble")
    return Markup("".join(f'<div class="card asked">{mark}<p>{part}</p></div>' for part in parts))
