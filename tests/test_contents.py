"""What a recording shows and what it does not."""

from pathlib import Path

from gaittrack.contents import contents_of
from gaittrack.pipeline import measure_file

SAMPLES = Path(__file__).parents[1] / "sample_trials"


def test_a_whole_recording_lacks_nothing_that_its_markers_serve():
    """Strides, landmarks and where events come from are counted."""
    walk = measure_file(SAMPLES / "P02" / "visit-1" / "with-brace" / "walk-1.c3d")
    found = contents_of(walk)
    assert found.missing == ()
    assert found.labels == tuple(walk.trial.markers)
    assert found.n_cycles == {
        side: sum(cycle.side == side for cycle in walk.cycles) for side in ("left", "right")
    }
    assert 0 < found.n_kept["left"] <= found.n_cycles["left"]
    assert sum(found.sources.values()) == len(walk.events.events)


def test_a_recording_without_heels_says_what_it_lacks_and_what_for():
    """The missing point is named with both sides, and so are measures without a value."""
    found = contents_of(measure_file(SAMPLES / "broken" / "no_heel.c3d"))
    assert ("left_heel", "right_heel") in [each.names for each in found.missing]
    titles = [title for each in found.not_measured for title in each.titles]
    assert any("plantarflexion" in title.lower() for title in titles)
