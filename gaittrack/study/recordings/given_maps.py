"""Maps and a rate given with an import: kept in the study, so that a later measuring knows them.

In come map files, a rate and the files of a plan, out come the maps that hold for the import. A
rate is kept for all tables with the same columns; a file that tells its own rate is left alone.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from gaittrack.errors import BadFileError, StudyError
from gaittrack.lab_map import LabMap, read_lab_map
from gaittrack.plain_files import bytes_of, text_of
from gaittrack.read import read_trial
from gaittrack.read.sheets.which_map import map_for_table, table_names
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.named_maps import keep_map, map_texts
from gaittrack.study.recordings.planning import PlannedFile
from gaittrack.study.store import Study
from gaittrack.trial import Trial

_SHEET: Final = "[sheet]"


class GivenMaps:
    """The maps of an import: those of the study, and those that are given with it.

    Parameters
    ----------
    study : Study or None
        None where there is none yet.
    """

    def __init__(self, study: Study | None) -> None:
        self._texts: dict[str, str] = {}
        self._new: dict[str, str] = {}
        self.maps: tuple[LabMap, ...] = ()
        if study is not None:
            with study.read() as connection:
                self._texts = map_texts(connection)
                self.maps = laboratory_maps(connection)

    def add_file(self, path: Path) -> None:
        """Take a map file, under the name of the file.

        Raises
        ------
        StudyError
            Another map is called so.
        LayoutError
            The file is no map.
        """
        text = text_of(path)
        if self._texts.get(path.stem, text) != text:
            raise StudyError.of("map_name_taken", where=path.name, name=path.stem)
        read_lab_map(path)
        self._put(path.stem, text)

    def add_rate(self, rate_hz: float, files: Iterable[PlannedFile]) -> None:
        """Keep a rate for the tables that tell none, by their columns."""
        for path in dict.fromkeys(file.path for file in files):
            if path.suffix.lower() != ".c3d" and (trial := self._without_rate(path, rate_hz)):
                self._add_rate_of(path, trial, rate_hz)

    def keep(self, study: Study, *, who: str) -> list[str]:
        """Keep what was given in the study, and return the names."""
        for name, text in self._new.items():
            keep_map(study, name, text, who=who, why="given with an import")
        return list(self._new)

    def _without_rate(self, path: Path, rate_hz: float) -> Trial | None:
        """Return a table that is read with the rate, and not without."""
        try:
            read_trial(path, lab_map=self.maps)
        except BadFileError:
            try:
                return read_trial(path, lab_map=self.maps, rate_hz=rate_hz)
            except BadFileError:
                return None
        return None

    def _add_rate_of(self, path: Path, trial: Trial, rate_hz: float) -> None:
        content = bytes_of(path)
        taken = map_for_table(path, content, self.maps).lab_map.name
        if taken:
            self._put(taken, with_rate(self._texts[taken], rate_hz))
            return
        held = table_names(content)
        names = trial.provenance.columns or [label for label in trial.markers if label in held]
        labels = json.dumps(list(dict.fromkeys(names)), ensure_ascii=False)
        self._put(
            self._free_name(f"rate {rate_hz:g} Hz"),
            f"[fits]\nlabels = {labels}\n\n{_SHEET}\nrate_hz = {rate_hz:g}\n",
        )

    def _free_name(self, wanted: str) -> str:
        name, number = wanted, 1
        while name in self._texts:
            number += 1
            name = f"{wanted} ({number})"
        return name

    def _put(self, name: str, text: str) -> None:
        if self._texts.get(name) == text:
            return
        self._texts[name] = self._new[name] = text
        with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
            path = Path(folder) / "map.toml"
            path.write_text(text, encoding="utf-8")
            read = replace(read_lab_map(path), path=f"{name}.toml", name=name)
        self.maps = (*(each for each in self.maps if each.name != name), read)


def with_rate(text: str, rate_hz: float) -> str:
    """Return a map's text with a rate in its [sheet] table."""
    lines = text.splitlines()
    heads = [n for n, line in enumerate(lines) if line.split("#")[0].strip() == _SHEET]
    rate = f"rate_hz = {rate_hz:g}"
    new: Sequence[str] = (
        [*lines[: heads[0] + 1], rate, *lines[heads[0] + 1 :]]
        if heads
        else [*lines, "", _SHEET, rate]
    )
    return "\n".join(new) + "\n"
