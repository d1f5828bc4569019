"""A fair sample of damaged files: none ends the program, runs on, or reads otherwise unseen."""

import pytest

from tests.faults.damaged_files import BAD, run

CASES = {
    **{"c3d": 9, "xlsx": 6, "xls": 6, "csv": 8, "trc": 2, "mot": 3, "toml": 9, "events": 9},
    **{"settings": 20, "conditions": 9, "backup": 5, "package": 5},
}


@pytest.mark.parametrize("kind", CASES)
def test_damage_is_refused_or_told_or_harmless(kind):
    """Flips, cuts, stretches and files lost or doubled, zeros, other line ends, counts, values."""
    found = list(run((kind,), CASES[kind], 1000))
    assert [case for case in found if case.became in BAD] == []
    assert {case.became for case in found} & {"refused", "named"}
