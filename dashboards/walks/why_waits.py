"""Why a recording waits, and the ways to end that: beside the curves, each with a way to its place.

In comes a measured walk, out come cards: what is asked, with its answers; the
events of each leg and where they are from; the strides that are not counted.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.parts.controls import data, folded
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn, pressing
from dashboards.walks.stride_tables import PRESSED
from dashboards.walks.which_walk import icon
from gaittrack.cycles import Cycle
from gaittrack.errors import Problem
from gaittrack.figures.event_lines import LETTERS, SOURCE_WORDS, SYMBOLS, events_of
from gaittrack.figures.quality import joints_in_doubt
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.read.sheets.angle_signs import joint_in_doubt
from gaittrack.record.answered_warnings import Answers, warning_key
from gaittrack.study.recordings.reviewing import is_odd
from gaittrack.vocabulary import SIDES, EventSource, Joint, Side

_ANKLE: Final = (
    "this file counts toe-down as up. From contact C to toe-off T the ankle should first rise, "
    "then fall"
)
_KNEE: Final = (
    "this file counts a bent knee as negative. Between toe-off T and contact C the knee should "
    "rise most"
)
_HIP: Final = (
    "this file counts a bent hip as negative. From contact C to toe-off T the hip should fall"
)
_ASKED: Final[dict[Joint, tuple[str, str]]] = {
    "ankle": ("ankle", _ANKLE),
    "knee": ("knee", _KNEE),
    "hip_pelvis_thigh": ("hip", _HIP),
    "hip_thigh_vertical": ("hip", _HIP),
}
"""What a joint is called, and what a check suspects of its sign."""
_KEPT: Final = (
    "The file is never changed. Your choice, your name and the reason are kept and can be undone."
)
KEY_SYMBOLS: Final = {
    "circle-open": '<circle cx="8" cy="8" r="5"/>',
    "diamond-open": '<path d="M8 1L15 8L8 15L1 8Z"/>',
    "square-open": '<path d="M3 3H13V13H3Z"/>',
    "triangle-up-open": '<path d="M8 2L14 13H2Z"/>',
}


def why_card(
    walk: MeasuredWalk, answers: Answers, *, leg: str, waits: bool, may_edit: bool
) -> Component:
    """Return why a walk waits with the answers there are, or that it does not.

    Parameters
    ----------
    answers : mapping of str to str
        Warnings that the laboratory has answered for every walk; told below the rest.
    leg : str
        The leg that is told of first.
    waits : bool
        Nobody has looked at it yet.
    may_edit : bool
        Whether to offer the answers.
    """
    doubts = joints_in_doubt(walk)
    warned = [p for p in walk.problems if p.level != "info" and joint_in_doubt(p) is None]
    words = [part for joint in doubts for part in _doubt(joint, may_edit=may_edit)]
    told = [(one, _answer(one, answers)) for one in warned]
    words += [_warning(one) for one, answer in told if not answer]
    odd = sorted(filter(_is_to_look_at, walk.cycles), key=lambda cycle: cycle.side != leg)
    words += map(_way_to, odd)
    title = "Why it waits" if waits else "Nothing waits here"
    head = html.H2([icon("waits" if waits else "done"), title])
    act = pressing(PRESSED, {"what": "confirm"})
    button = html.Button("Looked at: it is right", className="no-print", **act)
    below: list[Component] = [button] if may_edit else []
    if said := [html.P(f"{one.where}: {one.what} {answer}") for one, answer in told if answer]:
        below.append(folded(f"Answered for every walk ({len(said)})", *said))
    kind = "card walks-why waits" if waits else "card walks-why"
    return html.Section([head, *words, *below], className=kind)


def _answer(one: Problem, answers: Answers) -> str:
    """Return what the laboratory answered; never of what spoils a number."""
    return "" if one.spoils else answers.get(warning_key(one.reason) or "", "")


def _warning(one: Problem) -> Component:
    return html.P([html.B(f"{one.where}: "), f"{one.what} {one.action}"])


def _doubt(joint: Joint, *, may_edit: bool) -> list[Component]:
    """Return a question about a sign, with two answers of equal weight."""
    name, suspected = _ASKED.get(joint, (joint, "this file has another sign"))
    asked = f"A check suspects that {suspected}. Which of the two curves does? Nothing was turned."
    keys = [
        html.Li([_line("solid"), "as in the file"]),
        html.Li([_line("turned"), "turned over"]),
    ]
    answers = {"keep": "It is right as it is", "turn": f"Turn the {name} over"}
    buttons = [
        html.Button(words, **pressing(PRESSED, {"what": what, "which": joint}))
        for what, words in answers.items()
    ]
    choice = html.Div(buttons, className="walks-answers no-print")
    return [html.P(asked), html.Ul(keys), *([choice, html.Small(_KEPT)] if may_edit else [])]


def _line(kind: str) -> Component:
    return html.Span(className=f"walks-line {kind}")


def _is_to_look_at(cycle: Cycle) -> bool:
    return bool(cycle.review_reasons) or is_odd(reason.code for reason in cycle.reject_reasons)


def _way_to(cycle: Cycle) -> Component:
    """Return what is odd about a stride, as a button that shows it."""
    why = "; ".join(map(str, (*cycle.review_reasons, *cycle.reject_reasons)))
    place = {"side": cycle.side, "from": cycle.start_s, "to": cycle.end_s}
    known = {key: value for key, value in place.items() if value == value}  # NaN has no place
    words: list[Any] = [html.B(f"Stride {_number(cycle)}, {cycle.side}"), f" {why}"]
    return html.Button(words, className="walks-way", **data(show=json.dumps(known)))


def _number(cycle: Cycle) -> int:
    return int(cycle.id.rpartition("-")[2])


def legs(walk: MeasuredWalk, *, may_edit: bool) -> Component:
    """Return of each leg the key of its events with their sources, and what is not counted."""
    return html.Div(
        [
            html.Div(
                [*_events(walk, side, may_edit=may_edit), *_not_counted(walk, side)],
                **data(of=side),
            )
            for side in SIDES
        ]
    )


def _events(walk: MeasuredWalk, side: Side, *, may_edit: bool) -> list[Component]:
    used = Counter(event.source for event in events_of(walk, side))
    if not used:
        return []
    keys = [
        html.Li([html.Span(LETTERS["initial_contact"], className="walks-letter C"), "contact"]),
        html.Li([html.Span(LETTERS["toe_off"], className="walks-letter T"), "toe-off"]),
        html.Li([html.Span(className="walks-stance"), "stance"]),
    ]
    counts = [_source(source, used) for source in SOURCE_WORDS if source in used]
    hint = "Drag a letter, or choose it and use the arrow keys: 10 ms a press."
    told = [html.P(hint, className="soft no-print")] if may_edit else []
    parts = [html.H3("Events"), html.Ul(keys), html.Ul(counts, className="soft"), *told]
    return [html.Section(parts, className="card walks-key")]


def _source(source: EventSource, used: Counter[EventSource]) -> Component:
    """Return how many events are of a source; with its shape where there are several."""
    words = f"{used[source]} by {SOURCE_WORDS[source]}"
    if len(used) == 1:
        return html.Li(f"All {words}")
    shape = KEY_SYMBOLS[SYMBOLS[source]]
    return html.Li([Markup(drawn("parts.drawing", "0 0 16 16", SafeText(shape))), words])


def _not_counted(walk: MeasuredWalk, side: Side) -> list[Component]:
    out = [cycle for cycle in walk.cycles if cycle.side == side and not cycle.is_kept]
    if not out:
        return []
    if len(out) == 1:
        title = f"Stride {_number(out[0])} is not counted"
        return [_card(title, [html.P(_capital("; ".join(map(str, out[0].reject_reasons))))])]
    reasons: dict[str, list[str]] = {}
    for cycle in out:
        why = "; ".join(map(str, cycle.reject_reasons))
        reasons.setdefault(why, []).append(str(_number(cycle)))
    lines = [html.P([html.B(", ".join(n)), f": {why}"]) for why, n in reasons.items()]
    return [_card(f"{len(out)} strides are not counted", lines)]


def _card(title: str, parts: Sequence[Any]) -> Component:
    return html.Section([html.H3(title), *parts], className="card")


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
