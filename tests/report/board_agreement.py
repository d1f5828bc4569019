"""Read an answer on a screen or page as its reader does, and hold it against its rows.

What the words mean stands here once more, in patterns of its own.
"""

import re
import xml.etree.ElementTree as ET

from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.vocabulary import SIDES

SAID = {
    "larger": "changed, larger than error",
    "change_in_these_walks": "changed in these walks, (within error|may be chance)",
    "no_change_larger_than_error": "no change larger than error",
    "not_shown": "not shown",
    "no_error_figure": "no error figure known",
    "not_comparable": "cannot be compared",
    "not_trusted": "not trusted",
    "not_defined": "not in these recordings",
}
WAYS = {1: r"\b(higher|further|faster|more)\b", -1: r"\b(lower|slower|less)\b"}
NUMBER = r"-?\+?\d+(?:\.\d+)?"


def board_disagreements(html, answer):
    """Return in words what an answer's sentence and board say otherwise than its findings."""
    tree = ET.fromstring(html)
    sentence = text_of(tree.find(".//div[@class='said']/p"))
    found = sentence_disagreements(sentence, answer)
    questions = dict.fromkeys(each.question for each in answer.findings)
    rows = tree.find(".//table").findall("tbody/tr")
    if len(rows) != len(questions):
        return [*found, f"{len(rows)} rows"]
    for row, question in zip(rows, questions, strict=True):
        findings = [each for each in answer.findings if each.question == question]
        found += row_disagreements(row, findings)
    return found


def text_of(element):
    return "".join(element.itertext()).replace("−", "-")


def row_disagreements(row, findings):
    """Hold a row against values, changes and verdicts of its question, leg by leg, in order."""
    lines = [measured for finding in findings for measured in finding.rows]
    values = [
        [rounded(each.reference_value, each), rounded(each.value, each)]
        for each in lines
        if each.value == each.value or each.reference_value == each.reference_value
    ]
    shown = [
        [
            None if one == "no value" else float(one)
            for one in re.findall(f"no value|{NUMBER}", each)
        ]
        for each in texts_in(row, "values", "div", but="heels")
    ]
    changes = [rounded(each.difference, each) for each in lines if has_change(each)]
    changed = [float(re.match(NUMBER, each)[0]) for each in texts_in(row, "change", "div") if each]
    chips = texts_in(row, "chips", "span", but="flag")
    wanted = [(each.side[0].upper(), each.verdict) for each in findings]
    return [
        *([f"values {shown} for {values}"] if shown != values else []),
        *([f"changes {changed} for {changes}"] if changed != changes else []),
        *(
            f"{leg} {verdict} in {chips}"
            for leg, verdict in wanted
            if not is_in(chips, leg, verdict)
        ),
    ]


def texts_in(row, cell, kind, but=""):
    """Return the texts of a cell's parts; none where there is no such cell."""
    parts = row.findall(f"td[@class='{cell}']/{kind}")
    return [text_of(each).strip() for each in parts if each.get("class") != but]


def is_in(chips, leg, verdict):
    return any(re.match(rf"({leg} )?{SAID[verdict]}", each) for each in chips)


def has_change(row):
    return row.verdict not in ("not_comparable", "not_trusted", "not_defined")


def decimals(row):
    return MEASURE_BY_NAME[row.measure].decimals


def rounded(value, row):
    return None if value != value else round(value, decimals(row))


def sentence_disagreements(sentence, answer):
    """Hold phrases against the changes that are larger: leg, way and size; none left out."""
    larger = {
        (each.side, row.measure): row
        for each in answer.findings
        if not each.has_heel_changed
        for row in each.changed
    }
    phrases = [] if "no change larger" in sentence else sentence.rstrip(".").split("; ")
    found = []
    for phrase in phrases:
        if "heel meets the floor" in phrase:
            found += heel_disagreements(phrase, answer)
            continue
        for leg, figure in figures_of(phrase):
            keys = [key for key, row in larger.items() if fits(phrase, leg, figure, key, row)]
            found += [] if keys else [f"{phrase}: {leg} {figure}"]
            for key in keys[:1]:
                del larger[key]
    return found + [f"left out: {key}" for key in larger]


def figures_of(phrase):
    """Yield each leg that a phrase names with the first figure after it."""
    legs = list(re.finditer("left|right", phrase)) or [re.search("walk", phrase)]
    ends = [each.start() for each in legs[1:]] + [len(phrase)]
    for leg, end in zip(legs, ends, strict=True):
        yield leg[0], re.search(r"\d+(?:\.\d+)?", phrase[leg.end() : end])[0]


def fits(phrase, leg, figure, key, row):
    """Tell whether a figure of a phrase is this row's; to straighten less is a larger angle."""
    is_up = (row.difference > 0) != ("straightens" in phrase)
    figures = (abs(row.difference), row.reference_value)
    return (
        re.search(WAYS[1 if is_up else -1], phrase)
        and leg in (key[0], "walk")
        and float(figure) in [rounded(each, row) for each in figures]
    )


def heel_disagreements(phrase, answer):
    """Hold the heel's counts against those of the leg that is named."""
    side = next(each for each in SIDES if each in phrase)
    counts = [
        (each.heel.counts.own, each.heel.counts.reference)
        for each in answer.findings
        if each.has_heel_changed and each.side == side
    ]
    told = [int(each) for each in re.findall(r"\d+", phrase)]
    wanted = [[own.n_kind, own.n_steps, other.n_kind, other.n_steps] for own, other in counts]
    return [] if told in wanted else [f"{phrase}: {wanted}"]
