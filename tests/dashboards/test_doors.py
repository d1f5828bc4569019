"""Each door of the server, tried from the wrong side: no browser, requests by hand."""

import base64
import hashlib
import inspect
import json
import logging
import re
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest
from dash import Input, Output, html
from flask import g
from sqlalchemy import insert, select

from dashboards import app as app_module
from dashboards.app import build_app
from dashboards.parts.dash_private import UPDATE
from dashboards.shell import doors as doors_module
from dashboards.shell import sign_in
from dashboards.shell.access import NotAllowedError, Visitor, require
from dashboards.shell.doors import MOST_FORM_BYTES, MOST_UPDATE_BYTES, START
from dashboards.shell.handing_out import hand_out_page
from dashboards.shell.made_up import MADE_UP
from dashboards.shell.place import Doors
from dashboards.shell.sessions import (
    FIRST_WAIT_S,
    FREE_OF_ADDRESS,
    FREE_TRIES,
    IDLE_S,
    LONGEST_WAIT_S,
    WHOLE_S,
    Patience,
    Sessions,
)
from gaittrack.study.history import entries
from gaittrack.study.store import create_study
from gaittrack.study.tables import PERSON
from gaittrack.study.upkeep import users
from gaittrack.study.upkeep.users import RIGHTS, add_user, remove_user, set_password
from tests.dashboards.registered import server_callbacks

HOST = "127.0.0.1:8050"
OWN = {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}
PASSWORD = "four words in row"
CANARY = "Karlotta-Kanari"
ROLES = {"vera": ["view"], "ede": ["edit"], "expo": ["export"], "ada": ["administer"]}


class Clock:
    """A clock that a test sets."""

    def __init__(self):
        self.now_s = 1_000_000.0

    def __call__(self):
        return self.now_s


def probe_screen():
    """Make a screen with one callback per right, and one that throws a name."""

    def layout(_study):
        return html.H1("Probe")

    def register(app, study):
        @app.callback(Output("probe-forgets", "children"), Input("probe-forgets", "id"))
        def forget_to_ask(_id):
            with study.write() as connection:
                connection.execute(insert(PERSON).values(code="P99"))
            return "it did"

        for right in RIGHTS:

            @app.callback(Output(f"probe-{right}", "children"), Input(f"probe-{right}", "id"))
            def try_right(_id, right=right):
                return f"{require(right).name} did it"

        @app.callback(Output("probe-throw", "children"), Input("probe-throw", "id"))
        def throw(_id):
            require("view")
            raise ZeroDivisionError(CANARY)

    return SimpleNamespace(layout=layout, register=register)


@pytest.fixture
def study(tmp_path):
    """Make a study of one person."""
    one = create_study(tmp_path / "study")
    with one.write() as connection:
        connection.execute(insert(PERSON).values(id=7, code=CANARY))
    yield one
    one.close()


@pytest.fixture
def doors():
    """Give the doors of this computer's only visitor."""
    return Doors(frozenset({HOST, "[::1]:8050"}), who="tester")


@pytest.fixture
def server(study, doors, monkeypatch):
    """Build the dashboard with the probe as one more screen."""
    screens = (*app_module.SCREENS, ("/probe", "Probe", probe_screen()))
    monkeypatch.setattr(app_module, "SCREENS", screens)
    return build_app(study, doors).server


class Caller:
    """Somebody who sends requests to a server; keeps cookies as a browser does."""

    def __init__(self, server, host=HOST, *, address="127.0.0.1"):
        self.client = server.test_client()
        self.client.environ_base["REMOTE_ADDR"] = address
        self.host = host

    def ask(self, method, path, headers=(), **what):
        sent = {"Host": self.host} | dict(headers)
        return self.client.open(
            path, method=method, headers=sent, base_url=f"http://{self.host}", **what
        )

    def get(self, path, **headers):
        return self.ask("GET", path, {name.replace("_", "-"): v for name, v in headers.items()})

    def call(self, component, headers=OWN, prop="id"):
        """Send what a browser sends for a callback of one output and one input."""
        body = {
            "output": f"{component}.children",
            "outputs": {"id": component, "property": "children"},
            "inputs": [{"id": component, "property": prop, "value": component}],
            "changedPropIds": [f"{component}.{prop}"],
        }
        return self.ask("POST", UPDATE, headers, json=body)

    def sign_in(self, name, password=PASSWORD, headers=OWN):
        form = self.get("/sign-in").text.partition('name="form" value="')[2].partition('"')[0]
        return self.ask(
            "POST", "/sign-in", headers, data={"form": form, "name": name, "password": password}
        )


