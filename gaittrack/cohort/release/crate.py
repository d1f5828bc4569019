"""An export as a research object: every file with its kind, size and checksum, in JSON-LD.

In come the descriptor of a package and its files, out comes the metadata document of RO-Crate 1.1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

CRATE: Final = "ro-crate-metadata.json"
_VERSION: Final = "https://w3id.org/ro/crate/1.1"
_KINDS: Final = {
    "csv": "text/csv",
    "json": "application/json",
    "md": "text/markdown",
    "parquet": "application/vnd.apache.parquet",
    "ipynb": "application/x-ipynb+json",
    "R": "text/plain",
    "cff": "application/yaml",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def crate(about: Mapping[str, Any], files: Sequence[tuple[str, int, str]]) -> dict[str, Any]:
    """Return the metadata document.

    Parameters
    ----------
    about : mapping
        The descriptor.
    files : sequence of (name, size in bytes, SHA-256)
        Of the package, without the document itself.
    """
    makers = [_maker(each) for each in about.get("contributors", ())]
    root = {
        "@id": "./",
        "@type": "Dataset",
        "name": about["title"],
        "description": about["description"],
        "version": about["version"],
        "identifier": about["gaittrack"]["export_hash"],
        "hasPart": [{"@id": name} for name, *_ in files],
        **({"datePublished": about["created"][:10]} if "created" in about else {}),
        **({"creator": [{"@id": each["@id"]} for each in makers]} if makers else {}),
        **_licence(about),
    }
    document = {
        "@id": CRATE,
        "@type": "CreativeWork",
        "about": {"@id": "./"},
        "conformsTo": {"@id": _VERSION},
    }
    parts = [
        {
            "@id": name,
            "@type": "File",
            "encodingFormat": _KINDS.get(name.rpartition(".")[2], "application/octet-stream"),
            "contentSize": str(size),
            "sha256": own,
        }
        for name, size, own in files
    ]
    return {"@context": f"{_VERSION}/context", "@graph": [document, root, *makers, *parts]}


def _maker(each: Mapping[str, Any]) -> dict[str, Any]:
    address = each.get("path") or f"#{'-'.join(each['title'].split())}"
    kind = "Person" if "orcid.org" in address else "Organization"
    return {"@id": address, "@type": kind, "name": each["title"]}


def _licence(about: Mapping[str, Any]) -> dict[str, Any]:
    if not about.get("licenses"):
        return {}
    own = about["licenses"][0]
    return {"license": own.get("path") or f"https://spdx.org/licenses/{own['name']}"}
