"""Whatever is sent to a callback, it is answered in words, and changes nothing."""

import json
import logging

import pytest

from dashboards.app import build_app
from dashboards.parts.dash_private import UPDATE, nothing_new
from dashboards.parts.sent_kinds import checked
from dashboards.shell.access import LOG
from dashboards.shell.doors import START
from dashboards.shell.place import Doors
from gaittrack.errors import StudyError
from gaittrack.study.history import last_sequence
from gaittrack.study.store import create_study
from tests.dashboards.registered import callbacks_of

HOST = "127.0.0.1:8050"
OWN = {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}
DEEP = json.loads('{"a":' * 60 + "1" + "}" * 60)
NO_PLAIN = (10**30, "\ud800", DEEP)
OTHERS = (-1, [None], {"person": -1, "value": {"act": "use"}})


def test_what_cannot_be_stored_is_refused():
    """Half letters, numbers that no database holds, values within values without end."""

    def given(*values):
        return values

    good = ("w\U0001f9bf", 2**63 - 1, -1.5, [{"a": [None, True]}])
    assert checked(given)(*good) == good
    for each in (*NO_PLAIN, [{"a": 10**30}], {"\ud800": 1}, float("nan")):
        with pytest.raises(StudyError, match="nothing that this screen sends"):
            checked(given)("w", each)


def test_an_error_changes_nothing_of_one_place_or_of_several():
    """Of places that are filled as one, a list for as many as there are."""
    assert len(nothing_new([{"id": 1}, [{"id": 2}, {"id": 3}]])[1]) == 2
    assert not isinstance(nothing_new({"id": 1}), list)


@pytest.fixture
def post(tmp_path):
    """Give a function that sends a callback one value for all it takes, and the log of it."""
    study = create_study(tmp_path / "study")
    doors = Doors(frozenset({HOST}), who="tester")
    app = build_app(study, doors)
    client, said = app.server.test_client(), []
    handler = logging.Handler()
    handler.emit = lambda record: said.append(record.getMessage())
    LOG.addHandler(handler)
    at_host = {"base_url": f"http://{HOST}"}
    client.get(START, query_string={"token": doors.token}, **at_host)
    client.get("/_dash-dependencies", **at_host)

    def send(name, entry, value):
        said.clear()
        body = json.dumps(asked(name, entry, value))
        answer = client.post(
            UPDATE, data=body, content_type="application/json", headers=OWN, **at_host
        )
        with study.read() as connection:
            assert last_sequence(connection) == 0
        return answer, [line for line in said if "unforeseen" in line]

    yield app, send
    LOG.removeHandler(handler)
    study.close()


def test_nothing_that_is_sent_ends_a_callback_without_words(post):
    """Every callback, with values of other kinds for all it takes: none is left to the server."""
    app, send = post
    callbacks = {n: each for n, each in callbacks_of(app).items() if each.get("callback")}
    assert len(callbacks) > 50
    for name, entry in callbacks.items():
        n_given = len(entry["inputs"]) + len(entry["state"])
        for value in NO_PLAIN[:2] if n_given else ():
            answer, unforeseen = send(name, entry, value)
            assert answer.status_code in (200, 204) and not unforeseen, (name, unforeseen)
        for value in OTHERS:
            assert send(name, entry, value)[0].status_code in (200, 204), (name, value)


def asked(name, entry, value):
    """Return the request for a callback; of places that are many, one."""
    names = name[2:-2].split("...") if name.startswith("..") else [name]
    outputs = [placed(*each.rpartition(".")[::2]) for each in names]
    inputs, state = (
        [placed(one["id"], one["property"], value) for one in entry[part]]
        for part in ("inputs", "state")
    )
    first = inputs[0][0] if isinstance(inputs[0], list) else inputs[0]
    own = first["id"]
    changed = (
        own if isinstance(own, str) else json.dumps(own, sort_keys=True, separators=(",", ":"))
    )
    return {
        "output": name,
        "outputs": outputs if name.startswith("..") else outputs[0],
        "inputs": inputs,
        "state": state,
        "changedPropIds": [f"{changed}.{first['property']}"],
    }


def placed(own, kind, value=None):
    """Return a property of a part of the screen as a browser sends it."""
    if not own.startswith("{"):
        return {"id": own, "property": kind, "value": value}
    parts = json.loads(own)
    is_many = ["ALL"] in parts.values()
    named = {key: "x" if isinstance(each, list) else each for key, each in parts.items()}
    one = {"id": named, "property": kind, "value": named if kind == "id" else value}
    return [one] if is_many else one
