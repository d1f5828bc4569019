"""Whoever knows three things of a person finds too many people, also with two releases in hand."""

from dataclasses import replace
from functools import cache
from itertools import combinations, product

import numpy as np
import pytest

from gaittrack.cohort.disclosure import shared_words
from gaittrack.cohort.disclosure.counted_facts import counted, counted_closed
from gaittrack.cohort.disclosure.known_facts import (
    ANCHORS,
    CORE,
    EXAMINED,
    SEEN,
    coarser,
)
from gaittrack.cohort.disclosure.lost_words import lost_lines
from gaittrack.cohort.disclosure.people_bits import unpacked
from gaittrack.cohort.disclosure.protection import LEAST_ALIKE, protect
from gaittrack.cohort.disclosure.shown_people import all_shown, known_facts, people_shown
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.leaving import WITHHELD
from gaittrack.cohort.tables.selection import Selection, kept_visits
from gaittrack.cohort.tables.table import conditions_table, people_table, visits_table
from gaittrack.compare.fair.condition import Condition
from gaittrack.record.registry import CONDITION, FACTS
from tests.cohort.made_up_cohort import cohort

LEAST = LEAST_ALIKE["controlled"]


def various(n_people=70, seed=3, n_visits=2):
    """Give a study in which people differ in all that others can know."""
    rng = np.random.default_rng(seed)
    plain = cohort(n_people, n_visits=n_visits, n_walks=0)
    source = closed(plain, {person: person for person in plain.people["person"]})

    def drawn(words, n):
        return rng.choice(list(words), n, p=rng.dirichlet(np.full(len(words), 2.0)))

    people = source.people.assign(
        sex=drawn(["female", "male"], n_people),
        cause=drawn(["stroke", "peripheral nerve palsy", "multiple sclerosis"], n_people),
        affected_side=rng.choice(["left", "right"], n_people),
    )
    people.loc[0, "cause"] = "muscle disease"
    visits = source.visits
    bands = {name: fact.leaving_words[:6] for name, fact in FACTS["visit"].items() if fact.bands}
    own = {name: drawn(words, len(visits)) for name, words in bands.items()}
    ages = dict(zip(people["person"], drawn(["30-39", "40-49", "60-69"], n_people), strict=True))
    visits = visits.assign(**own, age_band=visits["person"].map(ages))
    visits = visits[(visits["visit"] == "1") | (rng.random(len(visits)) < 0.4)]
    places = set(zip(visits["person"], visits["visit"], strict=True))
    conditions = {
        key: described(worn, rng) for key, worn in source.conditions.items() if key[:2] in places
    }
    visits = visits.reset_index(drop=True)
    return replace(source, people=people, visits=visits, conditions=conditions)


def described(worn, rng):
    """Return a condition with numbers that are hardly anybody else's."""
    aid = str(rng.choice(["none", "none", "none", "cane"]))
    shoe = str(rng.choice(["lace-up shoe", "walking shoe"]))
    numbers = {"heel_sole_differential_mm": float(rng.integers(0, 25))}
    if worn.is_braced:
        numbers |= {"days_worn": float(rng.integers(0, 900))}
        numbers |= {"orthosis_mass_g": float(rng.integers(60, 400))}
        numbers |= {"orthosis_stiffness_n_m_per_deg": round(float(rng.uniform(0.2, 9)), 3)}
        numbers |= {"orthosis_plantar_stop_deg": float(rng.integers(-20, 20))}
    return worn.known_as(**numbers, walking_aid=aid, footwear=shoe)


def protected(source, **of):
    """Return what is shown of a closed source."""
    return protect(counted_closed([source]), **of)


def names_of(protection, people):
    """Return the names of some people."""
    return {protection.everybody.names[place] for place in np.flatnonzero(people)}


def shown_by(protection, source, everybody):
    """Return what an export shows: words by fact and person, None where it shows no word."""
    own = protection.rows_of(source)
    tables = [
        protection.told(people_table(own)),
        protection.told(visits_table(own)),
        protection.told(conditions_table(own)),
    ]
    shown = {}
    for name in (*CORE, *ANCHORS, *SEEN):
        (table,) = [each for each in tables if name in each.columns][:1]
        found = {}
        for person, cells in table.groupby("export_id")[name]:
            words = {str(cell) for cell in cells.dropna()} - {"not recorded"}
            found[person] = None if WITHHELD in words or not words else words
        shown[name] = {person: found.get(person, set()) for person in everybody}
    return shown


def true_words(protection):
    """Return what somebody can know, in the bands of an export."""
    names, known = protection.everybody.names, known_words(protection.everybody)
    return {
        name: {
            person: {coarser(name, protection.withheld.step.get(name, 0)).get(w, w) for w in words}
            for person, words in zip(names, known[name], strict=True)
        }
        for name in (*CORE, *ANCHORS, *SEEN)
    }


