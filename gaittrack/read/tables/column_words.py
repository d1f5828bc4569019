"""Words that names of columns are made of.

In comes nothing; out goes which class a word belongs to, as ``column_words.toml`` says, and which
words name another quantity than an angle.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Final

_TEXT: Final = (files("gaittrack.read.tables") / "column_words.toml").read_text(encoding="utf-8")
CLASSES: Final[dict[str, str]] = tomllib.loads(_TEXT)
CLASS_OF: Final = {word: name for name, words in CLASSES.items() for word in words.split()}
"""Word in lower case to its class."""
OTHER_QUANTITIES: Final[dict[str, list[str]]] = tomllib.loads(
    (files("gaittrack.read.tables") / "other_quantities.toml").read_text(encoding="utf-8")
)
"""What names hold that is no angle: ``parts`` and ``muscles`` are patterns, ``words`` whole."""
