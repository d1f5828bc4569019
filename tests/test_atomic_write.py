"""Files are written whole or not at all."""

import os

import pytest

from gaittrack.atomic_write import write_text_atomically


def test_text_arrives_as_given(tmp_path):
    """UTF-8, line ends untouched, nothing left beside it."""
    path = tmp_path / "out.csv"
    write_text_atomically(path, "a;°\r\nb\n")
    assert path.read_bytes() == "a;°\r\nb\n".encode()
    assert list(tmp_path.iterdir()) == [path]


def test_old_text_stays_when_writing_fails(tmp_path, monkeypatch):
    """A full disk leaves the old file, and no half of the new one."""

    def full(_):
        raise OSError(28, "No space left on device")

    path = tmp_path / "out.csv"
    path.write_text("old")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_text_atomically(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_what_killed_programs_left_goes_with_the_next_writing(tmp_path):
    """Half of this file that nobody writes any more; not what somebody writes now, or another's."""
    names = (".out[1].csv.7.part", ".out[1].csv.8.part", ".other.csv.7.part")
    old, now, other = (tmp_path / name for name in names)
    for left in (old, now, other):
        left.write_text("half")
    for left in (old, other):
        os.utime(left, (1e9, 1e9))
    write_text_atomically(tmp_path / "out[1].csv", "new")
    assert sorted(tmp_path.iterdir()) == sorted([now, other, tmp_path / "out[1].csv"])


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_stays_a_link(tmp_path):
    """The file that a symbolic link points to gets the new text."""
    target, link = tmp_path / "target.csv", tmp_path / "link.csv"
    target.write_text("old")
    link.symlink_to(target)
    write_text_atomically(link, "new")
    assert link.is_symlink() and target.read_text() == "new"


@pytest.mark.skipif(os.name == "nt", reason="rights of files are other there")
def test_a_private_file_is_private_from_its_first_byte(tmp_path, monkeypatch):
    """What only the owner may read is never readable by others, not even while it is written."""
    seen = []
    monkeypatch.setattr(os, "fsync", lambda handle: seen.append(os.fstat(handle).st_mode & 0o777))
    path = tmp_path / "users.json"
    path.write_text("old")
    write_text_atomically(path, "secret", mode=0o600)
    assert seen == [0o600] and path.stat().st_mode & 0o777 == 0o600
