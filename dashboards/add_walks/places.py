"""Which person, visit and day the folders and names of dropped files say.

In come the files of a basket and the codes of a study, out come the visits of a tree, one of which
is open at a time, and the day of that one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from dashboards.add_walks.draft import FilesDraft, Place, files_at_hand
from dashboards.add_walks.uploads import Basket
from gaittrack.study.archives.guessing import guess_of, said_worn, says_standing
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.proposing import proposed_patterns
from gaittrack.study.archives.tried_paths import try_paths


def sort_by_place(draft: FilesDraft, basket: Basket, codes: Collection[str]) -> None:
    """Note which person and visit each file's path names; of several, the first is open."""
    named = {n: place_of(one.folder, codes) for n, one in enumerate(basket.files)}
    if not any(person for person, _ in named.values()):
        named = dict(enumerate(_proposed([one.place for one in basket.files])))
    draft.places = named
    open_next(draft, basket)


def place_of(folder: str, codes: Collection[str]) -> Place:
    """Return the person and the visit that folders say: a code of the study, and what follows."""
    parts = folder.split("/")
    n = next((n for n, part in enumerate(parts) if part in codes), None)
    if n is None:
        return "", ""
    after = parts[n + 1] if n + 1 < len(parts) else ""
    return parts[n], "" if said_worn(after) or says_standing(after) else after


def _proposed(paths: Sequence[str]) -> list[Place]:
    """Return the people of a tree that holds several, where its names follow one pattern."""
    nobody = [("", "")] * len(paths)
    patterns = proposed_patterns(paths)
    if not patterns:
        return nobody
    tried = try_paths(paths, [PathPattern(text) for text in patterns])
    found = [(one.cells.get("person", ""), one.cells.get("visit", "")) for one in tried]
    return found if len({person for person, _ in found}) > 1 else nobody


def open_next(draft: FilesDraft, basket: Basket) -> None:
    """Let a visit be open of which files wait; none by itself where all are of one."""
    waiting = waiting_places(draft, basket)
    if draft.place not in waiting:
        draft.place = min(waiting, default=None)
    if len(waiting) < 2 and set(draft.places.values()) == set(waiting):
        draft.place = None


def open_place(draft: FilesDraft, basket: Basket, wanted: object) -> None:
    """Open the visit that was pressed; one that is not there is passed over."""
    found = waiting_places(draft, basket)
    draft.place = next((each for each in found if list(each) == wanted), draft.place)


def waiting_places(draft: FilesDraft, basket: Basket) -> dict[Place, int]:
    """Return the visits that paths name, and how many files of each wait."""
    waiting = [n for n, one in enumerate(basket.files) if not one.is_stored]
    return dict(sorted(Counter(draft.places[n] for n in waiting if n in draft.places).items()))


def person_at_hand(draft: FilesDraft, basket: Basket) -> str:
    """Return who the paths of the files at hand name; empty where they name nobody or several."""
    found = {draft.places.get(n, ("", ""))[0] for n in files_at_hand(basket, draft)}
    return found.pop() if len(found) == 1 else ""


def day_at_hand(draft: FilesDraft, basket: Basket) -> tuple[str, str]:
    """Return the day of the files at hand in ISO form, and where it is from in words.

    What names say goes before what the files say, and that before the days on which they were last
    changed, the newest of them.
    """
    files = [basket.files[n] for n in files_at_hand(basket, draft)]
    guesses = [guess_of(one.place) for one in files]
    said = {guess.day: str(guess.sources["day"]) for guess in guesses if guess.day}
    if len(said) == 1:
        return next(iter(said.items()))
    looks = (look for one in files if one.path for look in draft.looks.get(one.path, ()))
    told = {look.day for look in looks if look.day}
    if len(told) == 1 and not said:
        return told.pop(), "as the files say"
    changed = [one.day for one in files if one.day]
    return (max(changed), "from the dates of the files") if changed and not said else ("", "")
