"""Change stored results for a test as if they had been kept so: their checksums hold."""

from sqlalchemy import true, update

from gaittrack.study.checksums import seal_results
from gaittrack.study.tables import RESULT


def plant(connection, trial_id=None, **values):
    """Change columns of one trial's result, or of all results."""
    where = true() if trial_id is None else RESULT.c.trial_id == trial_id
    connection.execute(update(RESULT).where(where).values(**values))
    seal_results(connection)
