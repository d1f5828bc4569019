"""Initial contacts and toe-offs, from the most trusted source there is."""

from gaittrack.events.agreement import Disagreement
from gaittrack.events.detect import DetectedEvents, detect_events

__all__ = ["DetectedEvents", "Disagreement", "detect_events"]
