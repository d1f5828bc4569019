"""A page as PDF, printed by a browser of this computer: the sheets that its print button gives.

In comes a page of ``report/``, out come the bytes of a PDF. There is no second layout to keep in
step. The page lies in a private folder while it is printed, and the browser reaches no network.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import Final

from gaittrack.errors import StudyError
from gaittrack.scratch import scratch_folder

VARIABLE: Final = "CHROMIUM"
"""Names the browser where it is not found by itself."""
PROGRAMS: Final = ("chromium", "chromium-browser")
TIME_LIMIT_S: Final = 120
"""Own choice; a page takes two seconds."""
_OPTIONS: Final = (
    *("--headless", "--disable-gpu", "--no-pdf-header-footer"),
    *("--disable-background-networking", "--disable-component-update"),
    "--host-resolver-rules=MAP * ~NOTFOUND",
)


def browser() -> str | None:
    """Return the program that prints, None if there is none."""
    found = filter(None, map(shutil.which, PROGRAMS))
    return os.environ.get(VARIABLE) or next(found, None)


def pdf_of(page: str) -> bytes:
    """Print a page.

    Parameters
    ----------
    page : str
        HTML that loads nothing from elsewhere.

    Returns
    -------
    bytes
        Of a PDF, with the sheets that the page's own style asks for.

    Raises
    ------
    StudyError
        There is no browser, or it prints nothing.
    """
    program = browser()
    if program is None:
        raise StudyError.of("no_chromium_found", where="PDF", variable=VARIABLE)
    with scratch_folder() as folder:
        source, printed = folder / "page.html", folder / "page.pdf"
        source.write_text(page, encoding="utf-8")
        own = [f"--user-data-dir={folder / 'browser'}", f"--print-to-pdf={printed}"]
        command = [program, *_OPTIONS, *_as_root(), *own, source.as_uri()]
        try:
            subprocess.run(command, capture_output=True, check=True, timeout=TIME_LIMIT_S)
            return printed.read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise StudyError.of(
                "browser_printed_nothing", where="PDF", program=program, variable=VARIABLE
            ) from error


def _as_root() -> list[str]:
    """Return what lets the browser start for the system's administrator, as in a container."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return ["--no-sandbox"] if is_root else []
