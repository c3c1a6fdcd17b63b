"""Our reading beside music21's, note for note, over a hundred scores; repeats unfolded by its expander."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.outside.references import as_counted, chosen, folk_tunes, our_tune, ours, parsed, sounding

SCORES = [
    *chosen("*/bwv*.mxl", 74, 7_000),
    # Three tunes music21 misreads: it loses a broken rhythm where a staccato dot stands within it.
    *(
        p
        for p in chosen("ryansMammoth/*.abc", 9)
        if not p.stem.startswith(("CrabsInTheSkillet", "Tullochgorum", "MinstrelsFancy"))
    ),
    *chosen("schoenberg/opus19/*.mxl", 2),
    *chosen("schumann_robert/dichterliebe*.xml", 1, 400_000),
    *chosen("haydn/opus17no*/*.mxl", 2, 30_000),
    *chosen("mozart/k545/*.mxl", 1),
    *chosen("ciconia/*.mxl", 2),
    *chosen("palestrina/*.krn", 4, 6_000),
]
TUNES = [tune for book in ("altdeu10", "ballad10") for tune in folk_tunes(book, 8)]


def test_there_are_a_hundred_of_them() -> None:
    assert len(SCORES) + len(TUNES) >= 100


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
def test_every_sounding_note_is_where_music21_reads_it(path: Path) -> None:
    score = parsed(path)
    if any(score.recurse().getElementsByClass("RepeatMark")):
        score = score.expandRepeats()
    assert as_counted(ours(path)) == sounding(score)


@pytest.mark.parametrize("tune", TUNES, ids=lambda tune: tune.split(b"\n")[1].decode(errors="replace")[2:30])
def test_folk_songs_in_abc(tune: bytes) -> None:
    from music21 import converter

    # From version 2 on music21 lets an accidental hold to the end of its bar, as the standard says.
    score = converter.parseData("%abc-2.1\n" + tune.decode("utf-8", errors="replace"), format="abc")
    if any(score.recurse().getElementsByClass("RepeatMark")):
        score = score.expandRepeats()
    assert as_counted(our_tune(tune)) == sounding(score)
