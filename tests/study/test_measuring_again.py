"""Walks are measured again on what they share, or it is said why not."""

from pathlib import Path

import pytest

from gaittrack.errors import DataError, ReaderFailedError
from gaittrack.measured_walk import RefusedFile
from gaittrack.pipeline import InputFile, Recording
from gaittrack.study.results import measuring_again


def test_a_fault_of_the_disk_is_no_answer(monkeypatch):
    """What the disk refused is told and not kept; what a walk does not give is an answer."""
    recording, path = Recording(InputFile(Path("walk.c3d"))), Path("walk.c3d")
    monkeypatch.setattr(measuring_again, "_KEPT", {})
    monkeypatch.setattr(measuring_again, "settings_hash", lambda _: "")
    monkeypatch.setattr(measuring_again, "recording_key", lambda *_: "")
    result = RefusedFile(path, None, ReaderFailedError("No space left on device.", where="walk"))
    monkeypatch.setattr(measuring_again, "measure_recording", lambda _: result)
    with pytest.raises(ReaderFailedError, match="No space"):
        measuring_again._measured(recording, "both")
    assert measuring_again._KEPT == {}
    result = RefusedFile(path, None, DataError("No heel.", where="walk"))
    assert measuring_again._measured(recording, "both") == ((), "No heel.")
