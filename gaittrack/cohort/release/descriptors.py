"""Resources as other readers need them: what ties tables together, sheets, missing numbers.

In come the resources of a descriptor, out come the same with keys between tables, the sheet of a
workbook said in both ways that are in use, and the dictionary as a table of its own.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

_OF_MEASURE: Final = "as in the column unit"
_KEYS: Final = {
    "people": ("export_id",),
    "visits": ("export_id", "visit_no"),
    "conditions": ("export_id", "visit_no", "condition_code"),
    "walks": ("export_id", "visit_no", "condition_code", "walk_no"),
    "settings": ("setting_id",),
    "aims": ("export_id", "aim_no"),
    "measures": ("measure_id",),
}
"""Tables that others refer to, and by what."""
DICTIONARY: Final = "dictionary"


def described_resources(
    resources: Iterable[Mapping[str, Any]], folder: Path
) -> list[dict[str, Any]]:
    """Return the resources of a package with what ties them together, and its dictionary."""
    own = [dict(each) for each in resources]
    tables = {each["name"] for each in own if each["format"] == "csv"}
    for each in own:
        each["schema"] = _schema(each, tables)
        if each["format"] == "xlsx":
            sheet = each["dialect"]["sheetName"]
            each["dialect"] = {"sheetName": sheet, "excel": {"sheet": sheet}}
    return [*own, _dictionary(own[0], folder)]


def _schema(resource: Mapping[str, Any], tables: set[str]) -> dict[str, Any]:
    schema = dict(resource["schema"])
    schema["fields"] = [_field(each) for each in schema["fields"]]
    if resource["format"] == "csv":
        names = {each["name"] for each in schema["fields"]}
        if keys := list(_foreign(resource["name"], names, tables)):
            schema["foreignKeys"] = keys
    if resource["format"] == "parquet":
        schema["missingValues"] = ["", "nan"]  # how readers show an empty whole number
    return schema


def _field(each: Mapping[str, Any]) -> dict[str, Any]:
    """Return a field; where each row has its own unit it says in which column that stands."""
    if each.get("unit") != _OF_MEASURE:
        return dict(each)
    return {key: value for key, value in each.items() if key != "unit"} | {"unitColumn": "unit"}


def _foreign(name: str, columns: set[str], tables: set[str]) -> Iterator[dict[str, Any]]:
    for table, keys in _KEYS.items():
        if table != name and table in tables and set(keys) <= columns:
            yield {
                "fields": list(keys),
                "reference": {"resource": table, "fields": list(keys)},
            }
    if "reference_code" in columns and "conditions" in tables:
        own = ["export_id", "visit_no", "reference_code"]
        if set(own) <= columns:
            reference = {"resource": "conditions", "fields": list(_KEYS["conditions"])}
            yield {"fields": own, "reference": reference}


def _dictionary(like: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return the resource of the dictionary, whose columns are all text."""
    with (folder / f"{DICTIONARY}.csv").open(encoding="utf-8", newline="") as file:
        columns = next(csv.reader(file))
    said = {name: f"{name.replace('_', ' ').capitalize()} of the column" for name in columns}
    return {
        "$schema": like["$schema"],
        "name": DICTIONARY,
        "type": "table",
        "path": f"{DICTIONARY}.csv",
        "title": "What every column of every table means",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {
            "$schema": like["schema"]["$schema"],
            "fields": [
                {"name": name, "type": "string", "description": words}
                for name, words in said.items()
            ],
            "missingValues": [""],
            "primaryKey": ["table", "column"],
        },
    }
