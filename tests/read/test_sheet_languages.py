"""Names of columns in nine languages are read alike: time, six angles, their sides and signs."""

import numpy as np
import pytest

from gaittrack.read.tables.column_names import read_column_name
from tests.read.made_up_sheets import read_sheet, walk, written

NAMES = {
    "English": ("time (s)", "{} ankle dorsiflexion", "{} knee flexion", "left right"),
    "German": ("Zeit (s)", "Knöchel {} Dorsalextension", "Knie {} Flexion", "links rechts"),
    "French": ("Temps (s)", "cheville {} dorsiflexion", "genou {} flexion", "gauche droite"),
    "Spanish": ("Tiempo (s)", "tobillo {} dorsiflexión", "rodilla {} flexión", "izquierdo derecho"),
    "Italian": ("Tempo (s)", "caviglia {} dorsiflessione", "ginocchio {} flessione", "sx dx"),
    "Danish": ("Tid (s)", "{} ankel dorsalfleksion", "{} knæ fleksion", "venstre højre"),
    "Swedish": ("Tid (s)", "{} fotled dorsalflexion", "{} knä flexion", "vänster höger"),
    "Dutch": ("Tijd (s)", "{} enkel dorsaalflexie", "{} knie flexie", "linker rechter"),
    "Portuguese": ("Tempo (s)", "tornozelo {} dorsiflexão", "joelho {} flexão",
                   "esquerdo direito"),
}  # fmt: skip


@pytest.mark.parametrize("language", NAMES)
def test_a_sheet_of_each_language_is_read_without_a_question(language):
    """Over time, with what the sides are called; the numbers are those that were written."""
    time, ankle, knee, sides = NAMES[language]
    columns = {time: np.arange(200) / 100}
    for side in sides.split():
        columns[ankle.format(side)], columns[knee.format(side)] = walk("ankle"), walk("knee")
    trial = read_sheet(written(columns))
    assert set(trial.angles) == {(s, j) for s in ("left", "right") for j in ("ankle", "knee")}
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("knee"), atol=1e-3)
    np.testing.assert_allclose(trial.angles["right", "ankle"].values, walk("ankle"), atol=1e-3)


@pytest.mark.parametrize(
    "name",
    ["rotatie heup links", "abdução quadril direito", "höger knä abduktion", "coxa esquerda",
     "vermogen enkel links", "potência joelho esquerdo", "effekt knæ højre", "kracht heup links"],
)  # fmt: skip
def test_another_plane_or_quantity_is_no_angle_in_any_language(name):
    """What turns in another plane, or is no angle, is never read as one."""
    assert read_column_name(name).role != "angle"
