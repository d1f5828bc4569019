"""What is tried of a sample with all tests, and of everything by ``pytest -m sweep``."""

import pytest

SWEEP = pytest.mark.sweep
