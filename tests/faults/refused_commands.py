"""Each command that writes, and a place where it has something to write.

Every command of the program is named once: among those that write, or among those that only read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gaittrack.lab_defaults import LabDefaults
from gaittrack.study.laboratory import keep_defaults
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import create_study
from gaittrack.study.upkeep.backups import back_up
from gaittrack.study.upkeep.users import add_user
from tests.faults.damage import SETTINGS
from tests.study.conftest import write_visit

WALK: Final = "P01/visit-1/with-brace/walk-1"
MAP: Final = '[landmarks]\nleft_heel = "LHEE"\n'
READING: Final = frozenset(
    {
        *("check", "follow", "correct list", "study verify", "study releases", "study history"),
        *("study notes", "users list", "dashboard"),
    }
)
"""What writes nothing, and the one that goes on until it is ended."""


@dataclass(frozen=True)
class Recipe:
    """A command with what it is given; ``@`` stands for the folder that it works in.

    ``is_in_parts``: what it writes to a study goes in by several changes, each whole.
    """

    name: str
    given: str
    outputs: Sequence[str] = ()
    is_in_parts: bool = False
    codes: Sequence[int] = (0,)

    def words(self, folder: Path) -> list[str]:
        """Return the command line."""
        given = self.given.replace("@", f"{folder}/").split()
        return [*self.name.split(" + ")[0].split(), *given]


def make_start(folder: Path) -> None:
    """Make a folder with a study of one walk each of two visits, and what commands are given."""
    for n in (1, 2):
        place = folder / "walks" / "P01" / f"visit-{n}"
        write_visit(place, number=n, days=42 * n, seed=n, n_walks=1, standing=n == 1)
    write_visit(folder / "more" / "P02" / "visit-1", seed=3, n_walks=1, standing=False)
    said = folder / "more" / "P02" / "visit-1" / "conditions.toml"
    said.write_text(said.read_text(encoding="utf-8").replace("P01", "P02"), encoding="utf-8")
    for n in range(6):
        place = folder / "again" / f"P{n // 2 + 1}-{n % 2 + 1}"
        write_visit(place, seed=10 + n, n_walks=1, standing=False)
    for kind, text in SETTINGS.items():
        (folder / f"{kind}.toml").write_text(text, encoding="utf-8")
    (folder / "map.toml").write_text(MAP, encoding="utf-8")
    (folder / "temporary").mkdir()
    study = create_study(folder / "study")
    rows = list(import_files(study, plan_folders([folder / "walks"]), who="Ada"))
    assert {row.state for row in rows} == {"added"}, rows
    keep_defaults(study, LabDefaults(rate_hz=100.0), who="Ada", why="as we record")
    add_user(study, "bo", "a long password", ["view"], who="Ada")
    back_up(study, folder / "backup")
    study.close()


STUDY: Final = "--study @study"
CHANGE: Final = f"{STUDY} --why asked --by Ada"


def recipes() -> Iterator[Recipe]:
    """Give every command that writes."""
    yield Recipe("measure", "@walks/P01/visit-1/with-brace --csv @out.csv", ["out.csv"])
    yield Recipe(
        "compare",
        f"{_PAIR} --html @out.html",
        ["out.html"],
        codes=(0, 1),
    )
    yield Recipe("errors", f"@out.toml {_VISITS}", ["out.toml"])
    yield Recipe("demo", "--people 0 --no-dashboard --study @new", ["new/originals"])
    yield Recipe("import", f"@more {STUDY} --by Ada --jobs 1", is_in_parts=True)
    yield Recipe(
        "import + dry",
        f"{STUDY} --dry-run --plan @plan.csv {_PATTERN} @more",
        ["plan.csv"],
        codes=(1,),
    )
    yield Recipe("report", f"P01 {STUDY} --visit visit-1 --out @out.html", ["out.html"])
    yield from (Recipe(f"correct {each}", f"{CHANGE} {WALK}") for each in _OF_WALK)
    yield Recipe("correct exclude-stride", f"{CHANGE} {WALK} left-02")
    yield Recipe("recompute", f"{STUDY} --by Ada --jobs 1", is_in_parts=True)
    yield Recipe("study new", "@new")
    yield Recipe("study backup", f"{STUDY} @copy", ["copy/originals"])
    yield Recipe("study restore", "@backup --study @new --by Ada", ["new/originals"])
    yield Recipe("study erase", f"P01 {CHANGE} --yes")
    for name, given in _SET.items():
        yield Recipe(f"study settings + {name}", f"{CHANGE} {given}")
    yield Recipe("study typical", f"{STUDY}", codes=(0, 1, 2))
    yield Recipe("study guide", f"{STUDY} --out @out.html", ["out.html"])
    yield Recipe("study back", f"{CHANGE} 1", codes=(0, 2))
    yield Recipe("study words", f"{CHANGE} --means cause other stroke", codes=(0, 2))
    yield Recipe("study maps", f"{CHANGE} --add @map.toml --name ours")
    rows = "--rows @out.csv"
    yield Recipe("cohort", f"walking_speed_m_s {STUDY} {rows}", ["out.csv"], codes=(0, 1, 2))
    out = f"{STUDY} --out @out --override-reason asked --least-alike 2 --by Ada"
    yield Recipe("export", out, ["out/datapackage.json", "out/README.md"])
    yield Recipe("users add", f"{STUDY} --by Ada eve --may edit")
    yield Recipe("users password", f"{STUDY} --by Ada bo")
    yield Recipe("users remove", f"{STUDY} --by Ada bo")


_PAIR: Final = "--without @walks/P01/visit-1/without-brace --with @walks/P01/visit-1/with-brace"
_VISITS: Final = " ".join(
    f"--visit P{person}=@again/P{person}-{n}/with-brace" for person in (1, 2, 3) for n in (1, 2)
)
_PATTERN: Final = "--pattern {person}/{visit}/{condition}/{trial}"
_OF_WALK: Final = ("exclude-walk", "looked-at", "swap-sides")
_SET: Final = {
    "map": "--map @map.toml",
    "errors": "--errors @measurement_errors.toml",
    "typical": "--typical @typical.toml",
    "rate": "--usual-rate 120",
    "releases": "--releases @releases.toml",
    "outcomes": "--outcomes @outcomes.toml",
}
