"""Files that are right, and damage as disks, cables, mail programs and hands do it to them."""

from __future__ import annotations

import functools
import io
import random
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import openpyxl

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from tests.faults.damage_within import count_changed, line_changed
from tests.made_up_files import RECIPE
from tests.read.made_up_sheets import curve, motion_columns, motion_table, series, written

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "tests" / "reference"
SAMPLES = ROOT / "sample_trials"
WALK = SAMPLES / "P01" / "visit-1" / "without-brace" / "walk-1.c3d"
MAP = """
[fits]
labels = ["Left Ankle", "Right Ankle"]
[landmarks]
left_heel = "LHEEL"
right_heel = "RHEEL"
[sheet]
layout = "time_series"
decimal = "."
rate_hz = 100.0
[[columns]]
name = "Left Ankle"
joint = "ankle"
side = "left"
sign = 1
zero_deg = 0.0
"""
SETTINGS = {
    "measurement_errors": """
[[measurement_errors]]
measure = "walking_speed_m_s"
how = "untouched"
sem = 0.04
sem_consistency = 0.04
smallest_change = 0.11
icc = 0.8
largest_shift = 0.02
n_persons = 12
n_visits = 24
""",
    "typical": """
[[typical]]
measure = "peak_swing_dorsiflexion_deg"
low = 1
high = 7
source = "own 30 adults"
[curves.ankle]
mean = [MEAN]
sd = [SD]
source = "own 30 adults"
""".replace("MEAN", "1.0, " * 101).replace("SD", "2.0, " * 101),
    "words": """
[cause]
"the usual" = "stroke"
""",
    "answered": """
[[answered]]
warning = "no_heel"
answer = "no such marker here"
""",
    "recordings": """
rate_hz = 100
plates = "ignored"
""",
    "releases": """
title = "Made-up walks"
licence = "CC-BY-4.0"
licence_address = "https://creativecommons.org/licenses/by/4.0/"
[[creators]]
name = "Made-up laboratory"
[[sources]]
title = "Nobody's protocol"
""",
    "outcomes": """
primary = "walking_speed_m_s"
secondary = ["peak_swing_dorsiflexion_deg"]
[[important]]
measure = "walking_speed_m_s"
difference = 0.1
source = "nobody"
""",
}
"""What a laboratory sets, by the kind of setting; each with its file."""
_ROWS = ((0.10, "left", "toe-off"), (0.55, "left", "initial contact"), (0.6, "right", "toe-off"))
EVENTS = "time_s,side,kind\n" + "".join(
    f"{time + n:.3f},{side},{kind}\n" for n in range(5) for time, side, kind in _ROWS
)


@functools.cache
def corpus() -> Mapping[str, tuple[tuple[str, bytes], ...]]:
    """Return the good files of each kind: (ending, content)."""
    cycles = {"Percent": np.linspace(0, 100, 101), "Left Knee": curve("knee")}
    trc = (REFERENCE / "walk_from_standing_150hz.trc").read_bytes()
    return {
        "c3d": (
            (".c3d", WALK.read_bytes()),
            (".c3d", (SAMPLES / "P02/visit-1/with-brace/walk-2.c3d").read_bytes()),
            (".c3d", (REFERENCE / "walk_two_plates_100hz.c3d").read_bytes()),
            (".c3d", _integer_c3d()),
        ),
        "xlsx": (
            (".xlsx", (SAMPLES / "P04/visit-1/with-brace/walk-1.xlsx").read_bytes()),
            (".xlsx", _book(series())),
        ),
        "xls": ((".xls", (ROOT / "tests/read/old_kind.xls").read_bytes()),),
        "csv": (
            (".csv", written(series()).encode()),
            (".csv", written(cycles).encode()),
        ),
        "mot": (
            (".mot", motion_table(motion_columns()).encode()),
            (".sto", motion_table(motion_columns()).encode()),
        ),
        "trc": (
            (".trc", trc),
            (".txt", (REFERENCE / "handbook_walk_2d_coordinates_70hz.txt").read_bytes()),
        ),
        "toml": ((".toml", MAP.encode()),),
        "settings": tuple((f".{kind}.toml", text.encode()) for kind, text in SETTINGS.items()),
        "conditions": tuple(
            (".toml", path.read_bytes())
            for path in sorted((SAMPLES / "P01").rglob("conditions.toml"))
        ),
        "events": ((".csv", EVENTS.encode()),),
    }


