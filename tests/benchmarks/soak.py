"""Let simulated users work in a large study for hours, and print what that does to the server.

Each user goes from screen to screen and person to person as a browser recorded it, and corrects a
recording now and then in a process of its own beside the server. A line a minute: requests, their
median and 95th percentile, processor time and memory of the server. At the end every correction
must stand in the history, once, and the history must hold::

    .venv/bin/python -m tests.benchmarks.soak --minutes 120

``--study DIR`` works in a copy of that study; else one of ``--people`` is made.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import shutil
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from statistics import quantiles

from playwright.sync_api import Page, Request, sync_playwright
from sqlalchemy import select

from dashboards.app import SCREENS
from gaittrack.errors import GaitTrackError
from gaittrack.study.history import entries, faults
from gaittrack.study.history_end import end_faults
from gaittrack.study.results.keeping import known_trials
from gaittrack.study.store import Study, open_study
from gaittrack.study.tables import PERSON
from tests.benchmarks.large_study import copy_person, write_template
from tests.correcting import confirm_trial
from tests.dashboards.conftest import CHROMIUM_OPTIONS, chromium
from tests.dashboards.settled import settle
from tests.dashboards.test_serving import started

N_USERS = 5
LONGEST_S = 300.0
"""Wait for the first screens, where others work on the machine too."""
PAUSE_S = (0.2, 2.0)
"""How long a user looks before going on."""
EDITS = 0.25
"""Share of the steps at which a user corrects a recording."""
CALLBACK = "/_dash-update-component"
HEADINGS = (
    *("minute", "requests", "median ms", "p95 ms", "processor ms of each"),
    *("memory MB", "corrections", "failed"),
)
Step = list[str]
"""Bodies of the callbacks that one screen asks for when it is opened."""


def recorded(address: str) -> list[Step]:
    """Return what a browser asks of each screen, with the first person chosen."""
    base, found = address.partition("/start")[0], []
    with sync_playwright() as started_:
        browser = started_.chromium.launch(executable_path=chromium(), args=CHROMIUM_OPTIONS)
        page = browser.new_page()
        page.context.request.get(address)
        for place, *_ in SCREENS:
            found.append(_asked_by(page, f"{base}{place}?person=1"))
        browser.close()
    return found


def _asked_by(page: Page, address: str) -> Step:
    asked: Step = []

    def note(request: Request) -> None:
        if CALLBACK in request.url:
            asked.append(request.post_data or "")

    page.on("request", note)
    page.set_default_timeout(1000 * LONGEST_S)
    page.goto(address)
    with suppress(AssertionError):  # a screen that shows progress goes on
        settle(page, LONGEST_S)
    page.remove_listener("request", note)
    return asked


class Soak:
    """Users, what they asked, and what they changed."""

    def __init__(self, folder: Path, address: str, steps: Sequence[Step]) -> None:
        self.folder, self.steps = folder, steps
        self.base, _, self.start = address.removeprefix("http://").partition("/")
        self.taken_ms: list[float] = []
        self.failed: Counter[str] = Counter()
        self.edits: list[str] = []
        self.refused_edits = 0
        self.is_over = threading.Event()
        study = open_study(folder)
        with study.read() as connection:
            self.people = connection.execute(select(PERSON.c.id)).scalars().all()
            self.trials = list(known_trials(connection, kind="walk"))
        study.close()

    def use(self, number: int) -> None:
        """Work as one user until it is over."""
        chance, study = random.Random(number), open_study(self.folder)
        host = http.client.HTTPConnection(self.base, timeout=120)
        host.request("GET", f"/{self.start}")
        answer = host.getresponse()
        answer.read()
        cookie = str(answer.getheader("Set-Cookie")).partition(";")[0]
        own = {"Cookie": cookie, "Origin": f"http://{self.base}"}
        while not self.is_over.wait(chance.uniform(*PAUSE_S)):
            person = chance.choice(self.people)
            for body in chance.choice(self.steps):
                self._ask(host, re.sub(r'"person": ?1\b', f'"person":{person}', body), own)
            if chance.random() < EDITS:
                self._correct(study, chance, f"user {number} at {time.monotonic_ns()}")
        study.close()

    def _ask(self, host: http.client.HTTPConnection, body: str, own: dict[str, str]) -> None:
        started_s = time.perf_counter()
        try:
            host.request("POST", CALLBACK, body, own | {"Content-Type": "application/json"})
            answer = host.getresponse()
            answer.read()
        except (OSError, http.client.HTTPException) as error:
            self.failed[repr(error)] += 1
            host.close()
            return
        if answer.status not in (200, 204):
            self.failed[f"{answer.status} {json.loads(body)['output'][:60]}"] += 1
        self.taken_ms.append(1000 * (time.perf_counter() - started_s))

    def _correct(self, study: Study, chance: random.Random, why: str) -> None:
        try:
            confirm_trial(study, chance.choice(self.trials), who="soak", why=why)
            self.edits.append(why)
        except GaitTrackError:  # somebody else writes; it is said, and nothing is lost
            self.refused_edits += 1


def memory_mb(pid: int) -> float:
    """Return the memory of a process, in MB."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    found = re.search(r"VmRSS:\s+(\d+)", status)
    return int(found[1]) / 1024 if found else 0.0


