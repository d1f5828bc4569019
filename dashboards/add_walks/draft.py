"""What somebody has said so far of the files in a basket, before anything is stored.

In come files, the conditions of the form and presses, out come the use of each file with where it
was taken from, the groups that files stand in, and which of them are ticked.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from dashboards.add_walks.look_and_store import Looked, Measured
from dashboards.add_walks.uploads import Basket, Received
from gaittrack.read.sheets.angle_sheet import SUFFIXES
from gaittrack.reasons import Reason
from gaittrack.study.archives.guessing import BRACE, guess_of
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan
from gaittrack.study.recordings.planning_form import Use, guess_use

Part = Literal["files", "form", "map", "sheet", "tree"]
"""What stands beside the fields that hold for all files."""
Place = tuple[str, str]
"""Person and visit, as folders call them; empty where none does."""
NOT_SAID: Final = Use("not said")
_DRAFT: Final = "draft"


@dataclass(slots=True)
class FilesDraft:
    """What was said of the files of one basket.

    Attributes
    ----------
    uses : dict of int to Use
        By place in the basket: what somebody chose.
    left_out : set of int
        Places of files that are not ticked.
    sent : object
        What the browser last said of files it had sent; the answer that comes first takes it in.
    step : int
        Which of the three is open.
    looks : dict of Path to list of Looked
        What was found so far; several for a sheet of several conditions.
    looked_for, looking : object, str
        What was looked at last, and the number of the job that looks.
    plan : Plan or None
        What step 3 shows.
    doing, told : str
        Number of the job of step 3, and of the last one whose end was told.
    is_same_person : bool
        Somebody said so of walks that were asked about.
    is_to_mark : bool
        Something is wrong in the form, and it is marked once the form is drawn.
    places : dict of int to Place
        Person and visit that folders say, by place in the basket.
    place : Place or None
        Which of several is open; None for all files.
    guessed_day : str
        What was filled in for the day of the visit; nobody has said it.
    tree_pattern, tree_worn, tree_sides : str, dict of str to str
        How folders and names are read, what was worn in a condition, on which side somebody wore
        the brace, as it was said.
    is_of_tree : bool
        Step 3 is of all visits at once.
    """

    uses: dict[int, Use] = field(default_factory=dict)
    left_out: set[int] = field(default_factory=set)
    sent: object = None
    step: int = 1
    part: Part = "files"
    looks: dict[Path, list[Looked]] = field(default_factory=dict)
    looked_for: object = None
    looking: str = ""
    measured: Measured = field(default_factory=Measured)
    plan: Plan | None = None
    doing: str = ""
    told: str = ""
    is_same_person: bool = False
    is_to_mark: bool = False
    places: dict[int, Place] = field(default_factory=dict)
    place: Place | None = None
    guessed_day: str = ""
    tree_pattern: str = ""
    tree_worn: dict[str, str] = field(default_factory=dict)
    tree_sides: dict[str, str] = field(default_factory=dict)
    is_of_tree: bool = False
    lock: AbstractContextManager[Any] = field(default_factory=threading.RLock)


def draft_of(basket: Basket) -> FilesDraft:
    """Return what was said of the files of a basket so far."""
    found: FilesDraft = basket.kept.setdefault(_DRAFT, FilesDraft())
    return found


def files_at_hand(basket: Basket, draft: FilesDraft) -> list[int]:
    """Return the places of the files that wait and belong to the visit that is open."""
    waiting = [n for n, one in enumerate(basket.files) if not one.is_stored]
    if draft.place is not None:
        waiting = [n for n in waiting if draft.places.get(n) == draft.place]
    return sorted(waiting, key=lambda n: basket.files[n].place)


@dataclass(frozen=True, slots=True)
class FileGroup:
    """Files that are used for the same.

    Attributes
    ----------
    files : tuple of int
        Places in the basket.
    said : str
        Where the use is taken from, in words.
    """

    use: Use
    files: tuple[int, ...]
    said: str


Worn = Mapping[str, Mapping[str, Any]]
"""What was worn in each condition of the form, by its name."""


def groups_of(basket: Basket, draft: FilesDraft, worn: Worn) -> list[FileGroup]:
    """Return the files that wait in a basket by their use, in the order of the conditions."""
    found: dict[tuple[Use, str], list[tuple[int, str]]] = {}
    for n in files_at_hand(basket, draft):
        one = basket.files[n]
        use, said = use_of(n, one, draft, worn)
        of_folder = one.folder if use.kind == "not said" else ""
        found.setdefault((use, of_folder), []).append((n, said))
    made = [
        FileGroup(use, tuple(n for n, _ in own), ", ".join(dict.fromkeys(said for _, said in own)))
        for (use, _), own in found.items()
    ]
    places = {name: place for place, name in enumerate(worn)}
    kinds = ("walk", "several", "standing", "not said")
    return sorted(
        made, key=lambda one: (kinds.index(one.use.kind), places.get(one.use.condition, -1))
    )


def use_of(n: int, one: Received, draft: FilesDraft, worn: Worn) -> tuple[Use, str]:
    """Return the use of a file and where it is taken from: chosen, else guessed, else nothing."""
    chosen = draft.uses.get(n)
    if chosen is not None and (not chosen.condition or chosen.condition in worn):
        return chosen, "chosen here"
    name = one.name.removesuffix(EVENTS_ENDING)
    named = guess_use(name, one.folder, list(worn))
    if named != NOT_SAID and len(worn) > 1:
        return named, _taken_from(named, name, one.folder, list(worn))
    guess = guess_of(f"{one.folder}/{Path(name).stem}")
    fitting = [each for each, facts in worn.items() if guess.worn and _fits(guess.worn, facts)]
    condition = fitting[0] if len(fitting) == 1 else ""
    if guess.is_standing:
        return Use("standing", condition), str(guess.sources["standing"])
    if condition:
        said = dict.fromkeys(str(guess.sources[key]) for key in guess.worn)
        return Use("walk", condition), ", ".join(said)
    if named != NOT_SAID:
        return named, "the only condition"
    return NOT_SAID, "no folder or name says it"


def _fits(said: Mapping[str, str], facts: Mapping[str, Any]) -> bool:
    """Tell whether what names say was worn is what a condition of the form says."""
    orthosis = BRACE if facts.get("brace") else facts.get("orthosis")
    side, shoe = facts.get("orthosis_side"), facts.get("footwear")
    shod = "barefoot" if shoe == "barefoot" else "shoe"
    return (
        said.get("orthosis") in (None, orthosis)
        and (not side or said.get("orthosis_side") in (None, side))
        and (not shoe or said.get("footwear") in (None, shod))
    )


def _taken_from(use: Use, name: str, folder: str, names: Sequence[str]) -> str:
    """Return the folder or the name in which the condition itself is named."""
    for part in reversed(folder.split("/")):
        if part and guess_use(part, "", names) == use:
            return str(Reason("guessed_from_folder", name=part))
    return str(Reason("guessed_from_file", name=Path(name).stem))


def uses_of(groups: Sequence[FileGroup]) -> dict[int, Use]:
    """Return the use of each file of some groups."""
    return {n: group.use for group in groups for n in group.files}


def take(draft: FilesDraft, basket: Basket, press: Mapping[str, Any]) -> None:
    """Take in what was pressed; places of files that are not there are passed over.

    Parameters
    ----------
    press : mapping
        From a browser: ``act`` and what it needs.
    """
    there = range(len(basket.files))
    files = {n for n in press.get("files", ()) if n in there}
    match press.get("act"):
        case "tick":
            draft.left_out ^= files
        case "leave out":
            draft.left_out |= files
        case "use":
            draft.uses |= dict.fromkeys(files, use_from(str(press.get("chosen", ""))))
        case "same person":
            draft.is_same_person = True
        case "tree pattern":
            draft.tree_pattern = str(press.get("chosen", "")).strip()
        case "tree worn":
            _say(draft.tree_worn, press)
        case "tree side":
            _say(draft.tree_sides, press)
        case "part" if press.get("part") in ("files", "form", "map", "sheet", "tree"):
            draft.part = press["part"]
        case "step" if press.get("step") in (1, 2):
            draft.step, draft.part = press["step"], "files"


def _say(said: dict[str, str], press: Mapping[str, Any]) -> None:
    """Note what was chosen of a name; nothing chosen takes it back."""
    name, chosen = str(press.get("name", "")), str(press.get("chosen", ""))
    said.pop(name, None)
    if chosen:
        said[name] = chosen


def use_from(value: str) -> Use:
    """Return a use as the screen writes it: ``walk:with-brace``."""
    kind, _, condition = value.partition(":")
    for known in ("walk", "standing", "several"):
        if kind == known:
            return Use(known, condition)
    return NOT_SAID


def options_of(names: Sequence[str], files: Sequence[Received]) -> dict[str, str]:
    """Return what files may be used for: values and words."""
    found = {f"walk:{name}": name for name in names}
    if any(Path(one.name).suffix.lower() in SUFFIXES for one in files):
        found["several:"] = "sheet with several conditions"
    found |= {f"standing:{name}": f"standing for {name}" for name in names}
    return found | {"standing:": "standing for all conditions"}
