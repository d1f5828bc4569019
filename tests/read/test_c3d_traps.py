"""What real C3D files do against the letter of the format: each trap, and what must be seen of it.

``TRAPS`` has a line for each: how the file is made, which codes are said, and what comes out of it
otherwise than of the plain recording, or the words it is refused with. Nothing else may differ.
"""

import struct

import numpy as np
import pytest

from gaittrack.errors import BadFileError
from gaittrack.read import read_trial
from tests.read.c3d_variants import (
    CORNERS_M,
    N_FRAMES,
    RATE_HZ,
    body_markers,
    loaded_plate,
    stacked,
    write_variant,
)

BLOCK, N_POINTS, N_CHANNELS, N_SAMPLES = 512, 6, 6, 10
CROP = 51
MARKS = (
    (0.4, "left", "toe_off"),
    (0.1, "right", "initial_contact"),
    (0.2, "left", "initial_contact"),
)
HEADER_MARKS = ((0.1, "RHS"), (0.5, "LTO"))
"""The first is in the group too; the second is the header's alone."""
EXTRA = (*MARKS, (0.5, "left", "toe_off"))
TIMES = [time_s for time_s, _, _ in MARKS]
SIDES = ("right", "left")
MANY = tuple((0.001 * n, SIDES[n % 2], "initial_contact") for n in range(20, 320))
HEADER_COUNT = 300
"""Byte of the number of events in the header."""
LONG = 70_000
START_END = ("ACTUAL_START_FIELD", "ACTUAL_END_FIELD")
NOT_SAID = dict.fromkeys(START_END)


class Trap:
    """A made file, and what must be seen of it."""

    def __init__(self, *says, change=None, sees=None, refused="", **options):
        self.says, self.change, self.refused = sorted(says), change, refused
        self.sees, self.options = sees or {}, options


def set_(group, **values):
    """Give a parameter another value; None leaves it out."""
    return {"parameters": {group: values}}


def words(*numbers):
    return np.array(numbers, dtype=np.uint16).view(np.int16)


def parameters_again(change):
    """Write the parameters' records anew: in another order, spelt otherwise, elsewhere."""

    def changed(content):
        data = (struct.unpack_from("<H", content, 16)[0] - 1) * BLOCK
        at, found = BLOCK + 4, []
        while content[at]:
            length, number = struct.unpack_from("<bb", content, at)
            name = at + 2
            (offset,) = struct.unpack_from("<H", content, name + length)
            end = name + length + offset
            found.append(
                (length, number, content[name : name + length], content[end - offset + 2 : end])
            )
            at = end
        section = content[BLOCK : BLOCK + 4] + b"".join(
            struct.pack("<bb", length, number) + name + struct.pack("<H", len(body) + 2) + body
            for length, number, name, body in change(found)
        )
        assert len(section) + 2 <= data - BLOCK
        return content[:BLOCK] + section.ljust(data - BLOCK, b"\0") + content[data:]

    return changed


def rate_first(records):
    """Put another POINT:RATE before all that is there."""
    (rate,) = [each for each in records if each[1:3] == (1, b"RATE")]
    return [(*rate[:3], rate[3][:2] + struct.pack("<f", 99.9) + rate[3][6:]), *records]


def put(at, form, *values):
    """Write over some bytes."""

    def changed(content):
        content = bytearray(content)
        struct.pack_into(form, content, at, *values)
        return bytes(content)

    return changed


def data_changed(change, kind="<f4"):
    """Change the stored words: points (frames, 6, 4) and analog (frames, 60)."""

    def changed(content):
        start = (struct.unpack_from("<H", content, 16)[0] - 1) * BLOCK
        width = N_POINTS * 4 + N_CHANNELS * N_SAMPLES
        table = np.frombuffer(content, kind, N_FRAMES * width, start).reshape(N_FRAMES, -1).copy()
        change(table[:, : N_POINTS * 4].reshape(N_FRAMES, N_POINTS, 4), table[:, N_POINTS * 4 :])
        return content[:start] + table.tobytes() + content[start + table.nbytes :]

    return changed


