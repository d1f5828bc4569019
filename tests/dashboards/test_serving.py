"""The server as it runs: where it may stand, what it answers on the wire, how it ends."""

import http.client
import json
import logging
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
import trustme
from click.testing import CliRunner
from sqlalchemy import insert

from dashboards.serving import Server, ended_by, listening_socket
from dashboards.shell.place import Place, PlaceError, address_of, check_place, doors_of
from gaittrack.commands import main
from gaittrack.study.store import create_study, has_study, open_study
from gaittrack.study.tables import PERSON
from gaittrack.study.upkeep.users import add_user
from tests.dashboards.axe_check import violations
from tests.dashboards.conftest import Served
from tests.dashboards.settled import until

PASSWORD = "four words in row"


@pytest.fixture
def folder(tmp_path):
    """Give the folder of an empty study."""
    create_study(tmp_path / "study").close()
    return tmp_path / "study"


@pytest.fixture
def with_users(folder):
    """Give the folder of a study with a user."""
    study = open_study(folder)
    add_user(study, "vera", PASSWORD, ["view"], who="tests")
    study.close()
    return folder


@pytest.fixture
def pem(tmp_path):
    """Write a certificate for 127.0.0.1 and its key; give both, and whom to trust."""
    return certificate_in(tmp_path)


def certificate_in(folder):
    """Write a certificate for 127.0.0.1 and its key; return both, and whom to trust."""
    authority = trustme.CA()
    issued = authority.issue_cert("127.0.0.1")
    certificate, key = folder / "server.pem", folder / "server.key"
    issued.private_key_pem.write_to_path(key)
    for part in issued.cert_chain_pems:
        part.write_to_path(certificate, append=True)
    context = ssl.create_default_context()
    authority.configure_trust(context)
    key.chmod(0o600)
    return certificate, key, context


def raw(served, text):
    """Send bytes as they are; return the whole answer."""
    port = int(served.base.rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port), timeout=10) as connection:
        connection.sendall(text.encode())
        answer = b""
        while chunk := connection.recv(65536):
            answer += chunk
    return answer.decode("utf-8", "replace")


REFUSED = [
    (Place(host="0.0.0.0"), "nothing encrypts", "--behind-proxy"),
    (Place(host="192.0.2.1", signs_in=True), "nothing encrypts", "--certificate"),
    (Place(host="::"), "nothing encrypts", "--certificate"),
    (Place(host="gait.example.org"), "nothing encrypts", "--certificate"),
    (Place(host="192.0.2.1", is_behind_proxy=True, names=("a",)), "Nobody may", "users add"),
    (Place(is_behind_proxy=True, names=("a.example",)), "Nobody may sign in", "users add"),
    (Place(signs_in=True), "Nobody may sign in", "users add"),
    (Place(certificate="c.pem"), "needs its key", "both"),
    (Place(host="192.0.2.1", key="k.pem"), "needs its key", "both"),
]


@pytest.mark.parametrize(("place", "what", "action"), REFUSED, ids=lambda one: str(one)[:60])
def test_a_place_that_others_can_reach_needs_users_and_tls(folder, place, what, action):
    """Without one of them nothing starts, and the message says what to do."""
    with pytest.raises(PlaceError) as found:
        check_place(place, folder)
    assert what in str(found.value) and action in str(found.value)


@pytest.mark.parametrize(
    "place", [Place(is_behind_proxy=True), Place("0.0.0.0", is_behind_proxy=True)]
)
def test_a_place_without_a_name_is_refused(with_users, place):
    """Behind a proxy, or at every address, nobody could tell own requests from foreign ones."""
    with pytest.raises(PlaceError, match="--name"):
        check_place(place, with_users)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.0.0.2"])
def test_this_computer_alone_needs_nothing(folder, host):
    """Loopback, however it is written."""
    check_place(Place(host=host), folder)
    assert not doors_of(Place(host=host), 8050, "tester").signs_in


def test_a_server_answers_to_the_names_it_has():
    """Its address and names, with the port as browsers write it; behind a proxy only its names."""
    own = doors_of(Place(host="192.0.2.1", certificate="c", key="k"), 443, None)
    assert own.hosts == {"192.0.2.1", "192.0.2.1:443"} and own.signs_in
    every = Place(host="0.0.0.0", names=("Gait.example.org",), certificate="c", key="k")
    assert "gait.example.org:8050" in doors_of(every, 8050, None).hosts
    assert not any("0.0.0.0" in host for host in doors_of(every, 8050, None).hosts)
    proxy = Place(is_behind_proxy=True, names=("gait.example.org",))
    assert doors_of(proxy, 8050, None).hosts == {"gait.example.org"}
    assert address_of(proxy, 8050, doors_of(proxy, 8050, None)) == "https://gait.example.org"
    assert "[::1]:8050" in doors_of(Place(host="::1"), 8050, None).hosts


