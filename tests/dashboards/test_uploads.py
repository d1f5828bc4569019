"""Files on their way into a study: who may send what, how much, and what stays of it."""

import os
import time
from io import BytesIO
from pathlib import Path
from urllib.parse import quote

import pytest

from dashboards.add_walks import uploads
from dashboards.add_walks.upload_checks import content_fault, plain_name
from dashboards.app import build_app
from dashboards.shell.doors import START
from dashboards.shell.place import Doors
from gaittrack.study.store import create_study
from tests.dashboards.test_doors import HOST, OWN, Caller
from tests.several_in_a_sheet import SHEET_WALKS, sheet_of

BROKEN = Path(__file__).parents[2] / "sample_trials" / "broken"
C3D = (BROKEN / "no_feet.c3d").read_bytes()
FROM_THE_SCREEN = {**OWN, uploads.HEADER: "1"}


@pytest.fixture
def server(tmp_path):
    """Build the dashboard on an empty study, with an address that begins a basket."""
    study = create_study(tmp_path / "study")
    doors = Doors(frozenset({HOST}), who="tester")
    app = build_app(study, doors)
    app.server.add_url_rule("/probe-begin", "begin", lambda: uploads.baskets().start())
    app.server.token = doors.token
    yield app.server
    study.close()


def somebody(server):
    """Return a browser that was let in, in a session of its own, and its basket."""
    one = Caller(server)
    assert one.get(f"{START}?token={server.token}").status_code == 200
    return one, one.get("/probe-begin").text


def send(one, key, name="walk 1.c3d", content=C3D, headers=FROM_THE_SCREEN):
    sent = headers | {uploads.NAME_HEADER: quote(name)}
    return one.ask("POST", f"/upload/{key}", sent, data=content)


def basket(server, key):
    return server.extensions["gaittrack-baskets"]._held[key]


def test_a_file_lies_in_a_private_folder_until_its_basket_ends(server):
    """Bytes and hash are right, nobody else may read it, and ending the basket deletes it."""
    one, key = somebody(server)
    assert send(one, key, "visit-1/with-brace/walk 1.c3d").json == {"message": ""}
    (kept,) = basket(server, key).files
    assert kept.path.read_bytes() == C3D
    assert (kept.name, kept.folder, kept.n_bytes) == ("walk 1.c3d", "visit-1/with-brace", len(C3D))
    folder = Path(basket(server, key).folder.name)
    assert folder.stat().st_mode & 0o077 == 0
    assert kept.path.stat().st_mode & 0o077 == 0
    assert one.ask("DELETE", f"/upload/{key}", FROM_THE_SCREEN).status_code == 200
    assert not folder.exists()
    assert send(one, key).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        OWN,
        {uploads.HEADER: "1"},
        FROM_THE_SCREEN | {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"},
        FROM_THE_SCREEN | {"Origin": "http://evil.example"},
    ],
    ids=["no own header", "no origin", "another site", "another origin"],
)
def test_what_no_page_of_ours_sent_is_refused(server, headers):
    """Neither a form nor a script of another site can put a file in, or throw files away."""
    one, key = somebody(server)
    assert send(one, key, headers=headers).status_code == 403
    assert one.ask("DELETE", f"/upload/{key}", headers).status_code == 403
    assert basket(server, key).files == []


def test_nobody_without_a_session_sends_files(server):
    """Without the cookie the request is turned away before a byte is kept."""
    _, key = somebody(server)
    assert send(Caller(server), key).status_code == 401
    assert basket(server, key).files == []


def test_one_session_cannot_touch_the_files_of_another(server):
    """Even who knows the number of a basket neither adds to it nor ends it."""
    one, key = somebody(server)
    other, _ = somebody(server)
    assert send(one, key).status_code == 200
    assert send(other, key, content=C3D + b"x").status_code == 403
    assert other.ask("DELETE", f"/upload/{key}", FROM_THE_SCREEN).status_code == 403
    assert len(basket(server, key).files) == 1


def test_files_that_are_too_large_or_too_many_are_refused(server, monkeypatch):
    """The limit holds for each file, for all of a basket, and for their number."""
    one, key = somebody(server)
    monkeypatch.setattr(uploads, "MOST_FILE_BYTES", len(C3D))
    assert send(one, key).status_code == 200
    answer = send(one, key, content=C3D + b"x")
    assert answer.status_code == 413
    assert "the most that is taken" in answer.json["message"]
    monkeypatch.setattr(uploads, "MOST_BASKET_BYTES", len(C3D) + 5)
    assert "Too much at once" in send(one, key, content=C3D[:600]).json["message"]
    monkeypatch.setattr(uploads, "MOST_FILES", 3)
    assert "More than 3 files" in send(one, key).json["message"]
    assert [bool(each.path) for each in basket(server, key).files] == [True, False, False]
    assert len([p for p in Path(basket(server, key).folder.name).rglob("*") if p.is_file()]) == 1


def test_a_body_that_does_not_say_its_length_is_cut_off_at_the_limit(server, monkeypatch):
    """It is read one byte past the limit, thrown away, and told."""
    one, key = somebody(server)
    monkeypatch.setattr(uploads, "MOST_FILE_BYTES", 1000)
    answer = one.client.open(
        f"/upload/{key}",
        method="POST",
        base_url=f"http://{HOST}",
        headers=FROM_THE_SCREEN | {uploads.NAME_HEADER: "walk.c3d", "Host": HOST},
        input_stream=BytesIO(C3D),
        environ_overrides={"wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"},
    )
    assert answer.status_code == 413
    (refused,) = basket(server, key).files
    assert (refused.path, refused.n_bytes) == (None, 1001)
    assert not list(Path(basket(server, key).folder.name).rglob("*.c3d"))