def points(change, **options):
    return data_changed(lambda stored, _: change(stored), **options)


def marked(stored):
    stored[10:15, 2, 3] = -1


def hidden():
    """Return the body with the left knee's frames 10 to 14 missing."""
    markers = body_markers()
    markers["left knee"][10:15] = np.nan
    return markers


def lifted(_, analog):
    """Lift the analog words to the middle of 16 bits without a sign."""
    analog += words(32768)[0]


def two_people():
    """Return a second body a metre beside the first, both with names."""
    body = body_markers()
    return {f"{who}:{label}": xyz for who in ("ann", "bob") for label, xyz in body.items()}


def numbered():
    body = body_markers()
    return {**body, **{f"{label} (2)": xyz for label, xyz in body.items()}}


def western(content):
    old = "talón izq".encode()
    return content.replace(old, "talón izq".encode("cp1252") + b" ")


def heel_called(label):
    return {label if old == "left heel" else old: xyz for old, xyz in body_markers().items()}


def long_body():
    return {label: body_markers(LONG)[label] for label in ("left heel", "neck")}


EVENTS = {
    "as it should be": Trap(),
    "cropped": Trap(first_frame=CROP),
    "frame 0 is the first": Trap(change=put(6, "<HH", 0, N_FRAMES - 1)),
    "cropped past the first minute": Trap(first_frame=6201),
    "seconds past 60, no minutes": Trap(
        "event_times_odd",
        first_frame=6201,
        **set_("EVENT", TIMES=np.array([[0.0] * 3, [62 + t for t in TIMES]])),
    ),
    "counted from the first stored frame": Trap(
        "event_times_from_first_frame",
        first_frame=704,
        **set_("EVENT", TIMES=np.array([[0.0] * 3, TIMES])),
    ),
    "either reading fits": Trap(
        "event_times_unclear", first_frame=11, events=MARKS[:1], sees={"events": MARKS[:1]}
    ),
    "times one below another": Trap(**set_("EVENT", TIMES=np.array([[0.0, t] for t in TIMES]))),
    "times in one row": Trap(**set_("EVENT", TIMES=np.array([[0.0, t] for t in TIMES]).ravel())),
    "no number of events": Trap(**set_("EVENT", USED=None)),
    "more events than are there": Trap("event_counts_differ", **set_("EVENT", USED=9)),
    "sides in the labels": Trap(
        **set_("EVENT", CONTEXTS=None, LABELS=["Left Foot Off", "RHS", "left_heel_strike"])
    ),
    "sides as letters": Trap(**set_("EVENT", CONTEXTS=["L", "R", "l"])),
    "sides in German": Trap(**set_("EVENT", CONTEXTS=["Links", "Rechts", "LINKS"])),
    "sides in French": Trap(**set_("EVENT", CONTEXTS=["Gauche", "Droite", "gauche"])),
    "sides in Spanish": Trap(**set_("EVENT", CONTEXTS=["Izquierda", "Derecha", "izq"])),
    "sides with the foot": Trap(**set_("EVENT", CONTEXTS=["Left leg", "Right Foot", "Left side"])),
    "events by one word": Trap(**set_("EVENT", LABELS=["Off", "Strike", "Contact"])),
    "no side at all": Trap(
        "marks_of_nothing", sees={"events": ()}, **set_("EVENT", CONTEXTS=["General"] * 3)
    ),
    "more than 255 events": Trap(
        events=MANY[:255],
        sees={"events": MANY},
        **set_(
            "EVENT",
            USED=len(MANY),
            TIMES2=np.array([[0.0, time_s] for time_s, _, _ in MANY[255:]]).T,
            LABELS2=["Initial Contact"] * 45,
            CONTEXTS2=[side.title() for _, side, _ in MANY[255:]],
        ),
    ),
    "a mark past the end": Trap("marks_outside", events=(*MARKS, (30.0, "left", "toe_off"))),
    "header and group": Trap(header_events=HEADER_MARKS, sees={"events": EXTRA}),
    "header and group, cropped": Trap(
        header_events=HEADER_MARKS, first_frame=CROP, sees={"events": EXTRA}
    ),
    "header and group, DEC": Trap(
        header_events=HEADER_MARKS, byte_order="dec", sees={"events": EXTRA}
    ),
    "more in the header than it holds": Trap(
        "header_events_too_many", header_events=HEADER_MARKS, change=put(HEADER_COUNT, "<H", 25)
    ),
}
LAYOUT = {
    "records from the last": Trap(change=parameters_again(lambda records: records[::-1])),
    "records locked": Trap(
        change=parameters_again(lambda records: [(-each[0], *each[1:]) for each in records])
    ),
    "groups with other numbers": Trap(
        change=parameters_again(lambda records: [(r[0], 9 * r[1], *r[2:]) for r in records])
    ),
    "names in lower case": Trap(
        change=parameters_again(lambda records: [(*r[:2], r[2].lower(), r[3]) for r in records])
    ),
    "a rate that stands twice": Trap(
        "parameters_repeated", change=parameters_again(rate_first), sees={"rate": 99.9}
    ),
    "key of the parameters not set": Trap(change=put(BLOCK, "<HB", 0, 0)),
    "rate in the header only": Trap(
        *("analog_does_not_fit", "rate_of_header"),
        change=put(20, "<f", RATE_HZ),
        **set_("POINT", RATE=None),
    ),
    "frames as a float": Trap(**set_("POINT", FRAMES=float(N_FRAMES))),
    "no frames in the parameters": Trap(**set_("POINT", FRAMES=None)),
    "axes of the screen": Trap(**set_("POINT", X_SCREEN="-Y", Y_SCREEN="+X")),
    "MIPS": Trap(change=put(BLOCK + 3, "B", 86), refused="MIPS.*Intel"),
    "counted past 16 bits twice": Trap(
        **set_("TRIAL", ACTUAL_START_FIELD=words(1, 0), ACTUAL_END_FIELD=words(N_FRAMES, 0))
    ),
    "DEC": Trap(byte_order="dec"),
    "DEC integers": Trap(byte_order="dec", storage="integer"),
    "bytes behind the frames": Trap(change=lambda content: content + b"\1" * 5120),
}
FRAMES = {
    "70,000 frames": Trap(),
    "70,000 frames, LONG_FRAMES alone": Trap(**set_("TRIAL", **NOT_SAID)),
    "70,000 frames, TRIAL alone": Trap(**set_("POINT", LONG_FRAMES=None)),
    "70,000 frames, counted as a float": Trap(
        parameters={"POINT": {"FRAMES": float(LONG), "LONG_FRAMES": None}, "TRIAL": NOT_SAID}
    ),
    "70,000 frames, said nowhere": Trap(
        parameters={"POINT": {"LONG_FRAMES": None}, "TRIAL": NOT_SAID},
        refused="length would hold 70000",
    ),
    "70,000 frames, the count begun again": Trap(
        change=put(8, "<H", LONG - 65536),
        parameters={"POINT": {"FRAMES": LONG - 65536, "LONG_FRAMES": None}, "TRIAL": NOT_SAID},
        refused="length would hold 70000",
    ),
}
POINTS = {
    "a negative fourth word with a place": Trap(change=points(marked), sees={"markers": hidden}),
    "0 0 0": Trap("zero_samples", missing="zero"),
    **{
        f"unit {unit!r} of {each:g} to a metre": Trap(
            "unit_by_body_size", unit=unit, units_per_m=each
        )
        for unit, each in (("", 1000.0), ("cm", 1.0), ("mete", 1.0), ("mm", 1.0), ("xy", 100.0))
    },
    "inches": Trap(unit="inches", units_per_m=1 / 0.0254),
    "metres": Trap(unit="m"),
    "an unknown unit of no body's size": Trap(
        unit="ells", units_per_m=7.3, refused="ells.*Write m, cm or mm"
    ),
    "labels of two people": Trap(
        *("labels_repeated", "several_subjects"), markers=two_people, sees={"markers": numbered}
    ),
    "a label in a code page": Trap(
        markers=lambda: heel_called("talón izq"),
        change=western,
        sees={"markers": lambda: heel_called("talón izq")},
    ),
    "fewer labels than points": Trap(
        **set_("POINT", LABELS=list(body_markers())[:5]),
        sees={
            "markers": lambda: dict(
                zip([*list(body_markers())[:5], "unnamed-6"], body_markers().values(), strict=True)
            )
        },
    ),
    "more labels than points": Trap(**set_("POINT", LABELS=[*body_markers(), "more"])),
}
ANALOG = {
    "unsigned by its format": Trap(
        storage="integer",
        change=data_changed(lifted, "<i2"),
        **set_("ANALOG", FORMAT="UNSIGNED", OFFSET=words(*[32768] * N_CHANNELS)),
    ),
    "unsigned by its offset alone": Trap(
        storage="integer",
        change=data_changed(lifted, "<i2"),
        **set_("ANALOG", OFFSET=words(*[32768] * N_CHANNELS)),
    ),
    "half the general scale": Trap(sees={"force": 0.5}, **set_("ANALOG", GEN_SCALE=0.5)),
    "no general scale": Trap(**set_("ANALOG", GEN_SCALE=None)),
    "no analog rate": Trap("analog_does_not_fit", **set_("ANALOG", RATE=0.0)),
    "plate of an unknown type": Trap(
        "plate_left_out", sees={"force": None}, **set_("FORCE_PLATFORM", TYPE=words(11))
    ),
    "type 4 without its matrix": Trap(
        "plate_without_calibration", **set_("FORCE_PLATFORM", TYPE=words(4))
    ),
    "a matrix and a type that needs none": Trap(
        "plate_calibration_unused",
        plates=[loaded_plate(), loaded_plate()],
        **set_(
            "FORCE_PLATFORM",
            TYPE=words(2, 4),
            CAL_MATRIX=np.stack([2 * np.eye(6), np.eye(6)], axis=-1),
        ),
    ),
    "corners in another unit": Trap(
        "plate_left_out",
        sees={"force": None},
        **set_("FORCE_PLATFORM", CORNERS=CORNERS_M.T[..., None]),
    ),
    "more plates than are described": Trap("plate_left_out", **set_("FORCE_PLATFORM", USED=2)),
    "no plate in use": Trap(sees={"force": None}, **set_("FORCE_PLATFORM", USED=0)),
}
TRAPS = {**EVENTS, **LAYOUT, **FRAMES, **POINTS, **ANALOG}


