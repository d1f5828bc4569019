"""Of a tree with three broken files these are told and all others are stored; a second run adds."""

from gaittrack.study.results.keeping import measure_here
from gaittrack.study.store import create_study
from tests.faults.large_tree import BROKEN, imported, make_tree, sheet


def test_three_broken_files_are_told_and_all_others_are_stored(tmp_path):
    """Under names of any script and of any bytes; mended, the second run adds just these."""
    root = tmp_path / "tree"
    broken = make_tree(root, 40)
    study = create_study(tmp_path / "study")
    states, refused = imported(root, study, measure_here)
    assert dict(states) == {"added": 37, "refused": len(BROKEN)}
    assert {row.path for row in refused} == set(broken)
    assert all(row.message for row in refused)
    for number, path in enumerate(broken, 1000):
        path.write_text(sheet(number))
    states, _ = imported(root, study, measure_here)
    assert dict(states) == {"known": 37, "added": len(BROKEN)}
    study.close()
