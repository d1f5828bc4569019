"""Moments, powers, forces, velocities and muscles are never read, nor offered, as angles."""

import re

import numpy as np
import pytest

from gaittrack.errors import LayoutError
from tests.read.made_up_sheets import messages, read_sheet, walk, written

TIME = {"time": np.arange(200) / 100}
SIDES = "{} right|{} left|R {}|{}_l|rechts {}|{} links|{} droite|{} izquierda|{} destra|{} direita"
QUANTITIES = (
    "ankle moment|Sprunggelenk Moment|moment cheville|momento tobillo|momento caviglia|enkel koppel"
    "|knee power|Knie Leistung|puissance genou|potencia rodilla|potenza ginocchio|enkel vermogen"
    "|knæ effekt|hip torque|Hüfte Drehmoment|ankle velocity|Knie Winkelgeschwindigkeit"
    "|vitesse genou|velocidad rodilla|velocità ginocchio|knäets hastighet|knie snelheid"
    "|ankle force|Gelenkkraft Knie|force genou|fuerza rodilla|forza ginocchio|força joelho"
    "|GRF ankle|EMG tibialis anterior|gastrocnemius|Wadenmuskel|hip acceleration|knee (Nm/kg)"
    "|ankle [W/kg]|knee (deg/s)|soleus activation|hip stiffness"
).split("|")
UNITS = ("Nm", "W/kg", "N", "mV", "deg/s", "mm", "Nm/kg", "m/s")


def offered(error):
    """Return the names of the columns in the map that a refusal prints."""
    return re.findall(r'(?m)^name = "(.*)"', str(error))


def headers():
    """Return every quantity with a side before or behind it."""
    sides = SIDES.split("|")
    return [sides[place % len(sides)].format(name) for place, name in enumerate(QUANTITIES)]


def test_other_quantities_alone_are_refused_with_what_to_export():
    """A sheet without an angle: nothing of it is offered, in any language or unit."""
    with pytest.raises(LayoutError, match="flexion of ankle, knee and hip") as caught:
        read_sheet(written(TIME | {name: walk("knee") for name in headers()}))
    assert offered(caught.value) == []
    names = [f"left knee {place}" for place, _ in enumerate(UNITS)]
    rows = written(TIME | {name: walk("knee") for name in names}).split("\n", 1)
    with pytest.raises(LayoutError, match="can be a joint angle") as caught:
        read_sheet(f"{rows[0]}\ns,{','.join(UNITS)}\n{rows[1]}")
    assert offered(caught.value) == []


def test_beside_angles_they_are_left_out_and_never_offered():
    """With angles beside them the angles are read; in doubt, only these are asked about."""
    columns = TIME | {name: 3 * walk("knee") for name in headers()}
    trial = read_sheet(written(columns | {"left ankle": walk("ankle")}))
    assert list(trial.angles) == [("left", "ankle")]
    assert f"{len(QUANTITIES)} columns are left out" in messages(trial)
    with pytest.raises(LayoutError) as caught:
        read_sheet(written(columns | {"ankle": walk("ankle"), "c 1": walk("knee")}))
    assert offered(caught.value) == ["ankle"]


def test_a_title_of_another_quantity_refuses_until_it_is_taken_off():
    """Columns named like angles below a title that says moments; the title itself is not told."""
    text = written(TIME | {"left ankle": walk("ankle")})
    with pytest.raises(LayoutError, match="row 1 names another quantity") as caught:
        read_sheet("Joint moments of Smith\n" + text)
    assert "Smith" not in str(caught.value)
    assert read_sheet("Joint angles and moments\n" + text).angles
    assert read_sheet(text).angles


@pytest.mark.parametrize(
    "name", ["right ankle at slow speed", "left knee enforced", "left ankle peroneal brace"]
)
def test_words_that_only_resemble_them_stay_angles(name):
    """A condition in a name makes no other quantity of it."""
    joint = "ankle" if "ankle" in name else "knee"
    assert len(read_sheet(written(TIME | {name: walk(joint)})).angles) == 1
