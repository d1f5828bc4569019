"""Rules of the house that a machine can keep: imports, sizes, docstrings, names, start-up."""

import ast
import functools
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("gaittrack", "dashboards")
MODULES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
TEST_MODULES = sorted((ROOT / "tests").rglob("test_*.py"))

ROOMS = (
    *("late", "notice", "words", "reasons", "notebook_view", "table_cells", "atomic_write"),
    *("readable_names", "plain_files", "scratch", "errors"),
    *(
        "vocabulary",
        "ingredients",
        "trial",
        "quick_numpy",
        "part_names",
        "said_days",
        "lab_files",
        "lab_defaults",
        "record",
        "lab_map",
        "map_fit",
        "read",
        "kinematics",
        "events",
        "cycles",
        "measures",
    ),
    *(
        "corrected",
        "compare",
        "answer",
        "plausibility",
        "measured_walk",
        "contents",
        "walk_records",
    ),
    *("pipeline", "file_comparison", "compare_files", "walk_folders", "study", "cohort"),
    *("library", "figures", "report", "commands", "dashboards"),
)
"""A room imports only from itself and from rooms on its left."""
ONLY_FROM = {"simulate": {"reasons", "errors", "vocabulary", "trial", "simulate"}}
FACES = (None, "__init__", "__main__")
"""Outside of the order: what the package itself gives, and how it is started."""
NEVER = {room: {"read"} for room in ("kinematics", "events", "cycles", "measures", "compare")}
ONLY_IN = {
    "ezc3d": "gaittrack/read/c3d_files/c3d.py",
    "plotly": "gaittrack/figures/",
    "dash": "dashboards/",
    "dashboards": "dashboards/",
}
"""Library → the only place that imports it; commands/dashboard.py may start the screens."""
ESCAPES = {
    "gaittrack/report/svg_marks.py",
    "dashboards/parts/markup.py",
    "gaittrack/simulate/sheets.py",
}
"""What writes SVG, components and XML text by text; all other HTML is made by templates."""
STARTS_THE_SCREENS = "gaittrack/commands/dashboard.py"

MOST_MODULE_LINES = 400
MOST_FUNCTION_LINES = 40
BANNED_NAMES = {"utils", "util", "helpers", "misc", "common", "core", "base", "tools"}
HEAVY = {"pandas", "scipy", "numpy", "dash", "plotly", "ezc3d", "sqlalchemy"}

FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


def each_module(rule, modules=MODULES):
    """Make one test of a rule for one module: all modules that break it are told at once."""

    def test():
        broken = []
        for path in modules:
            try:
                rule(path)
            except AssertionError as error:
                broken.append(f"{path.relative_to(ROOT).as_posix()}: {error}")
        if broken:
            pytest.fail("\n".join(broken), pytrace=False)

    test.__doc__ = rule.__doc__
    return test


@functools.cache
def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"))


@functools.cache
def nodes_of(tree):
    """Return all nodes of a tree: many rules ask for them."""
    return list(ast.walk(tree))


def room_of(name):
    """Return the room of a dotted module name, or None outside of this project."""
    parts = name.split(".")
    if parts[0] == "gaittrack":
        return parts[1] if len(parts) > 1 else None
    return "dashboards" if parts[0] == "dashboards" else None


