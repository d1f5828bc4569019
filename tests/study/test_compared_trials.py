"""Behind every number of a stored comparison stand its recordings."""

from sqlalchemy import update

from gaittrack.study.results.compared_trials import compared_trials, hash_of_settings
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import first_choice
from gaittrack.study.tables import RESULT


def _compared(study):
    chosen = first_choice(conditions_of(study, 1))
    return compare_stored(study, chosen.conditions, reference=chosen.reference)


def test_every_walk_leads_to_its_recording_and_its_strides(study):
    """Counted strides and those left out, with the reason, make all of them."""
    found = _compared(study)
    trials = {each.trial.id: each for each in compared_trials(study, found)}
    assert set(found.trial_ids) == {record.walk_id for record in found.records}
    for record in found.records:
        one = trials[found.trial_ids[record.walk_id]]
        assert one.condition == record.condition
        counted = sum(map(len, record.cycles.values()))
        assert counted + len(one.not_counted) == one.n_strides > counted > 0
        assert all(side and reason for _, side, reason in one.not_counted)
        assert (one.why_not, one.why_stale) == ("", "")


def test_an_old_result_is_named_as_stale_and_a_refused_one_with_its_reason(study):
    """Neither is silently left out."""
    found = _compared(study)
    first, second, *_ = sorted(found.trial_ids.values())
    refused = {"refusal": '{"code": "truncated_file", "text": "Cut.", "where": "x.c3d"}'}
    with study.write() as connection:
        for number, values in ((first, {"software_version": "0.0"}), (second, refused)):
            connection.execute(update(RESULT).where(RESULT.c.trial_id == number).values(**values))
    trials = {each.trial.id: each for each in compared_trials(study, found)}
    assert trials[first].why_stale == "measured by version 0.0"
    assert trials[second].why_not == "x.c3d: Cut."


def test_the_hash_changes_with_what_shaped_the_numbers(study):
    """Other settings of one result, or another reference, give another hash."""
    found = _compared(study)
    trials = compared_trials(study, found)
    first = hash_of_settings(found, trials)
    assert first == hash_of_settings(found, compared_trials(study, _compared(study)))
    other = compare_stored(study, list(found.names), reference=list(found.names)[0])
    assert other.comparison.settings["reference"] != found.comparison.settings["reference"]
    assert hash_of_settings(other, trials) != first
    with study.write() as connection:
        one = RESULT.c.trial_id == next(iter(found.trial_ids.values()))
        connection.execute(update(RESULT).where(one).values(settings_hash="0" * 64))
    assert hash_of_settings(found, compared_trials(study, found)) != first
