"""Pages for the person of everybody who is made up, and all that stands on them."""

import pickle
from dataclasses import replace
from pathlib import Path

import pytest

import gaittrack
from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.record.registry import FACTS
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.language import language
from gaittrack.report.patient import person_page
from gaittrack.report.person_words import Called
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.vocabulary import SIDES
from tests.made_once import made_once
from tests.sweeps import SWEEP

SAMPLES = Path(__file__).parents[2] / "sample_trials"
OTHER = {"with-brace": "without-brace", "without-brace": "with-brace"}
VISITS = [f"{person} visit-{n}" for person in ("P01", "P02", "P03", "P04") for n in (1, 2, 3)]
LAST = [name for name in VISITS if name.endswith("3")]
EVERY = [name + way for name in VISITS for way in ("", " -")]
SOME = [*LAST, *(f"{name} -" for name in LAST), "P03 visit-1", "P04 visit-2 -"]
"""The last visit of everybody both ways round, and two that are told otherwise."""
of_some = pytest.mark.parametrize(
    "names", [pytest.param(SOME, id="some"), pytest.param(EVERY, id="every", marks=SWEEP)]
)


class MadeUpComparisons(dict):
    """Name → (comparison, walks) of a visit; with " -" after it the other way round."""

    def __init__(self, tmp_path_factory):
        super().__init__()
        self.tmp_path_factory = tmp_path_factory

    def __missing__(self, name):
        """Compare the visit, or take what another process has compared."""
        own = name.removesuffix(" -")

        def make(folder):
            folder.mkdir()
            found = gaittrack.compare(SAMPLES / own.replace(" ", "/"))
            pair = (found.comparison, list(found.records))
            for each, place in ((pair, own), (the_other_way(*pair), f"{own} -")):
                (folder / place).write_bytes(pickle.dumps(each))

        folder = made_once(self.tmp_path_factory, f"compared-{own.replace(' ', '-')}", make)
        self[name] = pickle.loads((folder / name).read_bytes())
        return self[name]


def the_other_way(comparison, records):
    """Compare as if the walks without the brace were those with it: what was a gain is a loss."""
    turned = [each.known_as(condition=OTHER[each.condition]) for each in records]
    settings = comparison.settings
    worn = {name: Condition(name, **facts) for name, facts in settings["conditions"].items()}
    found = compare_walks(
        turned, reference="without-brace", conditions=worn, affected=settings["affected"]
    )
    return found, turned


def called(code, kind="brace"):
    """Return what the two ways of walking are called."""
    texts = language(code).texts
    if kind == "visits":
        worn = texts["page.both_with"]
        return Called("visits", texts["when.before"], texts["when.now"], worn, "P09 · visit-2")
    return Called(
        "brace", texts["when.without_brace"], texts["when.with_brace"], "", "P09 · visit-1"
    )


def page_of(pair, code="en", *, kind="brace", **more):
    """Write the page of a comparison and its walks."""
    return person_page(*pair, called(code, kind), language(code), **more)


def pieces(page):
    """Return all texts of a page."""
    found = [page.title, *page.first, *page.lead, *page.in_words]
    for point in page.points:
        found += [point.heading, *point.lines, *point.notes]
        found += [f"{each.how}: {each.caption}" for each in point.pictures]
    for each in page.lists:
        found += [each.heading, *(text for item in each.items for text in item if text)]
    found.append(page.notice)
    return found


def prose(page):
    """Return the whole sentences of a page: names in lists and captions would flatter it."""
    return [text for text in pieces(page) if ends(text)]


def ends(text):
    """Tell whether a text ends as a sentence does."""
    return text.rstrip("”").endswith((".", "!", "?"))


def visit_of(name):
    """Return what was examined of somebody who is made up."""
    (patient,) = (each for each in PATIENTS if each.code == name[:3])
    facts = dict.fromkeys(FACTS["visit"])
    for key, own in patient.examination.items():
        facts |= {f"{key}_{n}": v for n, v in own.items()} if key in SIDES else {key: own}
    return VisitFacts(1, "visit-1", facts, str(patient.about["affected_side"]))


def with_rows(pair, change):
    """Return a pair whose comparison says other rows; the walks stay."""
    comparison, records = pair
    return replace(comparison, rows=tuple(map(change, comparison.rows))), records
