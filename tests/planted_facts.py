"""Facts put into a study past all checks, as tests need them."""

import json

from sqlalchemy import select, update

from gaittrack.record.visit_facts import EXAMINATION, stored_facts
from gaittrack.study.people.documents import folded, unfolded
from gaittrack.study.tables import VISIT

NOTHING_EXAMINED = dict.fromkeys(fact.name for fact in stored_facts(EXAMINATION))


def put_facts(study, table, row_id=None, **facts):
    """Put facts into one row of people or visits, or into all; None takes one away."""
    part = table.name
    with study.write() as connection:
        rows = connection.execute(select(table)).mappings().all()
        for row in (row for row in rows if row_id in (None, row["id"])):
            known = {k: v for k, v in unfolded(part, row).items() if k not in ("id", "person_id")}
            columns = folded(part, {k: v for k, v in (known | facts).items() if k != "code"})
            connection.execute(update(table).where(table.c.id == row["id"]).values(**columns))


def examine_nothing(study):
    """Take every examination away."""
    put_facts(study, VISIT, **NOTHING_EXAMINED)


def facts_of_row(study, table, row_id=1):
    """Return the stored document of a row."""
    with study.read() as connection:
        query = select(table.c.facts).where(table.c.id == row_id)
        return json.loads(connection.execute(query).scalar_one())
