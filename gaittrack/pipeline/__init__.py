"""The main job as one call: from a file to measures.

:func:`measure_recording` is the one way from a file to a measured walk: a map, a standing trial, an
events table, a person's corrections and the condition of a sheet are hooks of it. Commands, studies
and screens all measure through here; :func:`measure_files` does so for many files.
"""

from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result, as_json_dict
from gaittrack.pipeline.batch import (
    MeasureOptions,
    files_in,
    measure_file,
    measure_files,
    passed_over_in,
)
from gaittrack.pipeline.chain import (
    InputFile,
    Recording,
    measure_recording,
    read_recording,
    read_standing,
    taken_map,
)

__all__ = [
    "InputFile",
    "MeasureOptions",
    "MeasuredWalk",
    "Recording",
    "RefusedFile",
    "Result",
    "as_json_dict",
    "files_in",
    "measure_file",
    "measure_files",
    "measure_recording",
    "passed_over_in",
    "read_recording",
    "read_standing",
    "taken_map",
]