def test_a_taken_port_is_told(folder):
    """The message names the port and the way out, on the command line too; no trace is shown."""
    with listening_socket("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(PlaceError, match=f"port {port}.*--port 0"):
            listening_socket("127.0.0.1", port)
        command = ["dashboard", "--study", str(folder), "--port", str(port), "--no-browser"]
        done = CliRunner().invoke(main, command)
    assert done.exit_code == 2 and "Cannot listen there" in done.stderr
    with pytest.raises(PlaceError, match="Cannot listen there"):
        listening_socket("192.0.2.1", 0)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--host", "0.0.0.0"], "nothing encrypts"),
        (["--sign-in"], "gaittrack users add"),
    ],
)
def test_the_command_refuses_in_words(folder, options, words):
    """Exit code 2 and what to do."""
    done = CliRunner().invoke(main, ["dashboard", "--study", str(folder), "--no-browser", *options])
    assert done.exit_code == 2 and words in done.stderr


def test_no_study_is_told_and_made_only_where_that_is_said(tmp_path, monkeypatch):
    """Without a terminal the message names --new; on one it asks; no leaves nothing behind."""
    opened = []
    monkeypatch.setattr("dashboards.serving.serve", lambda folder, **_: opened.append(folder))

    def show(folder, *options, **typed):
        command = ["dashboard", "--study", str(folder), "--no-browser", *options]
        return CliRunner().invoke(main, command, **typed)

    done = show(tmp_path / "none")
    assert done.exit_code == 2 and "not a study" in done.stderr and "--new" in done.stderr
    assert show(tmp_path / "said", "--new").exit_code == 0 and has_study(tmp_path / "said")
    monkeypatch.setattr("click.testing._NamedTextIOWrapper.isatty", lambda _: True, raising=False)
    assert show(tmp_path / "none", input="n\n").exit_code == 1
    assert not (tmp_path / "none").exists()
    assert show(tmp_path / "asked", input="y\n").exit_code == 0 and has_study(tmp_path / "asked")
    assert [folder.name for folder in opened] == ["said", "asked"]


def test_the_wire_refuses_strange_hosts_and_names_no_server(folder):
    """As sent: no host, another's host, an odd port; no answer says which server it is."""
    served = Served(folder)
    try:
        for head in (
            "GET / HTTP/1.0\r\n",
            "GET / HTTP/1.1\r\nHost: evil.example\r\n",
            "GET / HTTP/1.1\r\nHost: 127.0.0.1:1\r\n",
            "GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n",
        ):
            answer = raw(served, f"{head}Connection: close\r\n\r\n")
            assert answer.split()[1] == "403", answer[:200]
            assert "\nserver:" not in answer.lower()
        host = served.base.removeprefix("http://")
        head = f"POST /upload HTTP/1.1\r\nHost: {host}\r\nContent-Length: {10**9}\r\n"
        answer = raw(served, f"{head}Connection: close\r\n\r\n")
        assert answer.split()[1] == "413"
        assert "waitress" not in answer
    finally:
        served.close()


def test_threads_share_one_study(served):
    """Many callbacks at once read the database from the server's threads; each gets its answer."""
    host, token = served.base.removeprefix("http://"), served.address.partition("?")[2]

    def ask(method, path, headers, body=None):
        connection = http.client.HTTPConnection(host, timeout=20)
        connection.request(method, path, body and json.dumps(body), headers)
        answer = connection.getresponse()
        return answer.getheader("Set-Cookie"), answer.read().decode()

    cookie = ask("GET", f"/start?{token}", {})[0].partition(";")[0]
    headers = {"Cookie": cookie, "Origin": served.base, "Content-Type": "application/json"}

    def name_of(person):
        choice = {"id": "choice", "property": "data", "value": {"person": person}}
        changed = {"id": "changed", "property": "data", "value": 0}
        address = {"id": "address", "property": "pathname", "value": "/walks"}
        body = {
            "output": "banner.children",
            "outputs": {"id": "banner", "property": "children"},
            "inputs": [choice, changed, address],
            "changedPropIds": ["choice.data"],
        }
        return re.search(r"P0\d", ask("POST", "/_dash-update-component", headers, body)[1])[0]

    with ThreadPoolExecutor(16) as pool:
        found = list(pool.map(name_of, [1, 2] * 40))
    assert found == ["P01", "P02"] * 40


