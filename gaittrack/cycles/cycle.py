"""One gait cycle."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from gaittrack.notebook_view import Shown
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import ContactType, EventSource, Joint, Side

N_PERCENT_POINTS = 101
"""Points of the 0–100 % time base, both ends included; common practice, no source."""


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Cycle(Shown):
    """One gait cycle of one foot, initial contact to the next.

    Attributes
    ----------
    id : str
        Unique in its trial: ``left-01``.
    start_s, toe_off_s, end_s : float
        Seconds from the first stored frame; ``toe_off_s`` is NaN when there is none. For a curve
        from a sheet ``start_s`` is 0 and ``end_s`` the cycle time (NaN when unknown).
    opposite_toe_off_s, opposite_contact_s : float
        The other foot's toe-off and next contact inside the cycle; NaN when not seen.
    contact : ContactType
        Which part of the foot made the contact at ``start_s``.
    sources : tuple of EventSource
        Sources of the events of this cycle, without repeats.
    speed_m_s : float
        Mean walking speed over the cycle; NaN when unknown.
    reject_reasons : tuple of Reason
        Empty: the cycle is kept.
    review_reasons : tuple of Reason
        What a person should look at (sources disagree by more than 50 ms); does not reject.
    percent_curves : mapping of Joint to ndarray, shape (101,)
        Degrees over 0–100 % of the cycle.
    is_mean : bool
        The cycle is already an average over several cycles.
    from_curve : bool
        The cycle comes from a 0–100 % curve of a sheet, not from a recording over time.
    label : str
        The sheet's own name of the cycle, for curves.
    """

    id: str
    side: Side
    start_s: float
    toe_off_s: float
    end_s: float
    opposite_toe_off_s: float = math.nan
    opposite_contact_s: float = math.nan
    contact: ContactType = "unknown"
    sources: tuple[EventSource, ...] = ()
    speed_m_s: float = math.nan
    reject_reasons: tuple[Reason, ...] = ()
    review_reasons: tuple[Reason, ...] = ()
    percent_curves: Mapping[Joint, FloatArray] = field(default_factory=dict)
    is_mean: bool = False
    from_curve: bool = False
    label: str = ""

    @property
    def duration_s(self) -> float:
        """Cycle time in seconds; NaN when unknown."""
        return self.end_s - self.start_s

    @property
    def is_kept(self) -> bool:
        """Whether nothing speaks against the cycle."""
        return not self.reject_reasons
