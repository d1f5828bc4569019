"""Archives of eight laboratories, by names alone, and what each file truly is."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

PEOPLE = ("P01", "P02", "P03")
SIDES = {"P01": "left", "P02": "right", "P03": "left"}
DAYS = ("2024-03-05", "2024-05-17")


class Truth(NamedTuple):
    """What a file is; ``condition`` is what was worn: without, with or standing."""

    person: str
    day: str
    condition: str


@dataclass(frozen=True)
class Archive:
    """The files of an archive, the options by which it comes in, and a list that goes with it."""

    files: dict[str, Truth]
    pattern: str
    conditions: tuple[str, ...] = ()
    rows: tuple[dict[str, str], ...] = ()
    people: dict[str, str] = field(default_factory=dict)

    def person(self, truth: Truth) -> str:
        """Return what the archive calls a person."""
        return self.people.get(truth.person, truth.person)


WALKS = [
    Truth(person, day, condition)
    for person in PEOPLE
    for day in DAYS
    for condition in ("without", "with")
]
STANDING = [Truth(person, day, "standing") for person in PEOPLE for day in DAYS]
OF_SIDES = tuple({"person": code, "orthosis_side": side} for code, side in SIDES.items())


def named(walk, standing):
    """Return files by the names that two functions give walks (with a number) and standing."""
    files = {walk(truth, number): truth for truth in WALKS for number in (1, 2, 11)}
    return files | {standing(truth): truth for truth in STANDING}


def by_date():
    """Make one by people, days, what was worn in German, a folder for standing."""
    words = {"without": "ohne", "with": "mit"}
    return Archive(
        named(
            lambda of, n: f"{of.person}/{of.day}/{words[of.condition]}/Gehen {n}.c3d",
            lambda of: f"{of.person}/{of.day}/stat/Stand.c3d",
        ),
        "{person}/{date}/{condition}/{trial}",
        rows=OF_SIDES,
    )


def by_code():
    """Make one with a number for each person, visits by number, one letter for what was worn."""
    visit = {day: f"V{n}" for n, day in enumerate(DAYS, 1)}
    return Archive(
        named(
            lambda of, n: f"{of.person}/{visit[of.day]}/{of.condition[4:5] or 'A'}{n:02}.c3d",
            lambda of: f"{of.person}/{visit[of.day]}/static.c3d",
        ),
        "{person}/{visit}/{condition}[{trial}]",
        ("o=without brace, shoe", "A=with brace, shoe"),
        (*OF_SIDES, *({"visit": code, "date": day} for day, code in visit.items())),
    )


def flat():
    """Make one folder with long names, day and condition between underscores."""
    words = {"without": "without_brace", "with": "with_brace"}
    return Archive(
        named(
            lambda of, n: (
                f"Lab2_{of.person}_{of.day.replace('-', '')}_{words[of.condition]}_{n:02}.c3d"
            ),
            lambda of: f"Lab2_{of.person}_{of.day.replace('-', '')}_static_01.c3d",
        ),
        "Lab2_{person:P##}_{date}_{condition}_{trial:##}",
        rows=OF_SIDES,
    )


def by_device():
    """Make what a device exported: the day first, folders between, standing called calibration."""
    return Archive(
        named(
            lambda of, n: f"Export {of.day}/{of.person}/C3D/{of.person} {of.condition} AFO {n}.c3d",
            lambda of: f"Export {of.day}/{of.person}/C3D/{of.person} Cal 01.c3d",
        ),
        "Export {date}/{person}/**/{person} {condition} {trial:#*}",
        rows=OF_SIDES,
    )


def by_visit_sheet():
    """Make one of sessions by number; a list says whose they are, when, and what a and b are."""
    session = {
        (person, day): f"S{100 + 7 * n}"
        for n, (person, day) in enumerate((p, d) for p in PEOPLE for d in DAYS)
    }
    letters = {"without": "a", "with": "b"}
    whose = [
        {"visit": code, "person": person, "date": day} for (person, day), code in session.items()
    ]
    worn = [
        {"visit": code, "condition": "b", "orthosis": "ankle-foot orthosis"}
        | {"orthosis_side": SIDES[person]}
        for (person, _), code in session.items()
    ]
    return Archive(
        named(
            lambda of, n: f"{session[of.person, of.day]}/{letters[of.condition]}{n}.c3d",
            lambda of: f"{session[of.person, of.day]}/standing.c3d",
        ),
        "{visit}/{condition}[{trial}]",
        rows=(*whose, *worn, {"condition": "a", "orthosis": "none"}),
    )


def by_days_of_countries():
    """Make a deep one whose days are written as in Germany, the ISO way or without a mark."""
    written = {"P01": "{2}.{1}.{0}", "P02": "{0}-{1}-{2}", "P03": "{0}{1}{2}"}
    words = {"without": "sans attelle", "with": "avec attelle"}

    def place(of):
        return f"Archiv/{of.person}/{written[of.person].format(*of.day.split('-'))} Kontrolle"

    return Archive(
        named(
            lambda of, n: f"{place(of)}/{words[of.condition]}/essai {n}.c3d",
            lambda of: f"{place(of)}/statique/essai 1.c3d",
        ),
        "Archiv/{person}/{date} Kontrolle/{condition}/{trial}",
        rows=OF_SIDES,
    )


def glued():
    """Make one whose names hold person, what was worn on which side and number without a mark."""
    people = {"P01": "12", "P02": "07", "P03": "31"}

    def month_first(of):
        year, month, day = map(int, of.day.split("-"))
        return f"{month}-{day}-{year}"

    def worn(of):
        return "barf" if of.condition == "without" else f"AFO{SIDES[of.person][0]}"

    return Archive(
        named(
            lambda of, n: f"{month_first(of)}/{people[of.person]}{worn(of)}{n:02}.c3d",
            lambda of: f"{month_first(of)}/{people[of.person]}stat01.c3d",
        ),
        "{date:mdy}/{person:##}{condition}{trial:##}",
        ("barf=without brace, barefoot",),
        people=people,
    )


def by_session():
    """Make an export that was unzipped: sessions by number, letters for people, words in Polish."""
    sessions = {day: f"Session {n}" for n, day in enumerate(DAYS, 1)}
    people = {code: f"Patient {letter}" for code, letter in zip(PEOPLE, "ABC", strict=True)}
    words = {"without": "bez ortezy", "with": "z ortezą"}
    return Archive(
        named(
            lambda of, n: (
                f"{sessions[of.day]}/{people[of.person]}/{words[of.condition]}/Trial{n:02}.c3d"
            ),
            lambda of: f"{sessions[of.day]}/{people[of.person]}/Static/Trial01.c3d",
        ),
        "{visit}/{person}/{condition}/{trial}",
        ("bez ortezy=without brace", "z ortezą=with brace"),
        (
            *({"person": people[code], "orthosis_side": side} for code, side in SIDES.items()),
            *({"visit": code, "date": day} for day, code in sessions.items()),
        ),
        people,
    )


MAKERS = (
    by_date,
    by_code,
    flat,
    by_device,
    by_visit_sheet,
    by_days_of_countries,
    glued,
    by_session,
)
ARCHIVES = {make.__name__: make() for make in MAKERS}
