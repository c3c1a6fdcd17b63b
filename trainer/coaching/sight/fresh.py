"""The music of a suggestion or of a reading at sight: from the shelf, a pattern, or composed afresh and never seen."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError

if TYPE_CHECKING:
    from trainer.coaching.today.schedule import Suggestion

# Between the seeds of two drawings lie as many as one of them may use.
APART = 1_000
SEEDS_TRIED = 5


def next_seed(journal: Journal) -> int:
    """A seed whose pieces nobody has seen: drawings are counted in the journal, those not played too."""
    with journal.changing() as db:
        row = db.execute("SELECT value FROM fact WHERE name = 'drawn'").fetchone()
        drawn = int(row[0]) + 1 if row else 1
        db.execute("INSERT OR REPLACE INTO fact VALUES ('drawn', ?)", (str(drawn),))
    return APART * drawn


def composed(level: str, written: Key, hands: str, bars: int, seed: int, tempo: float | None = None) -> Piece:
    """A fresh piece by seed, at a tempo in quarters a minute (its own when left out)."""
    from trainer.scores.composing.composing import Request, compose

    for tried in range(SEEDS_TRIED):
        # Not every seed makes a piece; the next ones tried are far from those of other drawings.
        with contextlib.suppress(MusicError):
            piece = compose(Request(level, written.plain, bars=bars, hands=hands, seed=seed + 1_000_000_007 * tried))
            return piece if tempo is None else replace(piece, tempo=tempo, tempi=((Fraction(0), tempo),))
    raise MusicError("No fresh piece could be composed this time: try again.")


def piece_of(suggestion: Suggestion, journal: Journal) -> Piece:
    """What to put on the stand for a suggestion of today's list.

    Raises
    ------
    MusicError
        When the piece cannot be read any more.
    """
    if suggestion.pattern:
        from trainer.scores.composing.patterns import pattern

        return pattern(suggestion.pattern, suggestion.key, suggestion.hands)
    if suggestion.name:
        from trainer.scores import reading
        from trainer.scores.shelf import library

        return reading.read(library.find(suggestion.name))
    written = suggestion.written
    assert written is not None
    return composed(suggestion.level, written, suggestion.hands, 8, next_seed(journal), suggestion.tempo)
