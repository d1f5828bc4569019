"""What words mean that are in no closed list: listed, and said for good.

In come meanings as they were given on the command line, out come lines of text.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import click

from gaittrack.compare.row_words import count_words
from gaittrack.record.closed_lists import LISTS, OTHER
from gaittrack.study.people.asked_words import AskedWord, asked_words, settle_words
from gaittrack.study.store import Study


def run_words(
    study: Study, *, meanings: Sequence[tuple[str, str, str]], why: str, who: str
) -> None:
    """List words of no closed list; first say what some of them mean.

    Parameters
    ----------
    meanings : sequence of (str, str, str)
        Name of the list, words as they were written, the word of the list that they mean.
    """
    told: dict[str, dict[str, str]] = {}
    for name, typed, word in meanings:
        told.setdefault(name, {})[typed] = word
    if told:
        n = settle_words(study, told, who=who, why=why)
        click.echo(f"Remembered. {count_words(n, 'fact')} changed.")
    for line in words_lines(asked_words(study)):
        click.echo(line)


def words_lines(found: Iterable[AskedWord]) -> list[str]:
    """Return what became what, a line each, and the words of the lists that are asked about."""
    lines: list[str] = []
    lists: dict[str, tuple[str, ...]] = {}
    for each in found:
        holds = f" ({', '.join(each.facts)}; {', '.join(each.people)})" if each.people else ""
        state = "" if each.is_settled else ", until somebody says what it means"
        lines.append(f"{each.list}: {each.typed!r} leaves as {each.becomes}{state}{holds}")
        if not each.is_settled:
            lists[each.list] = (*LISTS[each.list], OTHER)
    lines += [f"Words of {name}: {', '.join(words)}" for name, words in lists.items()]
    if not lines:
        return ["Every word is of its list."]
    example = '--means LIST "WORDS" "WORD OF THE LIST"'
    return [*lines, *([f"Say it with {example}."] if lists else [])]