@pytest.fixture
def caller(server, doors):
    """Give somebody who came in by the printed address."""
    one = Caller(server)
    assert one.get(f"{START}?token={doors.token}").status_code == 200
    return one


def test_only_the_printed_secret_opens_the_door(server, doors):
    """No cookie, a wrong token, and one that is no ASCII are turned away; the right one lets in."""
    somebody = Caller(server)
    for path in (
        "/",
        "/_dash-layout",
        "/_dash-dependencies",
        f"{START}?token=x",
        f"{START}?token=%C3%BC",
    ):
        answer = somebody.get(path)
        assert answer.status_code == 403, path
        assert "href" not in answer.text.split("<main>")[-1], "no way that leads back here"
    assert somebody.call("probe-view").status_code == 401
    answer = somebody.get(f"{START}?token={doors.token}")
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie and "Path=/" in cookie
    assert doors.token not in cookie and doors.token not in answer.text
    assert somebody.get("/").status_code == 200
    assert somebody.call("probe-edit").json["response"]["probe-edit"]["children"] == "tester did it"


def test_the_cookie_of_a_server_with_tls_is_secure(study):
    """Under TLS the cookie goes nowhere else, and no subdomain may set it."""
    doors = Doors(frozenset({"gait.example.org"}), who="tester", is_secure=True)
    somebody = Caller(build_app(study, doors).server, "gait.example.org")
    cookie = somebody.get(f"{START}?token={doors.token}").headers["Set-Cookie"]
    assert cookie.startswith("__Host-") and "Secure" in cookie and "Domain" not in cookie


@pytest.mark.parametrize(
    "host",
    [
        *(
            "evil.example",
            "127.0.0.1",
            "127.0.0.1:8051",
            "localhost:8050",
            "[::1]",
            "",
            "127.1:8050",
        ),
        *(f"{HOST}.evil.example", f"evil@{HOST}", f"{HOST}:80"),
    ],
)
def test_other_names_for_this_server_are_refused(caller, host):
    """A host that is not one of the server's own, to the port, is answered to nobody."""
    for path in ("/", START, "/_dash-layout", "/assets/screens.css"):
        assert caller.ask("GET", path, {"Host": host}).status_code in (400, 403)


def test_an_ipv6_address_of_this_computer_is_its_own_name(server):
    """``[::1]`` with the port is known; letters may be large or small."""
    assert "Not done" in Caller(server, "[::1]:8050").get("/").text
    assert Caller(server, "[::1]:8050").get("/assets/screens.css").status_code == 200


FOREIGN = (
    {},
    {"Origin": "http://evil.example"},
    {"Origin": "http://evil.example", "Sec-Fetch-Site": "same-origin"},
    {"Origin": "null"},
    {"Origin": f"https://{HOST}"},
    {"Origin": "http://127.0.0.1:9999", "Sec-Fetch-Site": "same-site"},
    {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "none"},
    {"Origin": f"http://{HOST}.evil.example"},
)


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_what_another_page_sends_is_refused(caller, headers):
    """With the cookie, yet from elsewhere or from nowhere: nothing is done."""
    assert caller.call("probe-edit", headers).status_code == 403


@pytest.mark.parametrize(
    "headers", [OWN, {"Origin": f"http://{HOST}"}, {"Sec-Fetch-Site": "same-origin"}], ids=str
)
def test_what_the_own_page_sends_is_taken(caller, headers):
    """Older browsers send the origin only, forms without a referrer only where they come from."""
    assert caller.call("probe-edit", headers).status_code == 200


