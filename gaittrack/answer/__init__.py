"""The answer of a comparison: what a condition changes, how sure that is, what to look at.

In comes a :class:`gaittrack.compare.comparison.Comparison`, out comes one :class:`Answer` per
condition. Every screen, page, command and file tells this answer and makes none of its own.
"""

from gaittrack.answer.answers import Answer, answers
from gaittrack.answer.findings import Finding
from gaittrack.answer.plain import as_plain_answer
from gaittrack.answer.several import several_sentences
from gaittrack.answer.stored import from_stored, to_stored

__all__ = [
    "Answer",
    "Finding",
    "answers",
    "as_plain_answer",
    "from_stored",
    "several_sentences",
    "to_stored",
]
