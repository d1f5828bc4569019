"""Damage that keeps a file's form and changes what it says: counts, rates, scales, keys, values."""

from __future__ import annotations

import json
import random
import re
import struct
from collections.abc import Callable
from typing import Any, Final

Change = Callable[[bytes, random.Random], bytes]

ODD: Final = (None, True, -1, 0, 1.5, 10**30, float("inf"), "", "../up", "\0", "é" * 300, [], {})
_HEADER_WORDS: Final = (2, 4, 6, 8, 10, 16, 18)
"""Bytes of the first block that hold a count, as the format's public guide has them."""
_HEADER_FLOATS: Final = (12, 20)
_PARAMETERS: Final = (
    *(b"USED", b"SCALE", b"RATE", b"DATA_START", b"FRAMES", b"UNITS", b"LABELS", b"TYPE"),
    *(b"GEN_SCALE", b"OFFSET", b"TIMES", b"CHANNEL", b"CORNERS", b"ZERO"),
    *(b"ACTUAL_START_FIELD", b"ACTUAL_END_FIELD"),
)
_TOML_VALUES: Final = (
    *('""', "true", "nan", "-inf", "1e308", "-1", "0", "1979-05-27", "[]", "{}", "[[[]]]"),
    *('"\\u0000"', '"' + "long " * 200 + '"', "[" * 3000 + "]" * 3000),
)


def count_changed(content: bytes, chance: random.Random) -> bytes:
    """Put another count, rate or scale into the header or the parameters of a C3D file."""
    found = bytearray(content)
    if chance.random() < 0.5:
        if chance.random() < 0.6:
            _other(found, chance.choice(_HEADER_WORDS), "<H", chance)
        else:
            _other(found, chance.choice(_HEADER_FLOATS), "<f", chance)
        return bytes(found)
    name = chance.choice(_PARAMETERS)
    places = [match.end() for match in re.finditer(re.escape(name), content[512:8192])]
    if not places:
        return content
    # behind a name: offset of the next record, type, number of dimensions, dimensions, values
    at = 512 + chance.choice(places) + 2
    size, n = struct.unpack_from("<bB", found, at)
    _other(found, at + 2 + n, "<f" if size == 4 else "<H", chance)
    return bytes(found)


def _other(found: bytearray, at: int, kind: str, chance: random.Random) -> None:
    if at + struct.calcsize(kind) > len(found):
        return
    (old,) = struct.unpack_from(kind, found, at)
    others = (0, 1, old + 1, old - 1, 2 * old, old / 2, 10 * old, old / 10, 65535)
    new = chance.choice(others)
    struct.pack_into(kind, found, at, int(new) % 65536 if kind == "<H" else float(new))


def json_changed(content: bytes, chance: random.Random) -> bytes:
    """Lose, double or exchange one value of a JSON document, however deep it stands."""
    try:
        whole = json.loads(content)
    except ValueError:
        return content
    places = [place for place in _places(whole) if place]
    if not places:
        return content
    *way, last = chance.choice(places)
    node: Any = whole
    for step in way:
        node = node[step]
    act = chance.choice(("lose", "exchange", "exchange", "add", "nest"))
    if act == "lose":
        del node[last]
    elif act == "exchange":
        node[last] = chance.choice(ODD)
    elif act == "nest":
        return json.dumps(whole).encode().replace(b"[", b"[" * 3000, 1)
    elif isinstance(node, list):
        node.append(node[last])
    else:
        node[f"{last} more"] = node[last]
    return json.dumps(whole, indent=1).encode()


def _places(node: Any) -> list[tuple[Any, ...]]:
    if not isinstance(node, dict | list):
        return [()]
    steps = node.items() if isinstance(node, dict) else enumerate(node)
    found: list[tuple[Any, ...]] = []
    for key, child in steps:
        found += [(key,), *((key, *rest) for rest in _places(child) if rest)]
    return found


def line_changed(content: bytes, chance: random.Random) -> bytes:
    """Lose, double, move or rewrite a line of a file that people write."""
    lines = content.split(b"\n")
    at = chance.randrange(len(lines))
    key, mark, _ = lines[at].partition(b" = ")
    act = chance.choice(("lose", "double", "move", "rename") if not mark else ("value",))
    if act == "lose":
        del lines[at]
    elif act == "double":
        lines.insert(at, lines[at])
    elif act == "move":
        lines.insert(chance.randrange(len(lines)), lines.pop(at))
    elif act == "rename":
        lines[at] = lines[at].replace(b"e", b"a", 1)
    else:
        lines[at] = key + mark + chance.choice(_TOML_VALUES).encode()
    return b"\n".join(lines)
