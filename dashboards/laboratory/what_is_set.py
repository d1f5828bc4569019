"""What the laboratory has set: each with what it changes, since when, by whom, why, and a way back.

In come the changes of its settings, out come two tables whose buttons name a change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import aria, folded, table
from dashboards.parts.markup import pressing
from gaittrack.study.laboratory import (
    ANSWERED,
    ERRORS,
    MAP,
    OUTCOMES,
    RECORDINGS,
    RELEASES,
    TYPICAL,
    WORDS,
    kind_of,
    map_name,
)
from gaittrack.study.laboratory_history import LaboratoryChange

BACK: Final = "laboratory-back"
"""``dcc.Store``: number of the change that is to be taken back."""
KNOWN: Final[Mapping[str, tuple[str, str, str]]] = {
    MAP: (
        "landmark and column names",
        "which marker or column of a file is which body point; walks are measured again",
        "names are found by what they spell",
    ),
    TYPICAL: (
        "typical values",
        "what “toward” and “away from typical” are held against, and the hatched curves",
        "published ranges, no curves",
    ),
    ERRORS: (
        "measurement errors",
        "how wide whole intervals are, and when a change is larger than error",
        "published figures and proposals",
    ),
    RECORDINGS: (
        "how we record",
        "frames per second where a file tells none, whether force plates are looked at; walks are "
        "measured again",
        "files without a rate are asked about, plates are used",
    ),
    WORDS: (
        "words",
        "what words of no list mean, from then on; facts changed by it stay changed",
        "such words leave as “other”",
    ),
    ANSWERED: (
        "answered warnings",
        "for which warnings of every walk no walk waits",
        "walks wait for each warning",
    ),
    RELEASES: (
        "what is said of exports",
        "licence, makers and sources in every export from then on",
        "exports name no licence and no makers; nothing can be released to everybody",
    ),
    OUTCOMES: (
        "declared outcomes",
        "which mean changes of the cohort are judged together, and which size is called important",
        "each measure is judged by itself",
    ),
}
"""By setting: what it is called, what it changes, and what holds while it is not set."""
_HEADS: Final = ("Setting", "Now", "What it changes", "Since (UTC)", "By", "Why")


def sentence(changes: Sequence[LaboratoryChange]) -> str:
    """Return in one sentence what is the laboratory's own."""
    own = [name_of(each.name) for each in _newest(changes).values() if each.after]
    if not own:
        return "This laboratory has set nothing of its own"
    return f"Set by this laboratory: {', '.join(own)}"


def set_parts(changes: Sequence[LaboratoryChange], *, may_change: bool) -> list[Component]:
    """Return what holds now, and folded below it all that was changed.

    Parameters
    ----------
    changes : sequence of LaboratoryChange
        Newest first.
    may_change : bool
        Whether to offer the way back.
    """
    newest = _newest(changes)
    names = [*KNOWN, *(name for name in newest if name not in KNOWN)]
    heads = [*_HEADS, *(["Way back"] if may_change else [])]
    rows = [_row(name, newest.get(name), may_change=may_change) for name in names]
    parts = [table(heads, rows, caption="What holds in this laboratory")]
    if len(changes) > len(newest):
        older = [each for each in changes if each not in newest.values()]
        lines = [
            [name_of(each.name), *_about(each), *([_back(each)] if may_change else [])]
            for each in older
        ]
        heads = ["Setting", "Was then", *_HEADS[3:], *(["Way back"] if may_change else [])]
        shown = table(heads, lines, caption="Earlier changes, newest first")
        parts.append(folded(f"Earlier changes ({len(older)})", shown))
    return parts


def name_of(setting: str) -> str:
    """Return what a setting is called."""
    if setting in KNOWN:
        return KNOWN[setting][0]
    name = map_name(setting)
    return f"map “{name}”" if name != setting else setting.replace("_", " ")


def _newest(changes: Sequence[LaboratoryChange]) -> dict[str, LaboratoryChange]:
    return {each.name: each for each in reversed(changes)}


def _row(name: str, change: LaboratoryChange | None, *, may_change: bool) -> list[Any]:
    _, changes_what, without = KNOWN.get(kind_of(name), (name, "", "nothing is set"))
    if change is None:
        return [name_of(name), without, changes_what, "", "", "", *([""] if may_change else [])]
    now, *about = _about(change)
    now = now if change.after else without
    return [name_of(name), now, changes_what, *about, *([_back(change)] if may_change else [])]


def _about(change: LaboratoryChange) -> list[str]:
    now = change.after.get("file_name", "not set")
    return [now, change.utc[:16].replace("T", " "), change.who, change.why]


def _back(change: LaboratoryChange) -> Component:
    """Return the button that lets a setting be as it was before a change."""
    was = change.before.get("file_name")
    words = f"Back to {was}" if was else "Back to not set"
    said = f"{words}: {name_of(change.name)}, as before {change.utc[:16].replace('T', ' ')}"
    return html.Button(words, **aria(label=said), **pressing(BACK, change.number))