def own_room(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return room_of(".".join(parts))


def imports_of(tree):
    """Yield (dotted name, line) of every import, also of submodules named after ``from``."""
    for node in nodes_of(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"line {node.lineno}: relative import"
            if node.module == "gaittrack":
                yield from ((f"gaittrack.{alias.name}", node.lineno) for alias in node.names)
            else:
                yield node.module, node.lineno


def breaches(path, tree):
    """Return what a module imports against the order of the rooms."""
    own = own_room(path)
    found = []
    for name, line in imports_of(tree):
        room = room_of(name)
        if room is None or room == own or room.startswith("__") or own in FACES:
            continue
        if own in ONLY_FROM:
            allowed = room in ONLY_FROM[own]
        elif room == "simulate":
            allowed = own == "commands"
        else:
            allowed = ROOMS.index(room) < ROOMS.index(own) and room not in NEVER.get(own, ())
        if not allowed and not (room == "dashboards" and path.match(f"*/{STARTS_THE_SCREENS}")):
            found.append(f"line {line}: {own} imports {name}")
    return found


@each_module
def test_rooms_import_only_leftwards(path):
    """No module imports from a room on its right."""
    assert breaches(path, tree_of(path)) == []


def test_a_planted_breach_is_seen():
    """The check itself finds an import to the right, and a reader inside measures."""
    path = ROOT / "gaittrack" / "measures" / "planted.py"
    planted = "from gaittrack.compare import verdict\nfrom gaittrack import read\n"
    assert len(breaches(path, ast.parse(planted))) == 2


@each_module
def test_libraries_stay_in_their_room(path):
    """Readers know ezc3d, figures plotly, screens dash; nobody else does."""
    place = path.relative_to(ROOT).as_posix()
    for name, line in imports_of(tree_of(path)):
        only = ONLY_IN.get(name.split(".")[0])
        if only is not None and place != STARTS_THE_SCREENS:
            assert place.startswith(only), f"line {line}: {name} belongs in {only}"


def unescaped(tree):
    """Return lines that escape by hand, or call a text safe that was put together by hand."""
    found = [line for name, line in imports_of(tree) if name in ("html", "xml.sax.saxutils")]
    for node in nodes_of(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "markupsafe":
            found += [node.lineno for alias in node.names if alias.name != "Markup"]
        is_safe = isinstance(node, ast.Call) and ast.unparse(node.func) in ("Markup", "SafeText")
        made = next(iter(node.args), None) if is_safe else None
        is_filled = isinstance(made, ast.Call) and isinstance(made.func, ast.Name)
        if (
            made
            and not is_filled
            and any(isinstance(x, ast.FormattedValue) for x in ast.walk(made))
        ):
            found.append(node.lineno)
    return found


@each_module
def test_nobody_escapes_by_hand(path):
    """Templates escape every text; what is called safe elsewhere has no text put into it."""
    place = path.relative_to(ROOT).as_posix()
    lines = [] if place in ESCAPES else unescaped(tree_of(path))
    assert lines == [], "a template, or Markup(...).format, escapes"


def test_a_hand_that_escapes_is_seen_and_no_template_lets_a_text_through():
    """Each way of putting a text into HTML by hand; ``safe`` in a template."""
    ways = (
        "from html import escape",
        "from markupsafe import escape",
        "Markup(f'<p>{x}</p>')",
        "SafeText(''.join(f'<li>{x}</li>' for x in y))",
    )
    assert [len(unescaped(ast.parse(way))) for way in ways] == [1, 1, 1, 1]
    pages = [path for name in PACKAGES for path in (ROOT / name).rglob("templates/*.html")]
    assert len(pages) > 8
    assert [
        path.name for path in pages if re.search(r"\|\s*safe|autoescape", path.read_text())
    ] == []


@each_module
def test_imports_stand_at_the_top(path):
    """Only a click command imports inside its function, to keep --help quick."""
    for function in (node for node in nodes_of(tree_of(path)) if isinstance(node, FUNCTIONS)):
        nested = [n for n in ast.walk(function) if isinstance(n, (ast.Import, ast.ImportFrom))]
        decorators = [ast.unparse(decorator) for decorator in function.decorator_list]
        is_command = any(".command" in decorator for decorator in decorators)
        assert not nested or is_command, f"{function.name}: import at the top of the module"


@each_module
def test_modules_are_short(path):
    """No module has more than 400 lines."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_MODULE_LINES


@each_module
def test_functions_are_short(path):
    """No function has more than 40 lines, its docstring not counted."""
    for function in (node for node in nodes_of(tree_of(path)) if isinstance(node, FUNCTIONS)):
        n_lines = function.end_lineno - function.lineno + 1
        if ast.get_docstring(function):
            text = function.body[0]
            n_lines -= text.end_lineno - text.lineno + 1
        assert n_lines <= MOST_FUNCTION_LINES, f"{function.name} has {n_lines} lines"


def public_functions(tree):
    """Yield public functions of a module, and public methods of its public classes."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from (n for n in node.body if isinstance(n, FUNCTIONS) and n.name[0] != "_")
        elif isinstance(node, FUNCTIONS) and not node.name.startswith("_"):
            yield node


def parameters_of(function):
    arguments = function.args
    names = [a.arg for a in (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs)]
    return [name for name in names if name not in ("self", "cls")]


def section(docstring, title):
    """Return the text of a numpydoc section, or "" when there is none."""
    match = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", docstring, re.M | re.S)
    return match[1] if match else ""


@each_module
def test_public_names_are_documented(path):
    """Modules, public classes and public functions have a docstring."""
    tree = tree_of(path)
    if path.name != "__init__.py" or tree.body:
        assert ast.get_docstring(tree), "the module's opening paragraph is missing"
    classes = [n for n in tree.body if isinstance(n, ast.ClassDef) and n.name[0] != "_"]
    for node in (*public_functions(tree), *classes):
        assert ast.get_docstring(node), f"{node.name} has no docstring"


DESCRIBED = ("Parameters", "Attributes", "Returns", "Yields")
SAYS_MORE = re.compile(r"shape|degree|metres|seconds|\bHz\b|newton|per cent|NaN|UCUM|ISO|\bin \w")
"""What the head of an entry may say that an annotation does not."""


def entries_of(docstring, title):
    """Yield (head, description) of each entry of a numpydoc section."""
    found = []
    for line in section(docstring, title).splitlines():
        if line and not line.startswith(" "):
            found.append([line, ""])
        elif found:
            found[-1][1] += line.strip()
    return found


@each_module
def test_documented_parameters_are_the_real_ones(path):
    """A Parameters section names parameters that there are."""
    for function in public_functions(tree_of(path)):
        docstring = ast.get_docstring(function) or ""
        for head, _ in entries_of(docstring, "Parameters"):
            names = {name.strip(" *") for name in head.split(" : ")[0].split(",")}
            arguments = function.args
            extra = {a.arg for a in (arguments.vararg, arguments.kwarg) if a is not None}
            unknown = names - set(parameters_of(function)) - extra
            assert not unknown, f"{function.name}: there is no {unknown}"


@each_module
def test_sections_say_more_than_the_annotation(path):
    """No entry of a docstring only repeats a name and its type."""
    kinds = (*FUNCTIONS, ast.ClassDef)
    for node in (n for n in nodes_of(tree_of(path)) if isinstance(n, kinds)):
        docstring = ast.get_docstring(node) or ""
        for title in DESCRIBED:
            for head, described in entries_of(docstring, title):
                assert described or SAYS_MORE.search(head), f"{node.name}: {head} says nothing new"


def test_no_two_public_classes_share_a_name():
    """Whoever reads a class's name knows which one is meant."""
    places = {}
    for path in MODULES:
        for node in tree_of(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(path.relative_to(ROOT).as_posix())
    assert {name: found for name, found in places.items() if len(found) > 1} == {}


@each_module
def test_errors_are_our_own(path):
    """No bare except, nothing swallowed, no plain Exception raised, no assert for input."""
    for node in nodes_of(tree_of(path)):
        assert not isinstance(node, ast.Assert), f"line {node.lineno}: assert vanishes under -O"
        if isinstance(node, ast.ExceptHandler):
            caught = ast.unparse(node.type) if node.type else ""
            hands_on = isinstance(node.body[-1], ast.Raise)
            assert caught != "", f"line {node.lineno}: bare except"
            assert caught != "Exception" or hands_on, f"line {node.lineno}: swallows everything"
        if isinstance(node, ast.Raise) and node.exc is not None:
            raised = ast.unparse(node.exc)
            assert not re.match(r"(Base)?Exception\b", raised), f"line {node.lineno}: {raised}"


@each_module
def test_rooms_have_names_that_say_something(path):
    """No module or folder is called utils, helpers or the like."""
    parts = {part.strip("_") for part in path.relative_to(ROOT).with_suffix("").parts}
    assert not parts & BANNED_NAMES


@functools.partial(each_module, modules=TEST_MODULES)
def test_every_test_states_its_promise(path):
    """Each test function has a docstring."""
    for node in nodes_of(tree_of(path)):
        if isinstance(node, FUNCTIONS) and node.name.startswith("test_"):
            assert ast.get_docstring(node), f"{node.name} has no docstring"


def test_test_files_have_names_of_their_own():
    """No two test files share a name: the whole suite is one namespace."""
    names = [path.name for path in TEST_MODULES]
    assert sorted(names) == sorted(set(names))


TEXT_SUFFIXES = {".py", ".md", ".toml", ".txt", ".csv", ".html", ".css", ".js", ""}
NOT_HERE = re.compile(
    "|".join(
        (
            r"/(?:work|root|farm)" + r"/",
            r"/home/" + r"\w+/",
            r"/tmp" + r"/[a-z]",
            r"[A-Z]:\\" + r"Users\\",
            r"pypi" + r"\.org",
            r"python" + r"hosted\.",
            r"registry\." + r"npmjs",
            r"deb\." + r"debian",
        )
    )
)


def text_files():
    top = [path for path in ROOT.iterdir() if path.is_file() and path.name != ".git"]
    folders = [*PACKAGES, "tests", "sample_trials", ".ci"]
    inside = [path for folder in folders for path in (ROOT / folder).rglob("*") if path.is_file()]
    return [
        p for p in (*top, *inside) if p.suffix in TEXT_SUFFIXES and "__pycache__" not in p.parts
    ]


def test_no_machine_is_named():
    """No file names a path of one machine or the host of a package registry."""
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in text_files()
        if (match := NOT_HERE.search(path.read_text(encoding="utf-8", errors="replace")))
    ]
    assert found == []


def test_what_the_documents_name_is_there():
    """Each test, test file and command of .ci that DEVELOPERS.md names exists."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    files = {
        path.name: path.read_text(encoding="utf-8") for path in ROOT.glob("tests/**/test_*.py")
    }
    whole = "\n".join(files.values())
    named = set(re.findall(r"`(test_\w+(?:\.py)?)`", text))
    assert len(named) > 20
    assert [name for name in named if name not in files and f"def {name}(" not in whole] == []
    commands = set(re.findall(r"\.ci/[\w.]+", text))
    assert [name for name in commands if not (ROOT / name).exists()] == []


@pytest.mark.parametrize(
    "arguments",
    [[], ["check"], ["measure"], ["demo"], ["compare"], ["errors"], ["export"]],
    ids=" ".join,
)
def test_help_loads_nothing_heavy(arguments):
    """Asking for help imports neither tables nor filters nor screens."""
    command = [sys.executable, "-X", "importtime", "-m", "gaittrack", *arguments, "--help"]
    run = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    loaded = {line.rpartition("|")[2].strip().split(".")[0] for line in run.stderr.splitlines()}
    assert "click" in loaded
    assert loaded & HEAVY == set()


def commands_in(text):
    """Return the shell commands of a Markdown text: lines of its sh blocks."""
    blocks = re.findall(r"```sh\n(.*?)```", text, re.S)
    return [line.strip() for block in blocks for line in block.splitlines() if line.strip()]


def test_the_readmes_first_commands_are_what_ci_runs():
    """Set-up and tests as the README says them are run, word for word, on a clean machine."""
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    first_two = commands_in((ROOT / "README.md").read_text(encoding="utf-8"))[:2]
    assert len(first_two) == 2
    for command in first_two:
        assert re.search(rf"^{re.escape(command)}$", ci, re.M), f"not in .ci/run: {command}"


def test_no_style_asks_of_every_element_what_is_in_it():
    """Each element that comes or goes would style the whole page anew: a plot does so 40 times."""
    sheets = [*ROOT.glob("dashboards/assets/*.css"), *ROOT.glob("gaittrack/report/templates/*.css")]
    everything = re.compile(r"(\*|:not\():has\(|\*:not\(:has\(")
    found = [path.name for path in sheets if everything.search(path.read_text())]
    assert len(sheets) > 10 and found == []
