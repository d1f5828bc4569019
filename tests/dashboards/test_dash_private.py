"""What leans on the insides of Dash stands in one module, and one test says when they change."""

import ast
import re
from pathlib import Path

import dash
from dash import Input, Output, dcc, html

import dashboards
from dashboards.parts.dash_private import (
    SUITES,
    UPDATE,
    LeanDash,
    Markup,
    html_element,
)
from tests.dashboards.registered import callbacks_of, server_callbacks

SCREENS = Path(dashboards.__file__).parent
OTHERS = {"serving.py": {"_map"}}
"""Insides of other libraries that a module leans on: waitress's open connections."""
WHAT_TO_DO = (
    f"Dash {dash.__version__} changed inside: {{what}}. All that leans on it stands in "
    "dashboards/parts/dash_private.py, assets/answers.js, later.js, markup.js and "
    "tests/dashboards/registered.py: adapt it there and try every screen (pytest "
    "tests/dashboards), or keep dash below this version in pyproject.toml."
)


def probe():
    """Make an app with one callback."""
    app = LeanDash(__name__)
    app.layout = html.Div(id="place")

    @app.callback(Output("place", "children"), Input("place", "id"))
    def fill(name):
        return name

    return app


def scripts_of(package):
    """Return all JavaScript of an installed package as one text."""
    folder = Path(package.__file__).parent
    return "".join(path.read_text(encoding="utf-8") for path in folder.rglob("*.js"))


def test_dash_is_inside_as_it_was():
    """Page, addresses, components, callbacks and the browser's part are what we lean on."""
    app = probe()
    client = app.server.test_client()
    page = client.get("/").text
    at_once = re.findall(r'<link rel="preload" as="fetch" crossorigin href="([^"]*)">', page)
    body = {
        "output": "place.children",
        "outputs": {"id": "place", "property": "children"},
        "inputs": [{"id": "place", "property": "id", "value": "place"}],
        "changedPropIds": ["place.id"],
    }
    button = html.Button("Go", id="go", className="main", **{"data-press": "x"})
    given = {"children": "Go", "id": "go", "className": "main", "data-press": "x"}
    shown = {"props": {"html": "<p>"}, "type": "Markup", "namespace": "gaittrack"}
    holds = {
        "the page's scripts": f'<script src="{SUITES}' in page,
        "what is asked for at once": [client.get(each).is_json for each in at_once] == [True] * 2,
        "scripts that no screen uses": "/dash_table/" not in page,
        "the address of callbacks": '"place"' in client.post(UPDATE, json=body).text,
        "components of dash.html": html_element(button) == ("button", given),
        "components of others": html_element(dcc.Store(id="x")) is None,
        "a component of our own": Markup("<p>").to_plotly_json() == shown,
        "the table of callbacks": list(callbacks_of(app)) == ["place.children"],
        "functions of callbacks": [one("x") for _, one in server_callbacks(app)] == ["x"],
        "where plots find their script": "_dashPlotlyJSURL" in scripts_of(dcc),
        "how scripts set properties": "set_props" in scripts_of(dash),
        "how scripts read properties": "getLayout:" in scripts_of(dash),
        "what an answer holds": set(client.post(UPDATE, json=body).json) >= {"response", "multi"},
    }
    for what, is_so in holds.items():
        assert is_so, WHAT_TO_DO.format(what=what)


def test_nothing_else_leans_on_insides():
    """No other module of the screens names a private attribute of an object or a module."""
    found = []
    for path in sorted(SCREENS.rglob("*.py")):
        place = path.relative_to(SCREENS).as_posix()
        if place == "parts/dash_private.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name, of = getattr(node, "attr", ""), getattr(node, "value", None)
            is_own = isinstance(of, ast.Name) and of.id in ("self", "cls")
            is_private = name.startswith("_") and not name.startswith("__") and not is_own
            if is_private and name not in OTHERS.get(place, ()):
                found.append(f"{place}:{node.lineno}: {name}")
            if isinstance(node, ast.Constant) and str(node.value).startswith("/_dash"):
                found.append(f"{place}:{node.lineno}: {node.value}")
            if isinstance(node, ast.ImportFrom) and "._" in f".{node.module}".replace("__", ""):
                found.append(f"{place}:{node.lineno}: {node.module}")
    assert found == []
