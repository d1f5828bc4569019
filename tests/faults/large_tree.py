"""A tree of many recordings of which three are broken: those are told, all others are stored.

``python -m tests.faults.large_tree OUT --files 10000`` makes it, imports it twice and prints what
became of it, and what it cost. Names are of several scripts, some are no text in UTF-8.
"""

import argparse
import os
import time
from collections import Counter
from pathlib import Path

import numpy as np

from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.processes import in_processes
from gaittrack.study.store import create_study
from tests.read.made_up_sheets import curve, written

FILES_OF_A_VISIT = 20
PEOPLE = ("P", "Ж", "患者", "שם ", "é")
NAMES = ("walk", "Gang ü", "marche é", "歩行", "مشي", "ходьба")
BROKEN = {
    "cut short": lambda content: content[: len(content) // 2].rstrip(b"0123456789.,\n") + b",",
    "no numbers": lambda content: content.split(b"\n")[0] + b"\n",
    "zeros": lambda content: bytes(len(content)),
}


def make_tree(root, n_files):
    """Write recordings of cycles, each with other numbers; return those that are broken."""
    places = dict(zip(np.linspace(1, n_files - 2, len(BROKEN)).astype(int), BROKEN, strict=True))
    broken = {}
    for number in range(n_files):
        visit, within = divmod(number, FILES_OF_A_VISIT)
        person = f"{PEOPLE[visit % len(PEOPLE)]}{visit}"
        condition = ("without-brace", "with-brace")[within % 2]
        name = os.fsencode(f"{NAMES[within % len(NAMES)]} {within}.csv")
        if within % 7 == 3:
            name = name.replace(b"w", b"\xe9", 1)  # Latin-1: no text in UTF-8
        folder = os.fsencode(root) + os.fsencode(f"/{person}/visit-1/{condition}/")
        os.makedirs(folder, exist_ok=True)
        content = sheet(number).encode()
        if number in places:
            content = BROKEN[places[number]](content)
            broken[Path(os.fsdecode(folder + name))] = places[number]
        with open(folder + name, "wb") as file:
            file.write(content)
    return broken


def sheet(number):
    """Return curves of one cycle; each number gives others."""
    shift = number / 1e4
    columns = {
        f"{side} {joint}": curve(joint, 51) + shift
        for side in ("left", "right")
        for joint in ("ankle", "knee")
    }
    return written({"%": np.linspace(0, 100, 51)} | columns)


def imported(root, study, measure_all):
    """Import the tree; return the states, and the rows of what was refused."""
    rows = import_files(
        study, plan_folders([root]), who="test", new_people=True, measure_all=measure_all
    )
    states, refused = Counter(), []
    for row in rows:
        states[row.state] += 1
        refused += [row] if row.state == "refused" else []
    return states, refused


def main():
    """Make the tree, import it twice, print what became of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--files", type=int, default=10_000)
    given = parser.parse_args()
    root = given.out / "tree"
    broken = make_tree(root, given.files)
    study = create_study(given.out / "study")
    for _ in range(2):
        start = time.perf_counter()
        with in_processes(2) as measure_all:
            states, refused = imported(root, study, measure_all)
        print(f"{time.perf_counter() - start:.0f} s: {dict(states)}", flush=True)
    for row in refused:
        print(f"{broken.get(row.path, 'NOT BROKEN')}: {row.message[:160]!r}")
    study.close()


if __name__ == "__main__":
    main()