@pytest.mark.parametrize("name", TRAPS)
def test_a_trap_is_read_right_or_said_or_refused(tmp_path, name):
    """Codes, coordinates, events and force are those of the line, to the frame and the digit."""
    trap, path = TRAPS[name], tmp_path / "walk.c3d"
    options = {"events": MARKS, "plates": [loaded_plate()], **trap.options}
    if name in FRAMES:
        options |= {"markers": long_body, "plates": [], "events": ()}
    given = options.pop("markers", body_markers)()
    write_variant(path, markers=given, **options)
    path.write_bytes((trap.change or bytes)(path.read_bytes()))
    if trap.refused:
        with pytest.raises(BadFileError, match=trap.refused):
            read_trial(path, in_child=False)
        return
    trial = read_trial(path, in_child=False)
    assert sorted(problem.reason.code for problem in trial.problems) == trap.says
    assert trial.rate_hz == pytest.approx(trap.sees.get("rate", RATE_HZ))
    markers = trap.sees.get("markers", lambda: given)()
    assert list(trial.markers) == list(markers)
    tolerance_m = 1e-4 if "storage" in options else 1e-5
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=tolerance_m)
    seen = sorted((round(each.time_s, 3), each.side, each.kind) for each in trial.events)
    events = trap.sees.get("events", options["events"][:3])
    assert seen == sorted((round(time_s, 3), *each) for time_s, *each in events)
    share = trap.sees.get("force", 1.0) if options["plates"] else None
    assert len(trial.plates) == (0 if share is None else len(options["plates"]))
    for plate in trial.plates:
        np.testing.assert_allclose(plate.force_n, share * loaded_plate().force_n, atol=0.05)