def test_tls_encrypts_and_asks_for_names(with_users, pem):
    """With certificate and key: nothing goes in plain, the cookie is secure, people sign in."""
    certificate, key, context = pem
    served = Served(with_users, certificate=certificate, key=key, signs_in=True)
    try:
        assert served.address.startswith("https://127.0.0.1:")
        port = int(served.base.rpartition(":")[2])
        connection = http.client.HTTPSConnection("127.0.0.1", port, timeout=20, context=context)
        connection.request("GET", "/")
        answer = connection.getresponse()
        assert (answer.status, answer.getheader("Location")) == (302, "/sign-in")
        answer.read()
        connection.request("GET", "/sign-in")
        answer = connection.getresponse()
        form, cookie = answer.read().decode(), answer.getheader("Set-Cookie")
        assert answer.getheader("Strict-Transport-Security") == "max-age=31536000"
        assert "Secure" in cookie and cookie.startswith("__Host-")
        proof = re.search(r'name="form" value="(\w+)"', form)[1]
        typed = f"form={proof}&name=vera&password={PASSWORD.replace(' ', '+')}"
        headers = {"Origin": served.base, "Cookie": cookie.partition(";")[0]}
        headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request("POST", "/sign-in", typed, headers)
        answer = connection.getresponse()
        assert (answer.status, answer.getheader("Location")) == (303, "/")
        connection.close()
        with pytest.raises((ConnectionError, http.client.HTTPException)):
            plain = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
            plain.request("GET", "/sign-in")
            plain.getresponse()
    finally:
        served.close()


def test_a_certificate_that_is_none_is_told(with_users, tmp_path):
    """Nothing starts in plain because TLS did not work."""
    file = tmp_path / "text.pem"
    file.write_text("no certificate")
    file.chmod(0o600)
    study = open_study(with_users)
    with pytest.raises(PlaceError, match="PEM"):
        Server(study, Place(port=0, certificate=file, key=file))
    file.chmod(0o640)
    with pytest.raises(PlaceError, match="Others on this computer can read this key.*chmod 600"):
        Server(study, Place(port=0, certificate=file, key=file))
    study.close()


