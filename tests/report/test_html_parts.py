"""Whatever comes from a file is shown as text."""

from gaittrack.report.html_parts import Cell, bullets, paragraph, table, terms

NASTY = '<img src="x" onerror="y">&'


def test_every_piece_escapes_its_texts():
    """Heads, cells, small print, terms, points and paragraphs."""
    whole = "".join(
        [
            table([Cell(NASTY, kind=NASTY)], [[Cell(NASTY, NASTY, NASTY)]]),
            terms([(NASTY, NASTY)]),
            bullets([NASTY]),
            paragraph(NASTY),
        ]
    )
    assert "<img" not in whole
    assert 'onerror="' not in whole
    assert whole.count("&lt;img") >= 8


def test_cells_carry_their_heads_for_narrow_screens():
    """On a phone a row becomes a block and each cell names itself."""
    assert 'data-head="Change"' in table([Cell("Change")], [[Cell("1")]])
