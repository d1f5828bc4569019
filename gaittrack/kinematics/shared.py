"""What several recordings have in common, so that the same can be measured in all of them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Shared:
    """What a recording is measured on, where it holds more than the others it is compared with.

    Attributes
    ----------
    landmarks : frozenset of str
        Points are made of these only.
    uses_standing : bool
        Whether the zero of a foot may be that of a standing trial.
    uses_file_angles : bool
        Whether angles of the file may be used; else those from markers only.
    """

    landmarks: frozenset[str]
    uses_standing: bool = True
    uses_file_angles: bool = True
