"""Walks of the made-up people, written one below the other into one sheet."""

from pathlib import Path

SHEET_VISIT = Path(__file__).parents[1] / "sample_trials" / "P03" / "visit-1"
SHEET_WALKS = [SHEET_VISIT / "with-brace" / f"walk-{number}.csv" for number in (1, 2, 3)]


def sheet_of(walks=(), **columns):
    """Return a sheet of walks, each named in columns of its own before the others.

    A column is given by the words of each walk; or by the walks, which are then numbered.
    """
    walks = list(walks or next(iter(columns.values())))
    lines = []
    for place, walk in enumerate(walks):
        words = [
            str(place + 1) if isinstance(own[place], Path) else own[place]
            for own in columns.values()
        ]
        head, *rows = walk.read_text("utf-8-sig").splitlines()
        lines += [] if lines else [";".join((*columns, head))]
        lines += [";".join((*words, row)) for row in rows]
    return "\n".join(lines)