def processor_ms(pid: int) -> float:
    """Return the processor time that a process has taken, in ms: load changes it little."""
    after_name = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return 1000 * (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")


def watch(soak: Soak, pid: int, minutes: float) -> None:
    """Print a line a minute."""
    print(*HEADINGS, sep="\t", flush=True)
    started_s, taken_ms = time.monotonic(), processor_ms(pid)
    for minute in range(1, round(minutes) + 1):
        seen = len(soak.taken_ms)
        time.sleep(max(0.0, started_s + 60 * minute - time.monotonic()))
        new = soak.taken_ms[seen:] or [0.0, 0.0]
        parts = quantiles(new, n=20)
        before_ms, taken_ms = taken_ms, processor_ms(pid)
        each_ms = (taken_ms - before_ms) / len(new)
        numbers = [f"{n:.0f}" for n in (parts[9], parts[18], each_ms, memory_mb(pid))]
        told = (minute, len(new), *numbers, len(soak.edits), soak.failed.total())
        print(*told, sep="\t", flush=True)


def lost_edits(soak: Soak) -> list[str]:
    """Return the corrections that do not stand in the history exactly once, and other damage."""
    study = open_study(soak.folder)
    with study.read() as connection:
        there = Counter(each["why"] for each in entries(connection) if each["who"] == "soak")
        found = faults(connection) + end_faults(connection, study.folder)
    study.close()
    return [why for why in soak.edits if there[why] != 1] + found


def main() -> None:
    """Run it, and exit 1 where an edit is lost or an answer failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=120)
    parser.add_argument("--people", type=int, default=1000)
    parser.add_argument("--study", type=Path)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="soak-") as scratch:
        folder = Path(scratch) / "study"
        if given.study:
            shutil.copytree(given.study, folder)
        else:
            write_template(Path(scratch))
            copy_person(folder, given.people)
        process, address = started(folder)
        soak = Soak(folder, address, recorded(address))
        print(f"callbacks of each screen: {[len(step) for step in soak.steps]}", flush=True)
        users = [threading.Thread(target=soak.use, args=(n,)) for n in range(N_USERS)]
        for user in users:
            user.start()
        watch(soak, process.pid, given.minutes)
        soak.is_over.set()
        for user in users:
            user.join()
        process.terminate()  # an interrupt is ignored by what a shell started behind itself
        process.communicate(timeout=60)
        lost = lost_edits(soak)
    print(f"{len(soak.edits)} corrections, {soak.refused_edits} refused while others wrote")
    print(f"lost or damaged: {lost[:5] or 'nothing'}; failed: {dict(soak.failed) or 'nothing'}")
    raise SystemExit(bool(lost or soak.failed))


if __name__ == "__main__":
    main()
