"""The laboratory's maps on the command line: listed, added, shown, renamed, removed, taken back.

In comes what was asked of one map, out come lines of text.
"""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.compare.row_words import count_words
from gaittrack.errors import StudyError
from gaittrack.plain_files import text_of
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.named_maps import (
    keep_map,
    map_texts,
    remove_map,
    rename_map,
    undo_map,
    walks_by_map,
    what_it_names,
)
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study


def run_maps(
    study: Study,
    *,
    add: Path | None,
    name: str | None,
    show: str | None,
    rename: tuple[str, str] | None,
    remove: str | None,
    undo: str | None,
    why: str,
    who: str,
) -> None:
    """Do what is asked of one map, or list all of them."""
    if sum(each is not None for each in (add, show, rename, remove, undo)) > 1:
        raise click.UsageError("Give one of --add, --show, --rename, --remove and --undo.")
    if name is not None and add is None:
        raise click.UsageError("--name goes with --add.")
    if show is not None:
        click.echo(_text_of(study, show), nl=False)
        return
    by = {"who": who, "why": why}
    if add is not None:
        keep_map(study, name or add.stem, text_of(add), **by)
    elif rename is not None:
        rename_map(study, *rename, **by)
    elif remove is not None:
        remove_map(study, remove, **by)
    elif undo is not None:
        undo_map(study, undo, **by)
    _list(study)
    if n_stale := len(stale_trials(study)):
        click.echo(f"{n_stale} results are stale: run gaittrack recompute --study {study.folder}")


def _text_of(study: Study, name: str) -> str:
    with study.read() as connection:
        texts = map_texts(connection)
    if name not in texts:
        known = ", ".join(texts) or "none"
        raise StudyError.of("no_such_map", where="map", name=name, known=known)
    return texts[name]


def _list(study: Study) -> None:
    with study.read() as connection:
        maps, counts = laboratory_maps(connection), walks_by_map(connection)
    for each in maps:
        click.echo(f"{each.name}: {what_it_names(each)}; {count_words(counts[each.name], 'walk')}")
    if not maps:
        click.echo("No map: what labels and columns spell counts.")