def _integer_c3d() -> bytes:
    walk = simulate_walk(RECIPE, seed=5).trial
    with tempfile.TemporaryDirectory(prefix="damage-") as folder:
        path = Path(folder) / "integer.c3d"
        write_c3d(path, rate_hz=walk.rate_hz, markers=walk.markers, storage="integer")
        return path.read_bytes()


def _book(columns: Mapping[str, object]) -> bytes:
    book = openpyxl.Workbook()
    for line in written(columns).splitlines():
        book.active.append([_cell(text) for text in line.split(",")])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _cell(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text


def flipped(content: bytes, chance: random.Random) -> bytes:
    """Turn one to three bits round."""
    found = bytearray(content)
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        found[_somewhere(found, chance)] ^= 1 << chance.randrange(8)
    return bytes(found)


def byte_changed(content: bytes, chance: random.Random) -> bytes:
    """Put another byte in the place of one; one that means something, half of the time."""
    found = bytearray(content)
    odd = b'\0\xff\x7f\x80 ,;.\t\r\n"&<=-+eE0123456789'
    found[_somewhere(found, chance)] = chance.choice((chance.randrange(256), chance.choice(odd)))
    return bytes(found)


def cut(content: bytes, chance: random.Random) -> bytes:
    """Lose the end."""
    return content[: chance.randrange(len(content))]


def spliced(content: bytes, chance: random.Random) -> bytes:
    """Put one stretch of the file over another."""
    n = chance.choice((1, 4, 64, 512, 4096))
    source, target = chance.randrange(len(content)), chance.randrange(len(content))
    return content[:target] + content[source : source + n] + content[target + n :]


def zeroed(content: bytes, chance: random.Random) -> bytes:
    """Lose a block to zeros."""
    n, start = chance.choice((4, 64, 512, 4096)), chance.randrange(len(content))
    return content[:start] + bytes(min(n, len(content) - start)) + content[start + n :]


def shifted(content: bytes, chance: random.Random) -> bytes:
    """Lose or double a stretch, so that all behind it is elsewhere."""
    n, start = chance.choice((1, 2, 4, 100, 512)), chance.randrange(len(content))
    extra = content[start : start + n] if chance.random() < 0.5 else b""
    return content[:start] + extra * 2 + content[start + n :]


def line_ends_changed(content: bytes, chance: random.Random) -> bytes:
    """Write line ends another way, as a transfer as text does."""
    old, new = chance.choice(((b"\n", b"\r\n"), (b"\r\n", b"\n"), (b"\n", b"\r"), (b"\0", b"")))
    return content.replace(old, new)


DAMAGE: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    *(flipped, flipped, flipped, flipped, byte_changed, byte_changed),
    *(cut, spliced, zeroed, shifted, line_ends_changed),
)
"""Ways to damage a file; single flips, which are the hardest to see, most often."""

WITHIN = {
    "c3d": (count_changed,) * 3,
    **dict.fromkeys(("toml", "settings", "conditions"), (line_changed,) * 11),
    **dict.fromkeys(("events", "mot"), (line_changed,) * 3),
}
"""Ways that keep the form of a kind of file and change what it says."""


def damaged(kind: str, seed: int) -> tuple[str, bytes, bytes, str]:
    """Return the ending of a good file, its content, that content damaged, and how."""
    chance = random.Random(f"{kind} {seed}")
    suffix, content = chance.choice(corpus()[kind])
    change = chance.choice((*DAMAGE, *WITHIN.get(kind, ())))
    inside = suffix == ".xlsx" and chance.random() < 0.7
    changed = _inside(content, change, chance) if inside else change(content, chance)
    return suffix, content, changed, change.__name__ + (" inside" if inside else "")


def _inside(
    content: bytes, change: Callable[[bytes, random.Random], bytes], chance: random.Random
) -> bytes:
    """Damage one part of an archive and zip it again, so that its checksums agree."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w") as new:
        names = old.namelist()
        chosen = chance.choice([name for name in names if "sheet" in name] or names)
        for name in names:
            part = old.read(name)
            new.writestr(name, change(part, chance) if name == chosen and part else part)
    return stream.getvalue()


def _somewhere(content: bytearray, chance: random.Random) -> int:
    """Return a place, often in the first kilobytes, where all is said of the rest."""
    end = min(len(content), 4096) if chance.random() < 0.33 else len(content)
    return chance.randrange(end)