def known_words(everybody):
    """Return the words of each person by fact."""
    known = known_facts(everybody, all_shown(everybody))
    has = {
        (name, word): unpacked(bits, known.n)
        for name, own in known.of.items()
        for word, bits in own.items()
    }
    return {
        name: [{word for word in own if has[name, word][place]} for place in range(known.n)]
        for name, own in known.of.items()
    }


def joined(one, other):
    """Return what two releases show of each person whose rows are put together."""
    pairs = {
        name: [(p, own, other[name][p]) for p, own in each.items()] for name, each in one.items()
    }
    return {
        name: {p: a or b or (None if None in (a, b) else set()) for p, a, b in found}
        for name, found in pairs.items()
    }


def singled_out(shown, true, least):
    """Return whom three known facts lead to fewer than ``least`` people.

    Fewer who show all three, or fewer who may have them: the words of the others are withheld.
    """
    people = [person for person, words in shown["n_visits"].items() if words]
    exact, could = {}, {}
    for name, own in shown.items():
        for word in set().union(*true[name].values()):
            exact[name, word] = {p for p in people if word in (own[p] or ())}
            could[name, word] = {p for p in people if own[p] is None or word in own[p]}
    found = []
    for names in combinations(shown, 3):
        known = {
            told
            for person in people
            for told in product(*([(name, word) for word in true[name][person]] for name in names))
        }
        for told in known:
            n_exact = len(set.intersection(*(exact[each] for each in told)))
            n_could = len(set.intersection(*(could[each] for each in told)))
            if 0 < n_exact < least or 0 < n_could < least:
                found.append((told, n_exact, n_could))
    return found


@pytest.fixture(scope="module")
def everybody():
    return various()


@pytest.fixture(scope="module")
def release(everybody):
    """Give what is shown in a release, found once."""
    counts = counted_closed([everybody])
    return cache(lambda name, **of: protect(counts, release=name, selection=Selection(**of)))


def test_three_known_facts_lead_to_nobody(everybody, release):
    """In one release: what is shown of three facts is shown of five people, or of none.

    The numbers of a brace and of days, as they are recorded, are hardly anybody else's.
    """
    found = release("controlled")
    codes = list(everybody.people["person"])
    assert singled_out(shown_by(found, everybody, codes), true_words(found), LEAST) == []
    assert found.is_met
    bare = replace(found, withheld=replace(found.withheld, hidden={}))
    assert singled_out(shown_by(bare, everybody, codes), true_words(found), LEAST)


@pytest.mark.parametrize("other", [("open", {}), ("controlled", {"sex": ("female",)})])
def test_two_releases_together_single_nobody_out(everybody, release, other):
    """Even where every row of one is put beside its row of the other, by values alike in both."""
    codes = list(everybody.people["person"])
    first, second = release("controlled"), release(other[0], **other[1])
    both = joined(*(shown_by(each, everybody, codes) for each in (first, second)))
    assert LEAST <= len(second.people)
    assert singled_out(both, true_words(first), LEAST) == []


def test_nobody_is_chosen_by_a_word_that_is_withheld(everybody, release):
    """Whoever is in a release of one sex shows that word in the release of everybody."""
    chosen, whole = release("controlled", sex=("female",)), release("controlled")
    hidden = whole.withheld.hidden
    assert (hidden["sex"] | hidden["cause"]).any()
    assert not set(chosen.people) & names_of(whole, hidden["sex"])
    assert all(
        (chosen.withheld.hidden[name] >= (people & chosen.shown.people)).all()
        for name, people in hidden.items()
    )


def test_a_release_for_more_readers_withholds_what_one_for_fewer_does(release):
    """More readers see no word, visit or person that fewer do not see."""
    partner, controlled, open_ = (release(each).withheld for each in LEAST_ALIKE)
    for finer, coarse in ((partner, controlled), (controlled, open_)):
        assert (finer.dropped <= coarse.dropped).all()
        for name in (*CORE, *SEEN, *EXAMINED):
            assert (finer.hidden[name] <= coarse.hidden[name] | coarse.dropped).all(), name
            assert finer.step.get(name, 0) <= coarse.step.get(name, 0)


def test_a_few_who_differ_cost_a_few_words():
    """Two of 44 people are no reason to refuse: they lose words, and it is told."""
    plain = cohort(44, n_walks=0)
    plain.people.loc[0, "cause"] = "muscle disease"
    plain.people.loc[1, "affected_side"] = "both"
    source = closed(plain, {person: person for person in plain.people["person"]})
    found = protected(source, release="controlled")
    assert len(found.people) == 43
    assert found.smallest >= LEAST
    people = found.told(people_table(found.rows_of(source)))
    assert (people["cause"] == WITHHELD).sum() == LEAST
    assert "muscle disease" not in set(people["cause"])
    lines = "\n".join(lost_lines(found.lost()))
    assert "side affected: 1 person" in lines
    assert "withheld, with the number of people: cause (5)" in lines
    kind = source.visits["kind"].iloc[0]
    for chosen in (Selection(visit_no=(1,)), Selection(visit_kind=(kind,))):
        some = protected(source, release="controlled", selection=chosen)
        told = "\n".join(lost_lines(some.lost()))
        assert "side affected: 1 person" in told, "of the visits that were asked for"
        assert "later visits" not in told
    words = protected(source, release="controlled", selection=Selection(affected_side=("left",)))
    assert "side affected" not in "\n".join(lost_lines(words.lost())), "who fits stays untold"


