"""The notice that stands at the end of printed results, on each report and in each export."""

from typing import Final

NOTICE: Final = (
    "gaittrack arranges and compares measurements of walking, for research and for the talk "
    "between a person and the professional who treats them. It is not a medical device: it does "
    "not diagnose, and it does not choose or adjust a brace. Every number depends on where the "
    "markers sat, on calibration, footwear and the steps that were kept, and may be wrong; check "
    "it against the recording and the examination. The law, the rules of the house and the "
    "treating professional's judgement come first. Never let it be the only ground for care."
)
"""One constant in one place; whoever shows results shows this with them."""
