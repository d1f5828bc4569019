"""From a trial to a motion: landmarks, the walker's own axes, smoothing, sagittal angles.

:func:`describe_motion` is the only way in; it returns a ``Motion``.
"""

from gaittrack.kinematics.describe import describe_motion
from gaittrack.kinematics.motion import FootNeutral, LabAxes, Motion

__all__ = ["FootNeutral", "LabAxes", "Motion", "describe_motion"]
