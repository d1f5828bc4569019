"""One answer of the server on the screen Add walks: who asks, with what, and what was said before.

In come the study and what a browser sends, out come the files that wait and the jobs that go on.
"""

from __future__ import annotations

from dataclasses import dataclass

from dashboards.add_walks.draft import FileGroup, FilesDraft, groups_of
from dashboards.add_walks.entered import Entered
from dashboards.add_walks.uploads import Basket
from dashboards.shell.access import NotAllowedError, Visitor
from dashboards.shell.jobs import Job, Jobs
from gaittrack.study.store import Study


@dataclass(frozen=True, slots=True)
class Turn:
    """One answer of the server: who asks, with what, and what was said before."""

    study: Study
    jobs: Jobs
    visitor: Visitor
    entered: Entered
    basket: Basket
    draft: FilesDraft

    @property
    def names(self) -> list[str]:
        """Names of the conditions in the form."""
        return list(self.entered.worn)

    @property
    def groups(self) -> list[FileGroup]:
        """The files that wait, by their use."""
        return groups_of(self.basket, self.draft, self.entered.worn)

    def job(self, key: str) -> Job | None:
        """Return a job of this screen; None when there is none any longer."""
        try:
            return self.jobs.find(key) if key else None
        except NotAllowedError:
            return None
