"""Write made-up joint-angle sheets: text tables and workbooks, the same bytes each time.

In come a simulated walk or rows of cells, out goes a file: a time series with a decimal comma, or
a workbook of 0–100 % curves. The workbook is written part by part as the open standard for
spreadsheets (ECMA-376) lays down, stored without compression and without the time of writing.
"""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from gaittrack.simulate.truth import CycleTruth, WalkTruth
from gaittrack.simulate.walk import SimulatedWalk
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Joint

Cell = str | float
SHEET_JOINTS: dict[Joint, str] = {
    "ankle": "ankle dorsiflexion",
    "knee": "knee flexion",
    "hip_thigh_vertical": "hip flexion thigh-vertical",
}
"""Joint → its name in the sheets."""
EVENT_COLUMNS = {"initial_contact": "initial contact", "toe_off": "toe-off"}
N_POINTS = 101
"""Points of a 0–100 % curve."""
FIXED_DATE = (2000, 1, 1, 0, 0, 0)
"""Date of every part of a workbook, so that its bytes do not change."""

_PARTS = {
    "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/'
    'content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package'
    '.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override '
    'PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument'
    '.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType='
    '"application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/'
    'relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>',
    "xl/_rels/workbook.xml.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/'
    'package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>'
    "</Relationships>",
    "xl/workbook.xml": '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/'
    'main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>'
    '<sheet name="curves" sheetId="1" r:id="rId1"/></sheets></workbook>',
}
_XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'


def write_time_series(path: Path, walk: SimulatedWalk, *, rad: bool = False) -> None:
    """Write joint angles over time, with a column per event that is 1 in the event's frame.

    Parameters
    ----------
    rad : bool
        Radians in place of degrees; the heads say which.
    """
    rate_hz, n_frames = walk.trial.rate_hz, walk.trial.n_frames
    unit, scale = ("rad", np.pi / 180) if rad else ("deg", 1.0)
    columns: dict[str, list[str]] = {
        "time (s)": [f"{frame / rate_hz:.3f}" for frame in range(n_frames)]
    }
    for side in SIDES:
        for joint, name in SHEET_JOINTS.items():
            values = walk.truth.angles_deg[side, joint] * scale
            columns[f"{side} {name} ({unit})"] = [f"{value:.4f}" for value in values]
    for side in SIDES:
        for kind, name in EVENT_COLUMNS.items():
            frames = {
                round(event.time_s * rate_hz)
                for event in walk.truth.events
                if (event.side, event.kind) == (side, kind)
            }
            columns[f"{side} {name}"] = ["1" if f in frames else "0" for f in range(n_frames)]
    rows = [list(columns), *(list(row) for row in zip(*columns.values(), strict=True))]
    text = "\n".join(";".join(cell.replace(".", ",") for cell in row) for row in rows)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def cycle_rows(walk: SimulatedWalk, *, with_timing: bool = True) -> list[list[Cell]]:
    """Return rows of a sheet of 0–100 % curves: a column per side, joint and cycle."""
    header: list[Cell] = ["percent of cycle"]
    seconds: list[Cell] = ["cycle time (s)"]
    toe_off: list[Cell] = ["toe-off (%)"]
    columns = []
    for side in SIDES:
        for number, cycle in enumerate(walk.truth.of(side), 1):
            for joint, name in SHEET_JOINTS.items():
                header.append(f"{side} {name} (deg) cycle {number}")
                duration_s = cycle.end_s - cycle.start_s
                seconds.append(round(duration_s, 3))
                toe_off.append(round(100 * (cycle.toe_off_s - cycle.start_s) / duration_s, 1))
                columns.append(_curve(walk.truth, cycle, joint, walk.trial.rate_hz))
    curves: list[list[Cell]] = [
        [float(percent), *(round(float(column[percent]), 2) for column in columns)]
        for percent in range(N_POINTS)
    ]
    timing = [seconds, toe_off] if with_timing else []
    return [header, *timing, *curves]


def _curve(truth: WalkTruth, cycle: CycleTruth, joint: Joint, rate_hz: float) -> FloatArray:
    values = truth.angles_deg[cycle.side, joint]
    when_s = np.linspace(cycle.start_s, cycle.end_s, N_POINTS)
    return np.asarray(np.interp(when_s, np.arange(values.size) / rate_hz, values))


def write_workbook(path: Path, rows: Sequence[Sequence[Cell]]) -> None:
    """Write rows of text and numbers as a workbook with one sheet."""
    lines = "".join(f"<row>{''.join(map(_cell, row))}</row>" for row in rows)
    sheet = (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        f"<sheetData>{lines}</sheetData></worksheet>"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as book:
        for name, part in {**_PARTS, "xl/worksheets/sheet1.xml": sheet}.items():
            book.writestr(zipfile.ZipInfo(name, FIXED_DATE), _XML + part)


def _cell(cell: Cell) -> str:
    if isinstance(cell, str):
        return f'<c t="inlineStr"><is><t>{escape(cell)}</t></is></c>'
    return f"<c><v>{cell!r}</v></c>"