def test_the_same_bytes_sent_twice_are_told(server):
    """The second one is refused and names the first, whatever it is called."""
    one, key = somebody(server)
    send(one, key, "first.c3d")
    answer = send(one, key, "second.c3d")
    assert answer.status_code == 409
    assert "first.c3d" in answer.json["message"]


def test_a_sheet_of_two_people_is_a_file_for_each(server):
    """Each is a row of its own; the bytes go when neither is needed any more."""
    one, key = somebody(server)
    people = sheet_of(Subject=SHEET_WALKS[:2]).encode()
    assert send(one, key, "v/day.csv", people).json == {"message": ""}
    first, second = (each.path for each in basket(server, key).files)
    assert [first.name, second.name] == ["day#person-1.csv", "day#person-2.csv"]
    basket(server, key).let_go([first])
    assert first.with_name("day.csv").exists()
    basket(server, key).let_go([second])
    assert not first.with_name("day.csv").exists()


def test_a_basket_that_nobody_uses_is_swept_away(server, monkeypatch):
    """After the time the files are gone, whether or not their screen is still open."""
    one, key = somebody(server)
    send(one, key)
    folder = Path(basket(server, key).folder.name)
    server.extensions["gaittrack-baskets"].sweep()
    assert folder.exists()
    monkeypatch.setattr(uploads, "KEPT_S", -1.0)
    server.extensions["gaittrack-baskets"].sweep()
    assert not folder.exists()


def test_what_a_killed_server_left_goes_and_nothing_else(tmp_path):
    """Unused for a day: deleted. In use, of another name, or a link elsewhere: left alone."""
    old = time.time() - uploads.LEFT_BEHIND_S - 60
    elsewhere = tmp_path / "elsewhere"
    for name in ("gaittrack-basket-old", "gaittrack-basket-new", "gaittrack-old", "elsewhere"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "walk.c3d").write_bytes(b"x")
        if not name.endswith("new"):
            os.utime(tmp_path / name, (old, old))
    (tmp_path / "gaittrack-basket-link").symlink_to(elsewhere)
    uploads.sweep_left_behind(tmp_path)
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {"gaittrack-basket-new", "gaittrack-old", "elsewhere", "gaittrack-basket-link"}
    assert (elsewhere / "walk.c3d").exists()


def test_using_a_basket_is_seen_from_outside(server):
    """So that another server's sweep leaves it alone."""
    one, key = somebody(server)
    folder = basket(server, key).folder.name
    os.utime(folder, (1, 1))
    send(one, key)
    assert time.time() - os.stat(folder).st_mtime < 60


def test_a_session_holds_a_few_baskets_only(server):
    """The oldest goes when one more begins."""
    one, first = somebody(server)
    others = [one.get("/probe-begin").text for _ in range(uploads.MOST_BASKETS)]
    held = server.extensions["gaittrack-baskets"]._held
    assert first not in held
    assert set(others) <= set(held)


def test_leaving_while_files_are_stored_throws_them_away_only_after(server):
    """Storing goes on to its end; the files go after it, or with a failure when it was left."""
    held = server.extensions["gaittrack-baskets"]
    one, key = somebody(server)
    send(one, key)
    folder = Path(basket(server, key).folder.name)
    with held.storing(key):
        one.ask("DELETE", f"/upload/{key}", FROM_THE_SCREEN)
        assert len(list(folder.rglob("*.c3d"))) == 1
    assert not folder.exists()
    one, key = somebody(server)
    with pytest.raises(ZeroDivisionError), held.storing(key):
        raise ZeroDivisionError
    assert key in held._held


@pytest.mark.parametrize(
    ("given", "folder", "name"),
    [
        ("walk 1.c3d", "", "walk 1.c3d"),
        ("a/b/walk.c3d", "a/b", "walk.c3d"),
        ("../../etc/passwd", "etc", "passwd"),
        ("..\\..\\windows\\x.c3d", "windows", "x.c3d"),
        ("C:\\walks\\x.c3d", "C_/walks", "x.c3d"),
        ("..", "", "file"),
        ("", "", "file"),
        (".hidden.c3d", "", "hidden.c3d"),
        ("a\0b\n.c3d", "", "a_b_.c3d"),
        ("CON.c3d", "", "_CON.c3d"),
        ("<b>.csv", "", "_b_.csv"),
        ("Gänge.c3d", "", "Gänge.c3d"),
    ],
)
def test_a_name_leads_nowhere(given, folder, name):
    """Folders become words for the eye; the name is one plain name on every system."""
    assert plain_name(given) == (folder, name)


def test_a_long_name_keeps_its_suffix():
    """A name is cut before its suffix."""
    _, name = plain_name("x" * 500 + ".c3d")
    assert len(name) <= 120
    assert name.endswith("x.c3d")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.exe", b"MZ", "Not a kind of file"),
        ("a", b"x", "Not a kind of file"),
        ("a.c3d", b"", "empty"),
        ("a.c3d", (BROKEN / "text.c3d").read_bytes(), "no C3D file"),
        ("a.c3d", C3D, ""),
        ("a.xlsx", b"no zip", "no such workbook"),
        ("a.xlsx", (BROKEN / "no_toe_off.xlsx").read_bytes(), ""),
        ("a.csv", C3D, "holds no text"),
        ("a.csv", "t;x\n0;1\n".encode("utf-16"), ""),
        ("a.CSV", b"t;x\n0;1\n", ""),
    ],
)
def test_a_file_must_begin_like_its_name(tmp_path, name, content, said):
    """First bytes and suffix belong together."""
    path = tmp_path / name
    path.write_bytes(content)
    found = content_fault(path)
    assert said in found
    assert bool(found) == bool(said)
