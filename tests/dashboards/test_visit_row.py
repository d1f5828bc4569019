"""The walks of a visit side by side: every kept stride is drawn, and what waits is said."""

import html
import re
import shutil

from sqlalchemy import update

from dashboards.parts.markup import html_of
from dashboards.walks.visit_row import row_parts
from gaittrack.study.recordings.reviewing import trials_of_person
from gaittrack.study.recordings.visit_curves import visit_curves
from gaittrack.study.store import open_study
from gaittrack.study.tables import RESULT


def test_each_walk_shows_its_strides_on_one_scale_and_what_waits(study_folder, tmp_path):
    """As many lines as strides are kept; a damaged result has none and says why it waits."""
    folder = tmp_path / "study"
    shutil.copytree(study_folder, folder)
    study = open_study(folder)
    with study.write() as connection:
        found = [one for one in trials_of_person(connection, 1) if one.kind == "walk"]
        walks = [one for one in found if one.visit_id == found[0].visit_id]
        damaged = RESULT.c.trial_id == walks[-1].trial.id
        connection.execute(update(RESULT).where(damaged).values(problems="[]  "))
    with study.read() as connection:
        walks = [
            one
            for one in trials_of_person(connection, 1)
            if one.kind == "walk" and one.visit_id == found[0].visit_id
        ]
        joint, curves = visit_curves(connection, found[0].visit_id)
    study.close()
    told, row = (html_of(each) for each in row_parts(walks, joint, curves))
    buttons = re.findall(r"<button.*?</button>", row, re.DOTALL)
    assert joint == "ankle" and "stride of the ankle" in told and "\u2212" in told
    assert len(buttons) == len(walks) > 4
    for one, button in zip(walks, buttons, strict=True):
        is_damaged = bool(one.reasons)
        assert button.count("<polyline") == (0 if is_damaged else one.n_counted)
        assert ("no curve" in button) is is_damaged
        assert ("damaged" if is_damaged else "strides counted") in button
        assert f'"value": {one.trial.id}' in html.unescape(button)
    assert sum(bool(one.reasons) for one in walks) == 1
    drawn = " ".join(re.findall(r'points="([^"]*)"', row)).split()
    heights = [float(each) for each in drawn[1::2]]
    assert 0 < min(heights) < 5 and 49 < max(heights) < 54  # the largest angle and the smallest
