"""What a tried pattern leaves open: all of it at once, each with what to write.

In comes a tree as it was tried, out come errors; as long as there is one nothing is to be stored.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Final

from gaittrack.compare.row_words import count_words
from gaittrack.errors import StudyError
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.said_days import whole_day
from gaittrack.study.archives.guessing import said_worn, says_standing
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.planning_pattern import TriedTree
from gaittrack.study.archives.proposing import proposed_patterns
from gaittrack.study.archives.tried_paths import ToldBesides, TriedFile

_MOST_NAMED: Final = 6


def doubts_of(
    tree: TriedTree, patterns: Sequence[PathPattern], told: ToldBesides
) -> Iterator[StudyError]:
    """Give what stands in the way of storing, the pattern's own faults first."""
    where = " ".join(f"--pattern {one.text!r}" for one in patterns)
    unfit = [one.path for one in tree.files if not one.said]
    if len(unfit) == len(tree.files):
        yield _fits_nothing(
            where, [one.path for one in tree.files] or [file.name for file in tree.passed_over]
        )
        return
    if unfit:
        yield _fits_some(where, unfit)
    two_ways = next((one for one in tree.files if one.other is not None), None)
    if two_ways is not None:
        yield _fits_two_ways(two_ways, [one.path for one in tree.files])
        return
    for name, code in (("person", "person_not_said"), ("visit", "visit_not_said")):
        if lacking := [one for one in tree.files if one.said and not one.cells.get(name)]:
            yield _not_said(code, lacking)
    yield from _of_misread(tree)
    yield from _of_conditions(tree, told)
    yield from _of_standing(tree.files)
    yield from _of_lists(tree, patterns, told)


def proposal(paths: Collection[str]) -> str:
    """Return options with patterns that would fit all paths; empty when none is found."""
    return " ".join(f"--pattern '{text}'" for text in proposed_patterns([*paths]))


def _fits_nothing(where: str, names: Sequence[str]) -> StudyError:
    if not names:
        return StudyError.of("pattern_without_files", where=where)
    would = proposal(names)
    code = "pattern_fits_nothing_others_would" if would else "pattern_fits_nothing"
    return StudyError.of(code, where=where, names=named(names), n=len(names), would=would)


def _fits_some(where: str, unfit: Sequence[str]) -> StudyError:
    return StudyError.of("pattern_fits_not_all", where=where, names=named(unfit), n=len(unfit))


def _fits_two_ways(one: TriedFile, paths: Collection[str]) -> StudyError:
    other = one.other or {}
    differ = [name for name in {**one.said, **other} if one.said.get(name) != other.get(name)]
    ways = [
        ", ".join(f"{name} {said[name]!r}" if name in said else f"no {name}" for name in differ)
        for said in (one.said, other)
    ]
    would = proposal(paths)
    code = "pattern_two_ways_others_would" if would else "pattern_two_ways"
    return StudyError.of(code, where=readable(one.path), first=ways[0], second=ways[1], would=would)


def _not_said(code: str, files: Sequence[TriedFile]) -> StudyError:
    names = [one.path for one in files]
    where = f"{len(names)} files" if len(names) > 1 else readable(names[0])
    return StudyError.of(code, where=where, names=named(names))


def _of_misread(tree: TriedTree) -> Iterator[StudyError]:
    """Give people and visits that are a day or what was worn: parts that were exchanged."""
    for part in ("person", "visit"):
        codes = dict.fromkeys(one.said[part] for one in tree.files if part in one.said)
        wrong = [
            code
            for code in codes
            if said_worn(code) or says_standing(code) or (part == "person" and whole_day(code))
        ]
        if wrong:
            yield StudyError.of("part_is_another", where=named(wrong), part=part)


