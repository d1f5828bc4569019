"""Send each callback what no screen sends, one place at a time, the others as a screen would.

    python -m tests.dashboards.sent_values [STUDY] [--cases 2000] [--seed 1]

Prints what was left to the server as a program error, on a copy of a study, or of a new one.
"""

from __future__ import annotations

import argparse
import json
import logging
import random
import re
import shutil
import tempfile
from collections import Counter
from pathlib import Path

from dashboards.app import build_app
from dashboards.parts.dash_private import UPDATE
from dashboards.parts.sent_kinds import ListOf, fits
from dashboards.parts.sent_values import kind_of
from dashboards.shell.access import LOG
from dashboards.shell.doors import START
from dashboards.shell.place import Doors
from gaittrack.study.history import last_sequence
from gaittrack.study.store import create_study, open_study
from tests.dashboards.registered import callbacks_of

HOST = "127.0.0.1:8050"
OWN = {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}
DEEP = json.loads('{"a":' * 60 + "1" + "}" * 60)
WRONG = (
    *(
        None,
        True,
        0,
        -1,
        7,
        10**15,
        10**30,
        1.5,
        float("nan"),
        float("inf"),
        "",
        "x",
        "7",
        "\ud800",
    ),
    *(
        "x" * 200_000,
        [],
        [None],
        [7],
        ["x"],
        [["x", "x"]],
        [{}],
        {},
        {"x": 1},
        {"value": None},
        DEEP,
    ),
    *({"value": 7, "at": 1}, {"value": "x", "at": 1}, {"value": {}, "at": 1}, {"person": "x"}),
    *(
        {"value": {"act": "use"}, "at": 1},
        {"value": {"what": "x"}, "at": 1},
        {"value": [], "at": 1},
    ),
    *({"person": -1, "value": {"act": "use"}}, {"value": {"level": "x"}, "at": 1}),
)
"""JSON and what Python's reader takes for it: a text for a number, a list for a dict, no number."""


class Sender:
    """An app, and a browser that sends it anything; ``close`` at the end."""

    def __init__(self, study):
        self.study = study
        doors = Doors(frozenset({HOST}), who="tester")
        self.app = build_app(study, doors)
        self.client, self.logged = self.app.server.test_client(), []
        self.handler = logging.Handler()
        self.handler.emit = lambda record: self.logged.append(record.getMessage())
        LOG.addHandler(self.handler)
        self.level, LOG.level = LOG.level, logging.INFO
        self.at_host = {"base_url": f"http://{HOST}"}
        self.client.get(START, query_string={"token": doors.token}, **self.at_host)
        self.client.get("/_dash-dependencies", **self.at_host)
        found = callbacks_of(self.app).items()
        self.callbacks = {name: each for name, each in found if each.get("callback")}

    def close(self):
        LOG.removeHandler(self.handler)
        LOG.level = self.level
        self.study.close()

    def send(self, name, given):
        """Return the answer to a callback, and what was logged of it."""
        self.logged.clear()
        body = json.dumps(asked(name, self.callbacks[name], given))
        posted = {"content_type": "application/json", "headers": OWN, **self.at_host}
        return self.client.post(UPDATE, data=body, **posted), list(self.logged)

    def last(self):
        with self.study.read() as connection:
            return last_sequence(connection)

    def fault_of(self, name, place, value):
        """Return what is wrong with the answer to a value at one place; empty for nothing."""
        kinds = kinds_of(self.callbacks[name])
        given = [example(kind) for kind in kinds]
        given[place] = value
        if isinstance(kinds[place], list) and not isinstance(value, list):
            value = [value]  # of several parts one
        is_short = isinstance(kinds[place], list) and len(value) != 1
        before = self.last()
        answer, logged = self.send(name, given)
        unforeseen = [line for line in logged if "unforeseen" in line]
        if unforeseen or answer.status_code not in (200, 204):
            return f"{answer.status_code} {unforeseen}"
        if is_short or fits(value, kinds[place]):
            return ""
        if "nothing that this screen sends" not in answer.get_data(as_text=True):
            return "taken"
        if not any("refused, nothing that a screen sends: tester" in line for line in logged):
            return "not logged"
        return "changed" if self.last() != before else ""


