"""Make a folder of tables a package: licence, makers, method, checksums, keys, how to cite it.

In come a folder with its tables and descriptor and what is said of the release, out come the files
beside them, the descriptor with all of it, and the hash by which the export is known again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from gaittrack.cohort.release.analysis import analysis_files
from gaittrack.cohort.release.crate import CRATE, crate
from gaittrack.cohort.release.descriptors import described_resources
from gaittrack.errors import StudyError
from gaittrack.record.release_facts import ReleaseFacts

DESCRIPTOR: Final = "datapackage.json"
METHOD: Final = "method.json"
CITATION: Final = "CITATION.cff"
_CHUNK: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class PackageRelease:
    """What is said of one export.

    Attributes
    ----------
    number : int
        Of the release of the study, from 1.
    created : str
        Day, ISO 8601.
    method : mapping
        Rules, cut-offs, versions, selection: plain values.
    """

    facts: ReleaseFacts = ReleaseFacts()
    number: int = 1
    created: str = ""
    method: Mapping[str, Any] = field(default_factory=dict)

    @property
    def version(self) -> str:
        """Version of the package."""
        return f"{self.number}.0.0"


def finish(folder: Path, release: PackageRelease) -> str:
    """Write what belongs beside the tables, and return the hash of the export.

    Parameters
    ----------
    folder : Path
        Holds the tables and ``datapackage.json``.

    Returns
    -------
    str
        SHA-256 over the tables and the method: selection, rules, settings, versions.
    """
    plain = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
    title = release.facts.title or plain["title"]
    _write(folder / METHOD, _json(release.method))
    for name, text in analysis_files().items():
        _write(folder / name, text)
    if release.facts.creators:
        _write(folder / CITATION, _citation(release, title))
    own = export_hash(folder)
    about = plain | _about(release, title)
    about["description"] = f"{release.facts.description} {plain['description']}".strip()
    about["gaittrack"] = plain["gaittrack"] | {"export_hash": own}
    about["resources"] = described_resources(plain["resources"], folder)
    for resource in about["resources"]:
        _with_checksum(resource, folder)
    _write(folder / DESCRIPTOR, _json(about))
    _write(folder / CRATE, _json(crate(about, sorted(_files(folder)))))
    return own


def export_hash(folder: Path) -> str:
    """Return the hash of an export from its files: tables as CSV, and the method.

    Raises
    ------
    StudyError
        The folder is no export, or cannot be read.
    """
    try:
        paths = [*sorted(folder.glob("*.csv")), folder / METHOD]
        listed = [[path.name, _sha256(path)] for path in paths]
    except OSError as error:
        raise StudyError.of("no_export", where=folder, why=error.strerror) from error
    return hashlib.sha256(json.dumps(listed).encode()).hexdigest()


def changed_files(folder: Path) -> list[str]:
    """Return the files of an export that are not as they were written, are gone or were added.

    Raises
    ------
    StudyError
        The folder is no export, or its list of files is damaged.
    """
    try:
        parts = json.loads((folder / CRATE).read_bytes())["@graph"]
        told = {str(each["@id"]): each["sha256"] for each in parts if each["@type"] == "File"}
        there = {name: own for name, _, own in _files(folder) if name != CRATE}
    except (OSError, ValueError, LookupError, TypeError, RecursionError) as error:
        raise StudyError.of("no_export", where=folder, why=error) from error
    return sorted(name for name in told | there if told.get(name) != there.get(name))


def package_hash(folder: Path) -> str:
    """Return the hash of the list of files of an export, which holds their hashes."""
    return _sha256(folder / CRATE)


def _about(release: PackageRelease, title: str) -> dict[str, Any]:
    facts = release.facts
    licence = {"name": facts.licence} | (
        {"path": facts.licence_address} if facts.licence_address else {}
    )
    makers = [
        {"title": each["name"], "roles": ["creator"]}
        | ({"organization": each["affiliation"]} if each.get("affiliation") else {})
        | ({"path": f"https://orcid.org/{each['orcid']}"} if each.get("orcid") else {})
        for each in facts.creators
    ]
    sources = [
        {"title": each["title"]} | ({"path": each["address"]} if each.get("address") else {})
        for each in facts.sources
    ]
    found = {
        "title": title,
        "version": release.version,
        "created": f"{release.created}T00:00:00Z" if release.created else "",
        "licenses": [licence] if facts.licence else [],
        "contributors": makers,
        "sources": sources,
    }
    return {key: value for key, value in found.items() if value}


def _citation(release: PackageRelease, title: str) -> str:
    """Return the citation file; every text as JSON, which YAML reads as it is."""
    lines = [
        "cff-version: 1.2.0",
        'message: "If you use these data, please cite them as below."',
        "type: dataset",
        f"title: {json.dumps(title)}",
        f"version: {release.version}",
        *([f"date-released: {release.created}"] if release.created else []),
        *([f"license: {release.facts.licence}"] if release.facts.licence else []),
        "authors:",
    ]
    for each in release.facts.creators:
        lines.append(f"  - name: {json.dumps(each['name'])}")
    return "\n".join(lines) + "\n"


def _with_checksum(resource: dict[str, Any], folder: Path) -> None:
    """Say size and hash of a resource that is one file."""
    path = resource["path"]
    if isinstance(path, str):
        if resource["format"] != "parquet":  # not counted by readers that check it
            resource["bytes"] = (folder / path).stat().st_size
        resource["hash"] = f"sha256:{_sha256(folder / path)}"


def _files(folder: Path) -> Iterator[tuple[str, int, str]]:
    for path in folder.rglob("*"):
        if path.is_file():
            name = path.relative_to(folder).as_posix()
            yield name, path.stat().st_size, _sha256(path)


def _sha256(path: Path) -> str:
    own = hashlib.sha256()
    with path.open("rb") as file:
        while part := file.read(_CHUNK):
            own.update(part)
    return own.hexdigest()


def _json(value: Any) -> str:
    return json.dumps(value, indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")
