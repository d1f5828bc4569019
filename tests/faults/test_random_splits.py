"""Nothing is claimed of two groups of one person's walks that nothing sets apart."""

from tests.faults.random_splits import SAMPLES, Walked, count_claims, made_up_walks, walks_in

N_SPLITS = 8


def test_a_split_at_random_claims_no_change():
    """No change is called larger and no sign fires; by the module's command, in 5 % at most."""
    folder = SAMPLES / "P02" / "visit-1" / "without-brace"
    files = sorted(folder.glob("walk-*"))
    few = Walked("four walks", walks_in(folder, files))
    assert len(few.records) == 4
    for walked in (few, *made_up_walks(1)):
        assert len(walked.records) >= 4
        assert count_claims(walked, N_SPLITS)[0] == 0