def kinds_of(entry):
    """Return the kinds of what a callback takes."""
    return [kind_of(part_of(one["id"]), one["property"]) for one in read_by(entry)]


def read_by(entry):
    return [*entry["inputs"], *entry["state"]]


def part_of(own):
    """Return an id as a screen writes it."""
    from dash import ALL, MATCH

    if not own.startswith("{"):
        return own
    words = {"ALL": ALL, "MATCH": MATCH}
    return {
        key: words[each[0]] if isinstance(each, list) else each
        for key, each in json.loads(own).items()
    }


def example(kind):
    """Return a value of a kind."""
    if isinstance(kind, tuple):
        return example(kind[0])
    if isinstance(kind, list):
        return [example(kind[0])]
    if isinstance(kind, ListOf):
        return list(map(example, kind.kinds))
    if isinstance(kind, dict):
        return {"x" if n is str else n.removesuffix("?"): example(k) for n, k in kind.items() if k}
    if isinstance(kind, re.Pattern):
        return "1"
    return {str: "x", int: 1, float: 1.5, bool: True, object: 1, type(None): None}[kind]


def asked(name, entry, given):
    """Return the request for a callback; of places that are many, as many as values are given."""
    names = name[2:-2].split("...") if name.startswith("..") else [name]
    outputs = [placed(*each.rpartition(".")[::2]) for each in names]
    read = [
        placed(one["id"], one["property"], v) for one, v in zip(read_by(entry), given, strict=True)
    ]
    n = len(entry["inputs"])
    sent = [one for each in read[:n] for one in (each if isinstance(each, list) else [each])]
    return {
        "output": name,
        "outputs": outputs if name.startswith("..") else outputs[0],
        "inputs": read[:n],
        "state": read[n:],
        "changedPropIds": [f"{_text_of(one['id'])}.{one['property']}" for one in sent[:1]],
    }


def _text_of(own):
    return own if isinstance(own, str) else json.dumps(own, sort_keys=True, separators=(",", ":"))


def placed(own, kind, value=None):
    """Return a property of a part of the screen as a browser sends it; of many parts a list."""
    if not own.startswith("{"):
        return {"id": own, "property": kind, "value": value}
    parts = json.loads(own)
    named = {key: "x" if isinstance(each, list) else each for key, each in parts.items()}
    one = {"id": named, "property": kind}
    if ["ALL"] not in parts.values():
        return one | {"value": value}
    return [one | {"value": each} for each in (value if isinstance(value, list) else [value])]


def cases(callbacks):
    """Return callback, place and value of every case."""
    return [
        (name, place, value)
        for name, entry in callbacks.items()
        for place in range(len(read_by(entry)))
        for value in WRONG
    ]


def main():
    """Print the faults."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("study", nargs="?")
    parser.add_argument("--cases", type=int, default=10**6)
    parser.add_argument("--seed", type=int, default=1)
    asked_for = parser.parse_args()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:  # jobs may still write
        copy = Path(folder) / "study"
        if asked_for.study:
            shutil.copytree(asked_for.study, copy)
        else:
            create_study(copy).close()
        sender = Sender(open_study(copy))
        every = cases(sender.callbacks)
        random.Random(asked_for.seed).shuffle(every)
        every = every[: asked_for.cases]
        found = Counter()
        for name, place, value in every:
            if fault := sender.fault_of(name, place, value):
                function = sender.callbacks[name]["callback"]
                found[f"{function.__module__}.{function.__name__} {place}: {fault}"] += 1
                if found.total() < 200:
                    print(
                        f"{function.__module__}.{function.__name__}",
                        place,
                        repr(value)[:60],
                        fault,
                        flush=True,
                    )
        print(f"{len(every)} cases, {found.total()} faults")
        sender.close()


if __name__ == "__main__":
    main()
