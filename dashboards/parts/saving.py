"""The one control that saves what is shown: a picture as SVG or PNG, a table as CSV or XLSX.

In comes what it is called and what it saves, out comes a small menu for beside it. Pictures are
made in the browser (``assets/saving.js``); of a table the browser sends what is shown, and
``shell/saved_tables.py`` makes the file of it, for who may export.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn

SAVE: Final = "save"
"""``dcc.Store``: the table that was asked for, as the browser shows it."""
Kind = Literal["svg", "png", "csv", "xlsx"]
PICTURE: Final[tuple[Kind, ...]] = ("svg", "png")
TABLE: Final[tuple[Kind, ...]] = ("csv", "xlsx")
BOTH: Final = (*PICTURE, *TABLE)


def save_menu(
    what: str, kinds: Sequence[Kind], *, of: str = "", says: str = "Save", through: str = ""
) -> Markup:
    """Return the control; the style sheet shows it to who may export.

    Parameters
    ----------
    what : str
        What is saved, in words; part of the file's name.
    of : str
        CSS selector of what is saved; without it the figure or the table that it stands in.
    says : str
        What stands on it; it begins with ``Save``.
    through : str
        Id of a ``dcc.Store`` that takes kind and name in the place of what is shown: the server
        knows more rows of the table.
    """
    return Markup(drawn("parts.save_menu", what, kinds, of, says, through))
