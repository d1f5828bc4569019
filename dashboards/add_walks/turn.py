"""One answer of the server on the screen Add walks: who asks, with what, and what was said before.

In come the study and what a browser sends, out come the files that wait and the jobs that go on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from dashboards.add_walks.draft import FileGroup, FilesDraft, draft_of, groups_of
from dashboards.add_walks.entered import Entered
from dashboards.add_walks.look_and_store import look
from dashboards.add_walks.uploads import Basket, baskets
from dashboards.shell.access import NotAllowedError, Visitor
from dashboards.shell.jobs import Job, Jobs
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.store import Study

LOOKING, CHECKING, STORING = "looking at files", "looking once more", "storing files"
NOW: Final = "add-walks-now"
"""``dcc.Store``: a number that grows when what is shown has to be made anew."""
NEWS: Final = "add-walks-news"
"""``dcc.Store``: how far the jobs are."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One answer of the server: who asks, with what, and what was said before.

    Attributes
    ----------
    ended : frozenset of str
        Numbers of the jobs that were over when it began: what is shown of them is all there is.
        One that ends meanwhile is asked after once more.
    """

    study: Study
    jobs: Jobs
    visitor: Visitor
    entered: Entered
    basket: Basket
    draft: FilesDraft
    ended: frozenset[str] = frozenset()

    @property
    def names(self) -> list[str]:
        """Names of the conditions in the form."""
        return list(self.entered.worn)

    @property
    def groups(self) -> list[FileGroup]:
        """The files that wait, by their use."""
        return groups_of(self.basket, self.draft, self.entered.worn)

    def goes_on(self, key: str) -> bool:
        """Whether a job may still give something that is not shown."""
        return self.job(key) is not None and key not in self.ended

    def job(self, key: str) -> Job | None:
        """Return a job of this screen; None when there is none any longer."""
        return job_of(self.jobs, key)

    def begin_look(self, what: str, plan: Plan) -> str:
        """Begin to look at the files of a plan, and not again at what was measured before."""
        measured, is_same = self.draft.measured, self.draft.is_same_person
        looks = look(self.study, plan, self.visitor.name, measured=measured, same_person=is_same)
        return self.jobs.start(what, looks, len(plan.files) + len(plan.refused))


def job_of(jobs: Jobs, key: str) -> Job | None:
    """Return a job of the session that asks; None when there is none any longer."""
    try:
        return jobs.find(key) if key else None
    except NotAllowedError:
        return None


def turn_of(study: Study, jobs: Jobs, visitor: Visitor, given: Sequence[Any]) -> Turn:
    """Return the turn of what stands in the fields, in the order of ``entered.FIELDS``."""
    entered = Entered(*given)
    basket = baskets().find(entered.basket)
    return Turn(study, jobs, visitor, entered, basket, draft_of(basket))
