"""What the second process does for the Singer: which keys suit, and a warm-up. It imports nothing that draws."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from trainer.coaching.accompany import Line, Suits, ease_of, suit, voice_line
from trainer.coaching.setlist import Song, way_to
from trainer.coaching.voices import Span, Voice
from trainer.coaching.warmup import Step, Tonight, warm_up
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition

# All twelve keys of a mode, told in the order in which they suit.
MOST = 7


@dataclass(frozen=True)
class Suited:
    """A song and the keys that suit a singer, best first; and whether its file says of a part that it sounds elsewhere
    than written, so that all of it is read as it sounds.
    """

    piece: Piece
    line: Line
    keys: tuple[Suits, ...]
    in_concert: bool = False


def suited(path: str, tessitura: Span, voice: Voice | None, second: bool = False) -> Suited:
    """The keys of a song for a singer, of a duet for the second one if asked; raises `MusicError` for a piece that has
    no line or cannot be read.
    """
    try:
        changed = os.stat(path).st_mtime_ns
    except OSError as why:
        raise MusicError(f"'{path}' cannot be read ({why.strerror}): choose another song.") from why
    return _suited(path, changed, tessitura, voice, second)


@lru_cache(maxsize=64)
def _suited(path: str, changed: int, tessitura: Span, voice: Voice | None, second: bool) -> Suited:
    """Kept, for a list is gone through up and down."""
    from trainer.scores.reading import is_transposing, read

    piece = read(path)
    line = voice_line(piece, second)
    return Suited(piece, line, tuple(suit(line, tessitura, voice, ease_of(piece), MOST)), is_transposing(path))


@dataclass(frozen=True)
class Opened:
    """A song of the set list: its piece and the move to its key; or why it cannot be opened."""

    song: Song
    piece: Piece | None = None
    move: Transposition | None = None
    fault: str = ""


def opened(songs: Sequence[Song]) -> list[Opened]:
    """The songs' pieces, each with the move it is to be played with."""
    from trainer.scores import library, reading

    found = []
    for song in songs:
        try:
            piece = reading.read(library.find(song.piece))
            found.append(Opened(song, piece, way_to(piece.key, song.key, song.move)))
        except MusicError as why:
            found.append(Opened(song, fault=str(why)))
    return found


def warmed(tonight: Sequence[Tonight], minutes: float) -> tuple[Step, ...]:
    """The steps of a warm-up."""
    return warm_up(tonight, minutes)
