"""Whatever hands a file out asks for the right to export, whoever asks and however."""

import ast
import io
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest
from flask import g

import dashboards
from dashboards import app as app_module
from dashboards.app import build_app
from dashboards.parts.dash_private import UPDATE
from dashboards.shell import bars
from dashboards.shell.access import NotAllowedError, Visitor
from dashboards.shell.handing_out import WHY_NOT, hand_out_file
from dashboards.shell.place import Doors
from dashboards.shell.sessions import Sessions
from gaittrack.study.results.comparing import conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.store import open_study
from gaittrack.study.upkeep import users
from gaittrack.study.upkeep.users import add_user, read_users
from tests.dashboards.registered import callbacks_of
from tests.dashboards.test_doors import HOST, OWN, PASSWORD, ROLES, Caller

END = "-download"
ROUTES = {"/export/<key>": "export", "/upload/<key>": "edit", "/made-up": "view", "/guide": "view"}
"""Every route of our own, and the right it asks for."""
PARTS = Path(dashboards.__file__).parent


@pytest.fixture(scope="module")
def app(study_folder, tmp_path_factory):
    """Build the dashboard on a copy of the study, for people who sign in."""
    folder = shutil.copytree(study_folder, tmp_path_factory.mktemp("roles") / "study")
    study = open_study(folder)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(users, "_COST", (2**10, 8, 1))
        for name, rights in ROLES.items():
            add_user(study, name, PASSWORD, rights, who="tests")
        yield build_app(study, Doors(frozenset({HOST}), signs_in=True, sessions=Sessions())), study
    study.close()


@pytest.fixture(params=list(ROLES))
def somebody(app, request):
    """Give somebody of each role who signed in, and what the table of rights says they may."""
    built, study = app
    caller = Caller(built.server)
    assert caller.sign_in(request.param).status_code == 303
    (user,) = [one for one in read_users(study.folder) if one.name == request.param]
    return caller, user.rights


def places(part):
    """Yield the id of every place for files in a layout."""
    if type(part).__name__ == "Download":
        yield part.id
    children = getattr(part, "children", None)
    for child in children if isinstance(children, (list, tuple)) else [children]:
        if child is not None:
            yield from places(child)


def handing_out(app):
    """Return every callback with an output to a place for files."""
    return {key: one for key, one in callbacks_of(app).items() if f"{END}.data" in key}


PRESSED = {"value": True, "at": 1}


def values_of(study):
    """Return what a browser would send of a study in which somebody compares."""
    conditions = conditions_of(study, 1)
    choice = first_choice(conditions)
    picked = {"conditions": list(choice.conditions), "reference": choice.reference}
    return {
        "choice.data": {"person": 1},
        "changed.data": 0,
        "compare-picked.data": picked | {"person": 1},
        **{f"compare-{page}.data": PRESSED for page in ("paper", "everything", "workbook")},
        "for-the-person-pair.value": None,
        "for-the-person-language.value": "en",
        "save.data": {"kind": "csv", "name": "rows", "rows": [["a"], ["=1"]]},
        "cohort-save.data": {"kind": "csv", "name": "rows"},
        "cohort-order.value": "person",
        "cohort-measure.value": "minimum_toe_clearance_mm",
        "cohort-side-role.value": "affected",
        "cohort-pair.value": "orthosis_shod | no-orthosis_shod",
    }


def posted(caller, key, entry, values):
    """Post to a callback as a page does that shows a button to everybody."""

    def filled(one):
        name = f"{one['id']}.{one['property']}"
        return one | {"value": values.get(name, 1 if name.endswith("n_clicks") else None)}

    target, _, its_property = key.rpartition(".")
    body = {
        "output": key,
        "outputs": {"id": target, "property": its_property},
        "inputs": [filled(one) for one in entry["inputs"]],
        "state": [filled(one) for one in entry["state"]],
        "changedPropIds": ["{id}.{property}".format(**entry["inputs"][0])],
    }
    return caller.ask("POST", UPDATE, OWN, json=body)


