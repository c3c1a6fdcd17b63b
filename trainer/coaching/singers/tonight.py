"""Tonight's songs: what the journal says of each, for readiness and for the warm-up."""

from __future__ import annotations

from collections import Counter
from datetime import date

from trainer.coaching.singers.setlist import Occasion, Readiness, readiness
from trainer.following.marks import EXTRA, RIGHT
from trainer.journal.errors import JournalError
from trainer.journal.reading import TITLE
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED
from trainer.music.keys import Key
from trainer.music.piece import Piece

# Newest takes of a song in a key that are read for its hard bars.
TAKES = 6


def slips_by_bar(journal: Journal, player: str, piece: Piece, target: Key) -> dict[int, float]:
    """Slips this player made in each bar (by its printed number) in the newest takes in a key; a take's mean."""
    rows = [
        row
        for row in journal.rows(
            f"p.name = ? AND {TITLE} = ? AND t.state = ? ORDER BY t.began DESC", (player, piece.title, FINISHED)
        )
        if Key.parse(row.target).tonic.pitch_class == target.tonic.pitch_class
    ][:TAKES]
    slips: Counter[int] = Counter()
    read = 0
    for row in rows:
        try:
            take = journal.take(row.id)
        except JournalError:
            continue  # a damaged take says nothing
        if take.settled is None or len(take.piece.notes) != len(piece.notes):
            continue
        read += 1
        wrong = [m.note for m in take.settled.counted if m.note is not None and m.cause not in (RIGHT, EXTRA)]
        for note in (*wrong, *take.settled.missed):
            slips[piece.bar_at(piece.notes[note].onset).number] += 1
    return {bar: count / read for bar, count in slips.items()}


def ready(journal: Journal, player: str, occasion: Occasion, today: date) -> list[Readiness]:
    """How ready each song of an occasion is, in its order, from the player's takes."""
    found = []
    for song in occasion.songs:
        takes = journal.rows(f"p.name = ? AND {TITLE} = ? AND t.state = ?", (player, song.title, FINISHED))
        written = Key.parse(takes[0].written) if takes else None
        if written is None:
            found.append(Readiness(song, 0.0, 0, None))
        else:
            found.append(readiness(song, takes, today, written))
    return found