def started(folder, *options, before=""):
    """Start the command as a process of its own; return it and the address it prints."""
    run = f"{before}\nfrom gaittrack.commands import main; main(prog_name='gaittrack')"
    command = [sys.executable, "-u", "-c", run, "dashboard", "--study", str(folder)]
    process = subprocess.Popen(
        [*command, "--port", "0", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={name: value for name, value in os.environ.items() if "DISPLAY" not in name},
    )
    for line in process.stdout:
        if found := re.search(r"http://\S+", line):
            return process, found[0]
    raise AssertionError(process.communicate()[1])


@pytest.mark.skipif(os.name != "posix", reason="signals are other there")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_when_told_and_leaves_nothing(folder, how):
    """Ctrl-C, or the system's own way: exit code 0, one word, no trace, no file left."""
    process, address = started(folder)
    host, _, path = address.removeprefix("http://").partition("/")
    connection = http.client.HTTPConnection(host, timeout=20)
    connection.request("GET", f"/{path}")
    assert connection.getresponse().status == 200  # kept open
    process.send_signal(how)
    out, err = process.communicate(timeout=20)
    assert process.returncode == 0, err
    assert "Ended." in out and err == ""
    assert {path.name for path in folder.iterdir()} == {"study.db", "originals"}


@pytest.mark.skipif(os.name != "posix", reason="signals are other there")
def test_told_twice_to_end_it_still_ends_in_order():
    """``timeout`` tells the program, then its group, which is the program again."""
    with pytest.raises(KeyboardInterrupt), ended_by():
        try:
            os.kill(os.getpid(), signal.SIGTERM)
            time.sleep(1)  # broken off
        finally:
            os.kill(os.getpid(), signal.SIGTERM)  # while it ends: no second interruption
            time.sleep(0.01)
            ended_in_order = True
    assert ended_in_order


_COMPARING_TAKES_A_MINUTE = (
    "import time, dashboards.shell.keeper as keeper\n"
    "keeper.compare_and_keep = lambda *_, **__: time.sleep(60)"
)
_FOLLOW_COHORT = json.dumps(
    {
        "output": "..cohort-state.data...cohort-progress.children...cohort-tick.disabled..",
        "outputs": [
            {"id": "cohort-state", "property": "data"},
            {"id": "cohort-progress", "property": "children"},
            {"id": "cohort-tick", "property": "disabled"},
        ],
        "inputs": [
            {"id": "cohort-tick", "property": "n_intervals", "value": 0},
            {"id": "changed", "property": "data", "value": 0},
        ],
        "state": [{"id": "cohort-state", "property": "data", "value": None}],
        "changedPropIds": [],
    }
)


@pytest.mark.skipif(os.name != "posix", reason="signals are other there")
def test_it_ends_at_once_while_a_cohort_is_compared(folder):
    """Long work in the background holds nothing up: Ctrl-C ends it within seconds."""
    study = open_study(folder)
    with study.write() as connection:
        connection.execute(insert(PERSON).values(code="P01"))
    study.close()
    process, address = started(folder, before=_COMPARING_TAKES_A_MINUTE)
    host, _, path = address.removeprefix("http://").partition("/")
    connection = http.client.HTTPConnection(host, timeout=20)
    connection.request("GET", f"/{path}")
    answer = connection.getresponse()
    answer.read()
    cookie = answer.getheader("Set-Cookie").partition(";")[0]
    headers = {"Content-Type": "application/json", "Origin": f"http://{host}", "Cookie": cookie}
    connection.request("POST", "/_dash-update-component", _FOLLOW_COHORT, headers)
    assert b"people compared" in connection.getresponse().read()
    told_s = time.monotonic()
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert time.monotonic() - told_s < 5
    assert (process.returncode, err) == (0, "")
    assert "Ended." in out


def test_a_browser_follows_the_private_file_in(folder, profile, tmp_path):
    """The secret stands in a file, not on a command line; the page it leads to is let in."""
    served = Served(folder)
    try:
        file = tmp_path / "open.html"
        file.write_text(f'<meta http-equiv="refresh" content="0;url={served.address}">')
        page = profile.new_page(served.base)
        page.goto(file.as_uri())
        page.wait_for_selector("main h1:has-text('This study is empty')")
        assert page.url == f"{served.base}/"
        profile.forget()
    finally:
        served.close()


def test_people_sign_in_and_out_in_a_browser(with_users, profile):
    """By keyboard; what was wrong stands at its field, the name is kept; the way out leads back."""
    served = Served(with_users, signs_in=True)
    try:
        page = profile.new_page(served.base)
        page.goto(served.address)
        page.get_by_label("Name").fill("vera")
        page.get_by_label("Password").fill("wrong words in row")
        page.keyboard.press("Enter")
        page.wait_for_selector("[role=alert]:has-text('do not belong together')")
        assert page.get_by_label("Name").input_value() == "vera"
        until(page, "document.activeElement.getAttribute('aria-describedby') === 'wrong'")
        assert violations(page) == []
        page.keyboard.type(PASSWORD)
        page.keyboard.press("Enter")
        page.wait_for_selector("main h1:has-text('This study is empty')")
        page.get_by_role("button", name="Sign out vera").click()
        page.wait_for_selector("h1:has-text('Sign in')")
        page.go_back()
        page.wait_for_selector("h1:has-text('Sign in')")
        profile.forget()
    finally:
        served.close()


def test_a_server_that_is_gone_is_said_on_the_page(folder, profile):
    """Choosing a screen when nothing answers shows why nothing happens."""
    served = Served(folder)
    page = profile.new_page(served.base)
    page.goto(served.address)
    page.wait_for_selector("main h1")
    served.close()
    page.evaluate(
        "history.pushState({}, '', '/elsewhere'); dispatchEvent(new PopStateEvent('popstate'))"
    )
    page.wait_for_selector("[role=alert]:has-text('does not answer')")
    profile.forget()


def test_no_code_of_a_person_in_logs(served, page, caplog, capfd):
    """Choosing and looking leaves no code in what the server logs or prints."""
    caplog.set_level(logging.DEBUG)
    page.get_by_role("link", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    out, err = capfd.readouterr()
    assert "P01" not in caplog.text + out + err
