"""Tables in which a cell holds the three coordinates of a point.

In comes the text of a table whose header says ``DataType=Vec3``, out goes the same with a column
for each coordinate; any other text as it was.
"""

from __future__ import annotations

import re

_SAYS_VECTORS = re.compile(r"^\s*datatype\s*=\s*vec3\s*$", re.I | re.M)
_END_OF_HEADER = "endheader"


def vectors_apart(text: str) -> str:
    """Give each coordinate a cell of its own, named ``label_x``; paths before labels are left."""
    head, mark, body = text.partition(_END_OF_HEADER)
    if not mark or not _SAYS_VECTORS.search(head):
        return text
    names, end, rows = body.lstrip("\r\n").partition("\n")
    time, *labels = names.rstrip("\r").split("\t")
    columns = [f"{label.rpartition('/')[2]}_{axis}" for label in labels for axis in "xyz"]
    return f"{head}{mark}\n" + "\t".join([time, *columns]) + end + rows.replace(",", "\t")
