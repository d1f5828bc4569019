"""How a laboratory records: what holds for its recordings where a file says nothing.

In comes a small TOML file, out come :class:`LabDefaults`::

    rate_hz = 100          # frames per second of sheets and marker tables that tell none
    plates = "ignored"     # force plates are not looked at; "used" as long as nothing is said
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Final, Literal

from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown

Plates = Literal["used", "ignored"]
PLATES: Final[tuple[Plates, ...]] = ("used", "ignored")
SLOWEST_HZ, FASTEST_HZ = 10.0, 2000.0
"""Rates outside are none of a recording of walking; our choice."""


@dataclass(frozen=True, slots=True)
class LabDefaults:
    """What holds for the recordings of a laboratory.

    Attributes
    ----------
    rate_hz : float or None
        Frames per second of tables that tell none; None: they are asked about.
    plates : {"used", "ignored"}
        Whether force plates tell events.
    """

    rate_hz: float | None = None
    plates: Plates = "used"

    @property
    def in_words(self) -> str:
        """What is set, in words; empty where nothing is."""
        rate = "" if self.rate_hz is None else f"{self.rate_hz:g} frames per second by default"
        plates = "force plates ignored" if self.plates == "ignored" else ""
        return ", ".join(filter(None, (rate, plates)))


def read_lab_defaults(path: Path) -> LabDefaults:
    """Read what holds for the recordings of a laboratory.

    Raises
    ------
    LayoutError
        The file cannot be read, or holds what cannot be.
    """
    table = read_toml(path, "file of defaults", "Give a TOML file with rate_hz and plates.")
    refuse_unknown(table, (each.name for each in fields(LabDefaults)), path.name)
    rate, plates = table.get("rate_hz"), table.get("plates", "used")
    is_number = isinstance(rate, int | float) and not isinstance(rate, bool)
    if rate is not None and not (is_number and SLOWEST_HZ <= rate <= FASTEST_HZ):
        raise LayoutError.of(
            "no_usual_rate", where=path.name, rate=rate, slowest=SLOWEST_HZ, fastest=FASTEST_HZ
        )
    if plates not in PLATES:
        raise LayoutError.of("no_such_use_of_plates", where=path.name, plates=plates)
    return LabDefaults(None if rate is None else float(rate), plates)


def write_lab_defaults(defaults: LabDefaults) -> str:
    """Return the file that :func:`read_lab_defaults` reads; empty where nothing is set."""
    said = {key: value for key, value in asdict(defaults).items() if value not in (None, "used")}
    return "".join(
        f'{key} = "{value}"\n' if isinstance(value, str) else f"{key} = {value:g}\n"
        for key, value in said.items()
    )
