"""Results as JSON holds them.

In comes anything a comparison holds, out come numbers, texts, lists and dicts of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from gaittrack.reasons import Reason, as_json


def plain_value(value: Any) -> Any:
    """Return a value as JSON holds it; what is no number is None."""
    if isinstance(value, Reason):
        return as_json(value)
    if is_dataclass(value):
        return {each.name: plain_value(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_value(each) for key, each in value.items()}
    if isinstance(value, np.ndarray):
        return plain_value(value.tolist())
    if isinstance(value, list | tuple):
        return [plain_value(each) for each in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value
