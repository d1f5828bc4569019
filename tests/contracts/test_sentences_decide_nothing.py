"""Nothing looks into a sentence: with every sentence another one, walks are measured the same."""

import ast
import functools
import json
import re

import pytest

from gaittrack.pipeline import RefusedFile, measure_file
from gaittrack.study.results.packing import event_rows, result_row
from gaittrack.study.results.walk_means import mean_rows
from tests.broken_files import BROKEN
from tests.contracts.test_house_rules import MODULES, ROOT, each_module, tree_of

SOURCES = [p for p in MODULES if p.parent.name != "words" and p.name != "reasons.py"]
BRACED = "visit-1/with-brace/walk-1"
WALKS = [
    ROOT / "sample_trials" / f"P02/{BRACED}.c3d",
    ROOT / "sample_trials" / "P02/visit-1/without-brace/walk-1.c3d",
    ROOT / "sample_trials" / f"P03/{BRACED}.csv",
    ROOT / "sample_trials" / f"P04/{BRACED}.xlsx",
    *sorted((ROOT / "tests" / "reference").glob("walk_*")),
]
SAID = re.compile(r"reason|label|problem|doubt|\bwhy\b")
OF_A_PROBLEM = re.compile(r"problem|error|reason|\bp\b")
LOOKS_INTO = {"startswith", "endswith", "removeprefix", "removesuffix", "find", "index", "count"}


def is_sentence(node):
    """Tell whether an expression is the sentence of a reason or a problem."""
    if isinstance(node, ast.Attribute) and node.attr in ("what", "action"):
        return OF_A_PROBLEM.search(ast.unparse(node.value)) is not None
    if not isinstance(node, ast.Call):
        return False
    if isinstance(node.func, ast.Attribute) and node.func.attr == "say":
        return True
    is_str = isinstance(node.func, ast.Name) and node.func.id == "str"
    return is_str and any(SAID.search(ast.unparse(one)) for one in node.args)


def looks_into_sentences(tree):
    """Return the places where a sentence is compared, searched or taken apart."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            asked = [node.left, *node.comparators]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            asked = [node.func.value] if node.func.attr in LOOKS_INTO else []
            if isinstance(node.func.value, ast.Name) and node.func.value.id == "re":
                asked = node.args
        else:
            continue
        if any(is_sentence(each) for one in asked for each in ast.walk(one)):
            found.append(f"line {node.lineno}: {ast.unparse(node)}")
    return found


@functools.partial(each_module, modules=SOURCES)
def test_no_module_looks_into_a_sentence(path):
    """Codes are compared; a sentence is only ever shown."""
    assert looks_into_sentences(tree_of(path)) == []


@pytest.mark.parametrize(
    "planted",
    [
        "str(row.reason) == 'no minimum'",
        "'gap' in str(label)",
        "str(each.reason).startswith('gap')",
        "reason.say(part='action') != ''",
        "'radians' in problem.what",
        "re.search('gap', problem.action)",
    ],
)
def test_a_planted_look_into_a_sentence_is_seen(planted):
    """The check itself finds each way of looking into one."""
    assert looks_into_sentences(ast.parse(planted))


def measured(path):
    """Return all that measuring and storing a file gives, but for sentences of errors."""
    result = measure_file(path)
    row = result_row(result, "settings", condition="")
    del row["measured_utc"]
    if isinstance(result, RefusedFile):
        row["refusal"] = json.loads(row["refusal"])["code"]
        return repr(row)
    return repr((row, event_rows(result), mean_rows(result), result.rows, result.problems))


@pytest.mark.parametrize("path", WALKS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_a_walk_of_every_format_is_measured_and_stored_the_same(scramble, path):
    """Events, cycles, rows, problems, and every byte of what a study holds of them."""
    before = measured(path)
    scramble()
    assert measured(path) == before


@pytest.mark.parametrize("broken", BROKEN, ids=[broken.name for broken in BROKEN])
def test_a_file_that_is_wrong_is_told_by_the_same_codes(scramble, broken, tmp_path):
    """What a reader doubts, mends or refuses."""
    broken.write(tmp_path / broken.name)
    before = measured(tmp_path / broken.name)
    scramble()
    assert measured(tmp_path / broken.name) == before
