"""A fair sample of damaged files: none ends the program, runs on, or reads otherwise unseen."""

import pytest

from tests.faults.damaged_files import BAD, run

CASES = {
    **{"c3d": 6, "xlsx": 4, "xls": 4, "csv": 5, "trc": 2, "mot": 2, "toml": 5, "events": 5},
    **{"settings": 10, "conditions": 5, "backup": 3, "package": 3},
}


@pytest.mark.parametrize("kind", CASES)
def test_damage_is_refused_or_told_or_harmless(kind):
    """Flips, cuts, stretches and files lost or doubled, zeros, other line ends, counts, values."""
    found = list(run((kind,), CASES[kind], 1000))
    assert [case for case in found if case.became in BAD] == []
    assert {case.became for case in found} & {"refused", "named"}
