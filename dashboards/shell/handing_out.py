"""Hand a file out: the only place of the dashboard that does, and it asks for the right itself.

In come a page or an open file, out comes what the browser keeps. Names of files name nobody.
"""

from __future__ import annotations

import base64
from typing import IO, Any, Final

from dash import Output, dcc
from dash.development.base_component import Component
from flask import Response, send_file

from dashboards.shell.access import log_event, require

_END: Final = "-download"
"""End of the id of every place that hands files out."""
WHY_NOT: Final = "Taking pages and files away needs the right to export."


def file_place(name: str) -> Component:
    """Return the part of a screen through which its files reach the browser."""
    return dcc.Download(id=f"{name}{_END}")


def file_output(name: str, *, is_shared: bool = False) -> Output:
    """Return the output of a callback that hands a file out through such a part.

    Parameters
    ----------
    is_shared : bool
        Another callback hands out through it too.
    """
    return Output(f"{name}{_END}", "data", allow_duplicate=is_shared)


def hand_out_page(page: str, file_name: str) -> dict[str, str]:
    """Return a page as what a callback gives to :func:`file_output`.

    Raises
    ------
    NotAllowedError
        The visitor may not export.
    """
    _allow(file_name)
    return {"content": page, "filename": file_name, "type": "text/html"}


def hand_out_bytes(content: bytes, file_name: str, kind: str) -> dict[str, Any]:
    """Return a file as what a callback gives to :func:`file_output`.

    Parameters
    ----------
    kind : str
        Media type.

    Raises
    ------
    NotAllowedError
        The visitor may not export.
    """
    _allow(file_name)
    text = base64.b64encode(content).decode("ascii")
    return {"content": text, "filename": file_name, "type": kind, "base64": True}


def hand_out_file(file: IO[bytes], file_name: str, kind: str) -> Response:
    """Return an open file as the answer of a route.

    Parameters
    ----------
    kind : str
        Media type.

    Raises
    ------
    NotAllowedError
        The visitor may not export.
    """
    _allow(file_name)
    file.seek(0)
    return send_file(file, kind, as_attachment=True, download_name=file_name)


def _allow(file_name: str) -> None:
    """Ask for the right, and log who takes what away."""
    log_event(f"taken away {file_name}", require("export").name)