def test_every_place_for_files_has_its_callbacks(app):
    """What the layouts hold is what callbacks hand out to: none is missed by the test below."""
    built, study = app
    with built.server.test_request_context("/"):
        g.visitor, g.session = Visitor("ada", frozenset(users.RIGHTS)), SimpleNamespace(user=None)
        layouts = [bars.frame([]), *(one.layout(study) for _, _, one in app_module.SCREENS)]
        found = {name for layout in layouts for name in places(layout)}
    assert found and found == {key.partition(".")[0] for key in handing_out(built)}
    assert len(handing_out(built)) >= 3


def test_a_forged_callback_takes_a_file_only_with_the_right(app, somebody):
    """Each callback that hands out, posted to directly by each role of the table of rights."""
    built, study = app
    caller, rights = somebody
    may_export = "export" in rights
    values = values_of(study)
    for key, entry in handing_out(built).items():
        answer = posted(caller, key, entry, values)
        assert answer.status_code == 200, (key, answer.text[:200])
        assert ("filename" in answer.text) == may_export, (key, answer.text[:200])
        assert ("may not export here" in answer.text) != may_export, key


def test_every_route_asks_for_its_right(app, somebody):
    """No other route of our own is there; each refuses who lacks its right, by name."""
    built, _ = app
    caller, rights = somebody
    own = {
        rule.rule: rule
        for rule in built.server.url_map.iter_rules()
        if built.server.view_functions[rule.endpoint].__module__.startswith("dashboards")
    }
    assert set(own) == set(ROUTES)
    for rule, right in ROUTES.items():
        method = "GET" if "GET" in own[rule].methods else "POST"
        answer = caller.ask(method, rule.replace("<key>", "none"), OWN)
        assert (answer.status_code >= 400) == ("<key>" in rule or right not in rights)
        assert (f"may not {right} here" in answer.text) != (right in rights), (rule, answer.text)


def test_an_open_file_is_handed_out_only_with_the_right(app, somebody):
    """What the route of an export answers with asks for itself."""
    built, _ = app
    _, rights = somebody
    with built.server.test_request_context("/"):
        g.visitor = Visitor("somebody", rights)
        if "export" in rights:
            answer = hand_out_file(io.BytesIO(b"PK"), "a.zip", "application/zip")
            answer.direct_passthrough = False
            assert answer.data == b"PK" and "a.zip" in answer.headers["Content-Disposition"]
        else:
            with pytest.raises(NotAllowedError, match="may not export"):
                hand_out_file(io.BytesIO(b"PK"), "a.zip", "application/zip")


def test_only_one_module_hands_files_out():
    """Nothing else of the dashboard names what Dash and Flask send files with."""
    ways = {"Download", "send_file", "send_from_directory", "send_bytes", "send_string"}
    found = set()
    for path in PARTS.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(node, "attr", getattr(node, "id", getattr(node, "name", "")))
            given = getattr(node, "value", "")
            if name in ways or given == "filename":
                found.add(path.relative_to(PARTS).as_posix())
    assert found == {"shell/handing_out.py"}


def test_who_may_not_export_reads_why(app, somebody):
    """In the place of the buttons under a comparison."""
    built, _ = app
    caller, rights = somebody
    may_export = "export" in rights
    (key,) = [one for one in callbacks_of(built) if one.startswith("..compare-choosing.children")]
    entry = callbacks_of(built)[key]
    sent = {
        "output": key,
        "outputs": [
            {"id": part.partition(".")[0], "property": part.partition(".")[2]}
            for part in key.strip(".").split("...")
        ],
        "inputs": [{"id": "choice", "property": "data", "value": {"person": 1}}],
        "state": [one | {"value": None} for one in entry["state"]],
        "changedPropIds": ["choice.data"],
    }
    text = caller.ask("POST", UPDATE, OWN, json=sent).text
    assert (WHY_NOT in text) != may_export and ("compare-paper" in text) == may_export
