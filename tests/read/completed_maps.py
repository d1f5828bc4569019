"""Complete the maps that refusals print, as they say: each "?" by a word that stands beside it."""

import re

from gaittrack.lab_map import read_lab_map


def offered_map(error):
    """Return the map file that a refusal prints."""
    text = str(error)
    return text[text.index("[sheet]") :]


def completed(text, columns, keys):
    """Return a printed map with its question marks replaced.

    Parameters
    ----------
    columns : mapping of name to mapping
        What is true of a column: joint, side, sign, zero_deg, cycle, condition. Others are ignored.
    keys : mapping of str to value
        What is true of the sheet; else the first word that is offered.
    """
    table, name, lines = "sheet", "", []
    for line in text.splitlines():
        table = "columns" if line.startswith("[[columns]]") else table
        key, _, value = line.partition(" = ")
        name = eval(value) if table == "columns" and key == "name" else name
        if value.startswith('"?"'):
            offered = value.partition("#")[2].strip()
            given = keys if table == "sheet" else columns.get(name, NOT_WANTED)
            answer = given.get(key, offered.split(", ")[0])
            value = value.replace("?", str(answer), 1)
        lines.append(f"{key} = {value}" if value else line)
    return "\n".join(lines) + "\n"


NOT_WANTED = {"joint": "ignore", "side": "left", "sign": 1, "zero_deg": 0, "cycle": 1,
              "condition": ""}  # fmt: skip


def complete(error, path, columns, keys):
    """Return the lab map that a refusal offers, completed, by way of a file."""
    text = completed(offered_map(error), columns, keys)
    assert not re.search(r'= "\?"', text)
    path.write_text(text, encoding="utf-8")
    return read_lab_map(path)
