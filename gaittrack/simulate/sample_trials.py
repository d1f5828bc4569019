"""Write the made-up department's files.

In come a made-up patient and a visit, out go the walks of its conditions and what was worn, as
``conditions.toml``. The same bytes are written each time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.everyday import everyday_counts, everyday_tests
from gaittrack.simulate.person import scatter_walk
from gaittrack.simulate.recipe import Direction, Gap
from gaittrack.simulate.scenario import N_COURSE, VISIT_DAYS, WEARS, WITHOUT, Patient, Wear
from gaittrack.simulate.sheets import cycle_rows, write_time_series, write_workbook
from gaittrack.simulate.walk import SimulatedWalk, simulate_walk, stand
from gaittrack.trial import Trial

SUFFIX = {"c3d": "c3d", "time series": "csv", "cycles": "xlsx"}
SHORT_GAP_S = (1.30, 1.36)
"""A marker is lost for this stretch in the second walk of each condition kept as C3D."""
_DAYS_OF_MONTH = 30.4
TomlValue = str | int | float | bool


def write_visit(patient: Patient, visit: int, folder: Path) -> None:
    """Write one visit: its conditions, what was worn, and standing trials for C3D persons."""
    for wear in patient.wears(visit):
        (folder / wear).mkdir(parents=True, exist_ok=True)
        for number, walk in enumerate(walks_of(patient, visit, wear), 1):
            write_walk(folder / wear / f"walk-{number}.{SUFFIX[patient.kind]}", patient, walk)
        if patient.kind == "c3d":
            (folder / "standing").mkdir(exist_ok=True)
            trial = stand(patient.recipe(visit, wear), seed=_seed(patient, visit, wear))
            write_trial(folder / "standing" / f"{wear}.c3d", trial)
    text = conditions_toml(patient, visit)
    (folder / "conditions.toml").write_text(text, encoding="utf-8", newline="\n")


def walks_of(patient: Patient, visit: int, wear: Wear) -> Iterator[SimulatedWalk]:
    """Make the walks of one condition, out and back in turn, the second with a short gap."""
    seed = _seed(patient, visit, wear)
    for number in range(patient.n_walks[visit]):
        rng = np.random.default_rng([seed, number])
        recipe = scatter_walk(patient.recipe(visit, wear), patient.between_walks, rng)
        gaps = (Gap("right knee", *SHORT_GAP_S),) if number == 1 else ()
        direction: Direction = "+" if number % 2 == 0 else "-"
        yield simulate_walk(replace(recipe, gaps=gaps, direction=direction), seed=seed + number)


def write_walk(path: Path, patient: Patient, walk: SimulatedWalk) -> None:
    """Write one walk in the way its patient's walks are kept."""
    if patient.kind == "c3d":
        write_trial(path, walk.trial)
    elif patient.kind == "time series":
        write_time_series(path, walk)
    else:
        write_workbook(path, cycle_rows(walk))


def write_trial(path: Path, trial: Trial) -> None:
    """Write markers as a small C3D file: millimetres, whole numbers."""
    write_c3d(path, rate_hz=trial.rate_hz, markers=trial.markers, storage="integer")


def conditions_toml(patient: Patient, visit: int) -> str:
    """Return what was worn at one visit, and the person, as TOML."""
    days = VISIT_DAYS[visit]
    about = dict(patient.about)
    about["months_since_onset"] = int(about["months_since_onset"]) + round(days / _DAYS_OF_MONTH)
    legs = {key: each for key, each in patient.examination.items() if isinstance(each, Mapping)}
    plain = {key: each for key, each in patient.examination.items() if key not in legs}
    seen = {"number": visit + 1, "days_since_first_visit": days, **plain, **everyday_counts(visit)}
    if 0 < visit < N_COURSE:
        levels = {code: aim["levels"][visit - 1] for code, aim in patient.aims.items()}
        seen["aim_level"] = "; ".join(f"{code}: {level}" for code, level in levels.items())
    parts = [
        "# Made-up data: no person stands behind it.",
        _table("person", {"code": patient.code, **about}),
        _table("visit", seen),
        *(_table(f"visit.{side}", leg) for side, leg in legs.items()),
        *_things(patient, visit),
    ]
    wears = patient.wears(visit)
    for place, wear in enumerate(wears):
        fields = _worn(patient, visit, wear)
        fields |= {"walking_aid": "none", "speed_instruction": "comfortable"}
        is_first = wear == patient.first_worn[visit]
        fields["order"] = place + 1 if len(wears) > len(WEARS) else 1 if is_first else 2
        if wears == WEARS:
            fields |= everyday_tests(patient, visit, wear)
        if patient.kind == "c3d":
            fields["standing_trial"] = f"standing/{wear}.c3d"
        parts.append(_table(f"conditions.{wear}", fields))
    return "\n\n".join(parts) + "\n"


def _worn(patient: Patient, visit: int, wear: Wear) -> dict[str, TomlValue]:
    if wear == WITHOUT:
        return {"orthosis": "none", **patient.shoe}
    brace, setting = patient.worn[visit]
    own = patient.tried.get(wear, {}).get("setting", setting)
    fields: dict[str, TomlValue] = {"orthosis": "ankle-foot orthosis", "brace": brace}
    fields |= {"setting": own, **patient.shoe}
    return fields | {"days_worn": patient.days_worn[visit], "markers_replaced": True}


def _things(patient: Patient, visit: int) -> Iterator[str]:
    """Yield the aims, and the brace of the visit in its settings of that day."""
    for code, aim in patient.aims.items():
        yield _table(f"aims.{code}", {name: told for name, told in aim.items() if name != "levels"})
    brace, setting = patient.worn[visit]
    facts = dict(patient.braces[brace])
    settings = facts.pop("settings")
    yield _table(f"braces.{brace}", facts)
    tried = [each["setting"] for each in patient.tried.values()] if visit >= N_COURSE else []
    for code in sorted(tried) or [setting]:
        yield _table(f"braces.{brace}.settings.{code}", settings[code])


def _table(name: str, fields: Mapping[str, TomlValue]) -> str:
    return "\n".join([f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in fields.items())])


def _toml(value: TomlValue) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)


def _seed(patient: Patient, visit: int, wear: Wear) -> int:
    return 1000 * int(patient.code[1:]) + 100 * (visit + 1) + 20 * patient.wears(visit).index(wear)