def test_what_tells_a_withheld_aid_in_other_words_goes_too():
    """The code of the condition, and labels; in codes that are still one for each condition."""
    plain = cohort(12, n_walks=0)
    key = next(iter(plain.conditions))
    conditions = {
        place: worn.known_as(walking_aid="cane" if place[0] == key[0] else "none")
        for place, worn in plain.conditions.items()
    }
    more = {(*key[:2], "third"): Condition("third", orthosis="none", footwear="lace-up shoe")}
    plain = replace(plain, conditions={**conditions, **more})
    source = closed(plain, {person: person for person in plain.people["person"]})
    assert any(code.endswith("_aid") for _, _, code in source.conditions)
    found = protected(source, release="controlled")
    table = conditions_table(found.rows_of(source))
    table["labels"] = "walking_aid_differs; few_walks"
    told = found.told(table)
    hidden = told["walking_aid"] == WITHHELD
    assert hidden.sum() >= LEAST
    assert not told["condition_code"].str.endswith("_aid").any()
    assert not told.duplicated(["export_id", "visit_no", "condition_code"]).any()
    assert set(told.loc[hidden, "labels"]) == {"few_walks"}


def test_days_are_rounded_for_more_readers(everybody, release):
    """To weeks under an agreement, to four weeks for anybody."""
    visits = visits_table(everybody).assign(days_since_first_visit=31)
    for name, days in (("partner", 31), ("controlled", 28), ("open", 28)):
        table = release(name).told(visits)
        assert set(table["days_since_first_visit"]) == {days}


def test_every_fact_that_others_can_know_is_counted():
    """Whatever the registry says of a new line; words of its list are in the dictionary."""
    counted = {
        name
        for facts in (FACTS["person"], FACTS["visit"], CONDITION)
        for name, fact in facts.items()
        if fact.counts
    }
    assert counted == {*CORE, *ANCHORS, *SEEN, "orthosis_class"} - {"brace_classes", "n_visits"}


def test_what_is_counted_of_some_at_a_time_is_what_is_counted_of_all():
    """The same words, table of people and losses, whether all come at once or some at a time."""
    rng, plain = np.random.default_rng(5), cohort(40, n_visits=2, n_walks=2)
    worn = {key: described(one, rng) for key, one in plain.conditions.items()}
    heights = [None if n < 14 else 150.0 + n for n in range(len(plain.visits))]
    visits = plain.visits.assign(height_cm=heights)
    source = replace(plain, conditions=worn, visits=visits)
    names = list(source.people["person"])
    parts = (
        kept_visits(source, source.visits[source.visits["person"].isin(names[at : at + 6])])
        for at in range(0, len(names), 6)
    )
    clean = closed(source, {name: name for name in names})
    own, whole = counted(parts), counted_closed([clean])
    assert known_words(own) == known_words(whole)
    assert sum(map(len, known_words(own)["orthosis_mass_g"])) > len(names) / 2
    table = people_shown(own, all_shown(own)).astype(object)
    assert table.equals(people_table(clean).astype(object))
    one, other = (protect(each, release="controlled") for each in (own, whole))
    assert one.people == other.people
    for name, hidden in one.withheld.hidden.items():
        assert (hidden == other.withheld.hidden[name]).all(), name
    assert one.lost().equals(other.lost())


def test_what_is_withheld_does_not_hang_on_how_many_sets_are_looked_at_at_once(
    everybody, release, monkeypatch
):
    """One set of words at a time, or all of them."""
    whole = release("controlled").withheld
    monkeypatch.setattr(shared_words, "_AT_ONCE", 1)
    found = protected(everybody, release="controlled").withheld
    assert any(people.any() for people in whole.hidden.values())
    assert whole.hidden.keys() == found.hidden.keys()
    for name, people in whole.hidden.items():
        assert (people == found.hidden[name]).all(), name


def test_what_is_counted_of_a_person_takes_less_than_a_kilobyte(everybody):
    """Of a hundred thousand people less than 100 MB, whoever wore what."""
    found = counted_closed([everybody])
    tables = (found.visits, found.worn, found.settings)
    columns = [own for each in tables for own in (each.person, each.number, *each.facts.values())]
    columns += [found.visit_of, *found.people.values()]
    assert sum(own.nbytes for own in columns) / len(found.names) < 1000
