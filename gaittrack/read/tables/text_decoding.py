"""From bytes to text: the encoding, found by looking.

In come the bytes of a text file; out goes its text, or a named error when it is none.
"""

from __future__ import annotations

import codecs

from gaittrack.errors import DataError, EmptyFileError, LayoutError, TruncatedFileError
from gaittrack.read.tables.vector_cells import vectors_apart

MAX_TEXT_BYTES = 200_000_000
"""Longer text files are refused; our choice, some hours of recording."""
HEAD_BYTES = 60_000
"""By so much of a text its kind is told; our choice."""
UTF16_ZERO_SHARE = 0.2
"""Share of zero bytes in even or odd places above which text is UTF-16 without a mark."""
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def whole_rows(content: bytes) -> bytes:
    """Return the beginning of a text, by which its kind is told, cut at a row's end."""
    head = content[:HEAD_BYTES]
    end = head.rfind(b"\n")
    if head.startswith(codecs.BOM_UTF16_LE):
        end += 1  # the other half of the line end
    is_cut_safely = len(content) > HEAD_BYTES or b"\0" not in head
    return head[: end + 1] if end > 0 and is_cut_safely else head


def decode_text(content: bytes, *, where: str, encoding: str | None = None) -> tuple[str, str]:
    """Turn bytes into text.

    Parameters
    ----------
    where : str
        File name for messages.
    encoding : str, optional
        When told; else found: byte-order mark, zero bytes, strict UTF-8, Windows-1252, in order.

    Raises
    ------
    EmptyFileError, TruncatedFileError, DataError
        Nothing in it; half a character at the end; not text in that encoding, or NUL inside.
    """
    if not content.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise EmptyFileError.of("file_empty_2", where=where)
    if len(content) > MAX_TEXT_BYTES:
        raise DataError.of(
            "text_bytes_most_read",
            where=where,
            n_content=len(content),
            max_text_bytes=MAX_TEXT_BYTES,
        )
    name = encoding or find_encoding(content)
    try:
        text = content.decode(name)
    except UnicodeDecodeError as error:
        kind = TruncatedFileError if "truncated" in error.reason else DataError
        raise kind(
            f"Byte {error.start + 1} is no {name} text.",
            where=where,
            action="Name the encoding in a map file, or export the file again.",
        ) from error
    except LookupError as error:
        raise LayoutError.of("encoding_not_known", where=where, name=name) from error
    if "\x00" in text:
        raise DataError.of(
            "nul_character_stands_row",
            where=where,
            count=text.count(chr(10), 0, text.index(chr(0))) + 1,
        )
    return vectors_apart(text.removeprefix("\ufeff")), name


def find_encoding(content: bytes) -> str:
    """Return the name of the encoding that the bytes seem to be in."""
    for mark, name in _BOMS:
        if content.startswith(mark):
            return name
    sample = content[:4000]
    half = max(1, len(sample) // 2)
    if sample[1::2].count(0) > UTF16_ZERO_SHARE * half:
        return "utf-16-le"
    if sample[0::2].count(0) > UTF16_ZERO_SHARE * half:
        return "utf-16-be"
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"