def _of_conditions(tree: TriedTree, told: ToldBesides) -> Iterator[StudyError]:
    """Give conditions without a name, without a word on the brace, and braces without a side."""
    walks = [one for one in tree.files if one.said and not one.is_standing]
    if lacking := [one for one in walks if "condition" not in one.cells]:
        yield _not_said("condition_not_said", lacking)
    silent: dict[str, list[TriedFile]] = {}
    for one in walks:
        name = one.cells.get("condition", "")
        if name and "orthosis" not in one.cells and name.casefold() not in told.conditions:
            silent.setdefault(name, []).append(one)
    if silent:
        conditions = ", ".join(f"{name!r} ({len(files)})" for name, files in silent.items())
        first = next(iter(silent))
        footwear = silent[first][0].cells.get("footwear", "shoe")
        yield StudyError.of("brace_not_said", where=conditions, name=first, footwear=footwear)
    sideless = [one for one in walks if one.is_braced and not _has_side(one)]
    if sideless:
        people = list(dict.fromkeys(one.cells.get("person", "") for one in sideless))
        first = sideless[0].cells.get("condition", "")
        yield StudyError.of("side_not_said", where=named(people), name=first)
    there = {one.cells.get("condition", "").casefold() for one in tree.files}
    for name in told.conditions.keys() - there:
        conditions = ", ".join(dict.fromkeys(one.cells.get("condition", "") for one in walks))
        yield StudyError.of("no_such_condition_told", where=f"--condition {name}", there=conditions)


def _has_side(one: TriedFile) -> bool:
    return "orthosis_side" in one.cells or "brace" in one.cells


def _of_standing(files: Iterable[TriedFile]) -> Iterator[StudyError]:
    """Give each condition with several standing trials to choose from."""
    stood: dict[tuple[str, ...], list[str]] = {}
    for one in files:
        if one.is_standing:
            place = tuple(one.cells.get(name, "") for name in ("person", "visit", "condition"))
            stood.setdefault(place, []).append(one.path)
    for place, paths in stood.items():
        if len(paths) > 1:
            where = "/".join(filter(None, place))
            yield StudyError.of("several_standing_in_tree", where=where, names=named(paths))


def _of_lists(
    tree: TriedTree, patterns: Sequence[PathPattern], told: ToldBesides
) -> Iterator[StudyError]:
    """Give rows of a list that are of no file: a slip of the key leaves facts out silently."""
    for one in tree.files:
        if one.clashes:
            cells = ", ".join(dict.fromkeys(one.clashes))
            yield StudyError.of("list_contradicts_itself", where=readable(one.path), cells=cells)
            break
    keys = {part for pattern in patterns for part in pattern.parts}
    said = {name: {one.said.get(name, "").casefold() for one in tree.files} for name in keys}
    for number, row in enumerate(told.rows, 2):
        own = {name: cell for name, cell in row.items() if name in keys}
        if not own:
            there = ", ".join(sorted(keys))
            yield StudyError.of("list_row_without_key", where=f"--list row {number}", keys=there)
        elif any(cell.casefold() not in said[name] for name, cell in own.items()):
            cells = ", ".join(f"{name} {cell}" for name, cell in own.items())
            yield StudyError.of("list_row_of_nothing", where=f"--list row {number}", cells=cells)


def people_not_known(codes: Sequence[str]) -> StudyError:
    """Return what is asked about people whom neither study nor list describes."""
    return StudyError.of("people_not_known", where=named(codes), n=len(codes))


def named(names: Sequence[str]) -> str:
    """Return some names as people can read them, and how many there are more."""
    more = len(names) - _MOST_NAMED
    return ", ".join(map(readable, names[:_MOST_NAMED])) + (f" and {more} more" if more > 0 else "")


def told_guesses(tree: TriedTree) -> list[str]:
    """Return a line for each condition, what was worn and why, and for days, visits and sides."""
    counts: Counter[str] = Counter()
    for one in tree.files:
        name = one.cells.get("condition", "each condition")
        worn = f": {_worn(one)}" if _worn(one) else ""
        counts[f"{'standing, ' if one.is_standing else ''}{name}{worn}"] += 1
        for cell in ("visit", "date", "orthosis_side"):
            if cell in one.sources:
                counts[f"{cell}: {_plain(one.sources[cell])}"] += 1
    return [f"{line} ({count_words(n, 'file')})" for line, n in sorted(counts.items())]


def _worn(one: TriedFile) -> str:
    return ", ".join(
        one.cells[name] + (f" [{one.sources[name]}]" if name in one.sources else "")
        for name in ("orthosis", "footwear")
        if name in one.cells
    )


def _plain(source: Reason) -> Reason:
    """Return a source without the name it came from, which differs from file to file."""
    return Reason("guessed_from_names") if source.parameters else source