def test_another_site_may_link_here_but_load_nothing(caller):
    """A followed link shows the page; a script or a fetch from elsewhere gets nothing."""
    link = {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate"}
    assert caller.get("/", **link).status_code == 200
    for site in ("cross-site", "same-site"):
        asked = {"Sec_Fetch_Site": site, "Sec_Fetch_Mode": "no-cors"}
        assert caller.get("/_dash-layout", **asked).status_code == 403


def test_no_address_takes_a_form_in_place_of_json(server, caller):
    """Every address that takes posts, whichever there are, refuses what a foreign form can send."""
    posts = [rule.rule for rule in server.url_map.iter_rules() if "POST" in rule.methods]
    assert UPDATE in posts
    for path in posts:
        for kind in (
            "text/plain",
            "application/x-www-form-urlencoded",
            "multipart/form-data; boundary=x",
        ):
            answer = caller.ask("POST", path, {"Content-Type": kind}, data=b'{"output": "x"}')
            assert 400 <= answer.status_code < 500, (path, kind)
    for kind in ("text/plain", "application/x-www-form-urlencoded", "application/jsonx"):
        assert (
            caller.ask("POST", UPDATE, OWN | {"Content-Type": kind}, data=b"{}").status_code == 415
        )


def test_bodies_have_a_limit_by_address(caller):
    """A callback takes some megabytes, other addresses next to nothing; the answer says so."""
    large = caller.ask("POST", UPDATE, OWN, json="x" * MOST_UPDATE_BYTES)
    assert large.status_code == 413 and "too large" in large.text
    assert caller.ask("POST", "/people", OWN, data=b"x" * (MOST_FORM_BYTES + 1)).status_code == 413
    assert caller.ask("POST", "/people", OWN, data=b"x").status_code == 405


def test_every_answer_carries_its_protection(server, caller):
    """Pages, data and refusals alike: no store, no sniffing, no frame, no script from elsewhere."""
    somebody = Caller(server)
    taken = [caller.get("/"), caller.get("/_dash-layout"), caller.call("probe-view")]
    refused = [somebody.get("/"), somebody.get("/assets/no.js"), somebody.ask("PUT", "/")]
    for answer in taken + refused:
        policy = answer.headers["Content-Security-Policy"]
        scripts = policy.partition("script-src ")[2].partition(";")[0].split()
        assert policy.startswith("default-src 'none'") and "frame-ancestors 'none'" in policy
        assert all(word == "'self'" or word.startswith("'sha256-") for word in scripts), scripts
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["X-Frame-Options"] == "DENY"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert "Server" not in answer.headers


def test_refusals_are_pages_in_plain_words(caller):
    """403, 404 and 405 say what happened; none shows a trace or the name of a library."""
    caller_elsewhere = caller.ask("GET", "/", {"Host": "evil.example"})
    for answer, words in (
        (caller_elsewhere, "does not answer to that name"),
        (caller.get("/assets/nothing.js"), "nothing at this address"),
        (caller.ask("PUT", "/", OWN), "does not take that kind"),
    ):
        assert words in answer.text and "<h1>Not done</h1>" in answer.text
        assert not any(word in answer.text for word in ("Traceback", "werkzeug", "Flask"))
        assert ("To the first screen" in answer.text) == (answer is not caller_elsewhere)


def test_a_made_up_person_can_be_looked_at_and_is_told_to_be_made_up(server, caller):
    """A whole comparison, whose own script runs and no other; nobody from outside gets it."""
    answer = caller.get(MADE_UP)
    assert "A made-up person" in answer.text and "Walking: with-brace against" in answer.text
    policy = answer.headers["Content-Security-Policy"]
    (script,) = re.findall(r"<script>(.*?)</script>", answer.text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'self' 'sha256-{digest}';" in policy
    assert MADE_UP not in Caller(server).get(MADE_UP).text


def test_an_unforeseen_error_keeps_names_out_of_log_and_answer(server, caller, caplog, monkeypatch):
    """The kind and place of the error are logged, its words are not; likewise in a route."""
    caplog.set_level(logging.DEBUG)
    answer = caller.call("probe-throw")
    assert answer.status_code == 200 and "in the log" in answer.text

    def broken(*_arguments):
        raise KeyError(CANARY)

    monkeypatch.setattr(doors_module, "refuse_wrong_content", broken)
    page = caller.get("/")
    assert page.status_code == 500 and "Something went wrong" in page.text
    assert "ZeroDivisionError in throw:" in caplog.text and "KeyError in broken:" in caplog.text
    assert CANARY not in caplog.text + answer.text + page.text


def test_every_layout_and_callback_asks_first_whether_one_may(study, doors):
    """Somebody without any right gets nothing from any of them, whatever they send."""
    app = build_app(study, doors)
    callbacks = dict(server_callbacks(app))
    assert len(callbacks) > len(app_module.SCREENS)
    layouts = {name: lambda s=screen: s.layout(study) for _, name, screen in app_module.SCREENS}
    let_through = []
    for name, function in (layouts | callbacks).items():
        with app.server.test_request_context("/"):
            g.visitor = Visitor("nobody", frozenset())
            n_given = len(inspect.signature(function).parameters) if name in callbacks else 0
            try:
                function(*[None] * n_given)
            except NotAllowedError:
                continue
            except Exception as error:
                let_through.append(f"{name}: {type(error).__name__}")
            else:
                let_through.append(name)
    assert let_through == []


# Where people sign in.


@pytest.fixture
def clock():
    """Give a clock that a test sets."""
    return Clock()


@pytest.fixture
def signing(study, clock, monkeypatch):
    """Serve to people who sign in; their passwords are hashed in less than the usual time."""
    monkeypatch.setattr(users, "_COST", (2**10, 8, 1))
    for name, rights in ROLES.items():
        add_user(study, name, PASSWORD, rights, who="tests")
    screens = (*app_module.SCREENS, ("/probe", "Probe", probe_screen()))
    monkeypatch.setattr(app_module, "SCREENS", screens)
    doors = Doors(frozenset({HOST}), signs_in=True, sessions=Sessions(clock))
    return build_app(study, doors).server


def test_each_role_does_what_it_may_and_no_more(signing):
    """A viewer's forged callback to change, take away or administer is refused, by name."""
    allowed = {
        "vera": {"view"},
        "ede": {"view", "edit"},
        "expo": {"view", "export"},
        "ada": set(RIGHTS),
    }
    for name, rights in allowed.items():
        somebody = Caller(signing)
        assert somebody.sign_in(name).status_code == 303
        for right in RIGHTS:
            text = somebody.call(f"probe-{right}").text
            assert (f"{name} did it" in text) == (right in rights), (name, right)
            assert (f"{name} may not {right} here" in text) == (right not in rights), (name, right)


def test_a_screen_that_forgets_to_ask_changes_nothing_for_a_viewer(signing, study):
    """The study itself asks once more; whoever may edit writes."""
    for name, n_people in (("vera", 1), ("ede", 2)):
        somebody = Caller(signing)
        somebody.sign_in(name)
        assert ("may not edit" in somebody.call("probe-forgets").text) == (name == "vera")
        with study.read() as connection:
            assert len(connection.execute(select(PERSON.c.id)).all()) == n_people


def test_nobody_is_let_in_without_a_right_password(signing):
    """No token, no name, a wrong password, an empty one: the form again, and no session."""
    somebody = Caller(signing)
    assert somebody.get("/").headers["Location"] == "/sign-in"
    assert somebody.get(f"{START}?token=").headers["Location"] == "/sign-in"
    assert somebody.call("probe-view").status_code == 401
    for name, password in (
        ("vera", "wrong words in row"),
        ("vera", ""),
        ("", ""),
        ("nobody", PASSWORD),
    ):
        answer = somebody.sign_in(name, password)
        assert answer.status_code == 401 and "do not belong together" in answer.text
    assert somebody.call("probe-view").status_code == 401


def test_a_sign_in_form_from_elsewhere_signs_nobody_in(signing):
    """Without the form's own proof, with another's, or from another site, nothing happens."""
    somebody, other = Caller(signing), Caller(signing)
    typed = {"name": "vera", "password": PASSWORD}
    assert somebody.ask("POST", "/sign-in", OWN, data=typed).status_code == 403
    proof = other.get("/sign-in").text.partition('name="form" value="')[2].partition('"')[0]
    somebody.get("/sign-in")
    stolen = typed | {"form": proof}
    assert somebody.ask("POST", "/sign-in", OWN, data=stolen).status_code == 403
    evil = {"Origin": "http://evil.example"}
    assert somebody.sign_in("vera", headers=evil).status_code == 403
    assert somebody.call("probe-view").status_code == 401
    assert other.ask("POST", "/sign-in", OWN, data=stolen).status_code == 303


def test_a_session_ends_when_nobody_works_and_after_a_working_day(signing, clock):
    """Half an hour without a request, or eight hours with them."""
    somebody = Caller(signing)
    somebody.sign_in("vera")
    clock.now_s += IDLE_S - 1
    assert somebody.call("probe-view").status_code == 200
    clock.now_s += IDLE_S + 1
    assert somebody.call("probe-view").status_code == 401
    somebody.sign_in("vera")
    for _ in range(int(WHOLE_S / 600)):
        clock.now_s += 600
        assert somebody.call("probe-view").status_code == 200
    clock.now_s += 1
    assert somebody.call("probe-view").status_code == 401


def test_signing_out_ends_the_session_not_only_the_cookie(signing):
    """The old cookie opens nothing any more, and a foreign page cannot sign anybody out."""
    somebody = Caller(signing)
    somebody.sign_in("ede")
    held = [cookie for cookie in somebody.client._cookies.values() if "form" not in cookie.key]
    assert somebody.ask("POST", "/sign-out", {"Origin": "http://evil.example"}).status_code == 403
    assert somebody.get("/sign-out").status_code == 200  # a screen that there is not
    assert somebody.call("probe-edit").status_code == 200
    assert somebody.ask("POST", "/sign-out", OWN).headers["Location"] == "/sign-in"
    somebody.client.set_cookie(held[0].key, held[0].value, domain="127.0.0.1")
    assert somebody.call("probe-edit").status_code == 401


def test_who_is_removed_or_gets_a_new_password_is_out_at_once(signing, study):
    """No session outlives what it was given for."""
    first, second = Caller(signing), Caller(signing)
    first.sign_in("vera")
    second.sign_in("ede")
    remove_user(study, "vera", who="tests")
    set_password(study, "ede", PASSWORD + " more", who="tests")
    assert first.call("probe-view").status_code == second.call("probe-view").status_code == 401
    assert first.sign_in("vera").status_code == second.sign_in("ede").status_code == 401
    assert second.sign_in("ede", PASSWORD + " more").status_code == 303


def test_guessing_has_to_wait(signing):
    """After some wrong passwords even the right one is not tried there; elsewhere it is.

    A browser in which that person signed in before is not made to wait by a stranger's tries.
    """
    somebody, owner = Caller(signing), Caller(signing)
    assert owner.sign_in("vera").status_code == 303
    for _ in range(FREE_TRIES):
        assert somebody.sign_in("vera", "wrong words in row").status_code == 401
    answer = somebody.sign_in("vera")
    assert answer.status_code == 429 and "Try again in" in answer.text
    assert somebody.sign_in("ede").status_code == 303
    assert owner.sign_in("vera").status_code == 303
    assert somebody.sign_in("vera").status_code == 429
    assert Caller(signing, address="192.0.2.7").sign_in("vera").status_code == 303


def test_many_tries_at_once_are_no_more_than_one_after_the_other(signing, monkeypatch):
    """Of 24 at the same time five passwords are looked at, and wait for none of the others."""
    looked_at, all_here = [], threading.Barrier(24)
    monkeypatch.setattr(sign_in, "matching_user", lambda *given: looked_at.append(given[1:]))

    def guess(number):
        one = Caller(signing)
        form = one.get("/sign-in").text.partition('name="form" value="')[2].partition('"')[0]
        all_here.wait()
        typed = {"form": form, "name": "vera", "password": f"guess {number} of some"}
        return one.ask("POST", "/sign-in", OWN, data=typed).status_code

    with ThreadPoolExecutor(24) as pool:
        found = Counter(pool.map(guess, range(24)))
    assert found == {401: FREE_TRIES, 429: 24 - FREE_TRIES} and len(looked_at) == FREE_TRIES


def test_patience_doubles_up_to_a_limit_and_forgets_after_success():
    """The wait grows with each failure; spelling the name otherwise does not help."""
    clock = Clock()
    patience = Patience(clock)
    waits = []
    for _ in range(14):
        waits.append(patience.take("Vera", "here"))
        assert patience.take("VERA", "here") == waits[-1] or not waits[-1]
        clock.now_s += waits[-1]
    assert waits[:3] == [0, 0, 0] and waits[-1] == LONGEST_WAIT_S
    waited = [wait_s for wait_s in waits if wait_s]
    assert waited[:2] == [FIRST_WAIT_S, 2 * FIRST_WAIT_S] and waited == sorted(waited)
    clock.now_s += LONGEST_WAIT_S
    assert patience.take("vera", "here") == 0
    patience.forget("vera", "here")
    assert [patience.take("vera", "here") > 0 for _ in range(6)] == [False] * 5 + [True]


def test_an_address_that_guesses_many_names_has_to_wait():
    """Twenty tries with twenty names; a try that was not looked at is given back."""
    patience = Patience(Clock())
    names = [f"name {number}" for number in range(FREE_OF_ADDRESS)]
    assert [patience.take(name, "there") for name in names] == [0] * FREE_OF_ADDRESS
    assert patience.take("one more", "there") > 0 and patience.take("one more", "here") == 0
    assert patience.take("one more", "there", browser="proven") == 0
    patience.give_back(names[0], "there")
    assert patience.take("one more", "there") == 0


def test_the_log_says_who_what_and_from_where(signing, caplog):
    """Sign-ins, refusals and what is taken away; no password, no person's code."""
    caplog.set_level(logging.INFO)
    somebody = Caller(signing, address="192.0.2.7")
    somebody.sign_in("nobody here", PASSWORD)
    somebody.sign_in("VERA", "wrong words in row")
    somebody.sign_in("expo")
    with signing.test_request_context("/", environ_base={"REMOTE_ADDR": "192.0.2.7"}):
        g.visitor = Visitor("expo", frozenset({"export"}))
        hand_out_page("<p>", "comparison.html")
    somebody.ask("POST", "/sign-out", OWN)
    assert [entry.getMessage() for entry in caplog.records if entry.levelname == "INFO"] == [
        "sign-in refused: a name that nobody has from 192.0.2.7",
        "sign-in refused: vera from 192.0.2.7",
        "sign in: expo from 192.0.2.7",
        "taken away comparison.html: expo from 192.0.2.7",
        "sign out: expo from 192.0.2.7",
    ]


def test_who_signs_in_and_looks_at_whom_stands_in_the_history(signing, study):
    """Once per session and person; passwords and wrong tries are nowhere."""
    somebody = Caller(signing)
    somebody.sign_in("vera", "wrong words in row")
    somebody.sign_in("vera")
    for _ in range(2):
        body = {
            "output": "banner.children",
            "outputs": {"id": "banner", "property": "children"},
            "inputs": [
                {"id": "choice", "property": "data", "value": {"person": 7}},
                {"id": "changed", "property": "data", "value": 0},
                {"id": "address", "property": "pathname", "value": "/walks"},
            ],
            "changedPropIds": ["choice.data"],
        }
        assert CANARY in somebody.ask("POST", UPDATE, OWN, json=body).text
    somebody.ask("POST", "/sign-out", OWN)
    with study.read() as connection:
        found = [one for one in entries(connection) if one["who"] == "vera"]
    told = [(one["what"], one["person"]) for one in found]
    assert told == [("sign in", None), ("look at person", CANARY), ("sign out", None)]
    assert "words" not in json.dumps(found)


def test_asking_outside_of_a_request_has_no_visitor(server):
    """What does not come through the doors is nobody."""
    with server.test_request_context("/"), pytest.raises(NotAllowedError, match="Nobody"):
        require("view")
