"""What the second process does for the Singer: which keys suit, and a warm-up. It imports nothing that draws."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from trainer.coaching.singers.accompany import Line, Suits, ease_of, suit, suit_all, voice_line
from trainer.coaching.singers.choirs import at_the_edge, choir_of
from trainer.coaching.singers.setlist import Song, way_to
from trainer.coaching.singers.voices import Span, Voice
from trainer.coaching.singers.warmup import Step, Tonight, warm_up
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition

# All twelve keys of a mode, told in the order in which they suit.
MOST = 7


@dataclass(frozen=True)
class Suited:
    """A song and the keys that suit a singer or a choir, best first.

    Parameters
    ----------
    line : Line
        The one that is looked at, in a choir one of several.
    keys : tuple of Suits
        Where that line then lies; in a choir `Suits.fit` and `Suits.why` are those of the part that is worst off.
    tessitura : Span
        Of whoever sings that line.
    lines : tuple of str
        Whose lines there are, by name in a choir.
    in_concert : bool
        Whether the file says of a part that it sounds elsewhere than written, so that all of it is read as it sounds.
    """

    piece: Piece
    line: Line
    keys: tuple[Suits, ...]
    tessitura: Span
    lines: tuple[str, ...] = ("",)
    in_concert: bool = False


def suited(path: str, tessitura: Span | None, voice: Voice | None, line: int = 0) -> Suited:
    """The keys of a song for a singer, or without a tessitura for a choir; of several lines the one at that place is
    looked at, the first after the last. Raises `MusicError` for a piece that has no line or cannot be read.
    """
    try:
        changed = os.stat(path).st_mtime_ns
    except OSError as why:
        raise MusicError(f"'{path}' cannot be read ({why.strerror}): choose another song.") from why
    return _suited(path, changed, tessitura, voice, line)


@lru_cache(maxsize=64)
def _suited(path: str, changed: int, tessitura: Span | None, voice: Voice | None, at: int) -> Suited:
    """Kept, for a list is gone through up and down."""
    from trainer.scores.reading import is_transposing, read

    piece, in_concert = read(path), is_transposing(path)
    if tessitura is None:
        return replace(_suited_to_all(piece, at), in_concert=in_concert)
    lines = tuple(member.name for member in choir_of(piece)) if len(piece.singers) > 1 else ("",)
    line = voice_line(piece, at % len(lines))
    keys = tuple(suit(line, tessitura, voice, ease_of(piece), MOST))
    return Suited(piece, line, keys, tessitura, lines, in_concert)


def _suited_to_all(piece: Piece, at: int) -> Suited:
    choir = choir_of(piece)
    rows = suit_all([member.part for member in choir], ease_of(piece), MOST)
    shown = choir[at % len(choir)].part
    keys = []
    for row in rows:
        edge = at_the_edge(choir, row)
        why = f"At the edge: {edge}." if edge else "All parts lie where they are comfortable."
        keys.append(replace(row[at % len(choir)], fit=min(one.fit for one in row), why=why))
    return Suited(piece, shown.line, tuple(keys), shown.tessitura, tuple(member.name for member in choir))


@dataclass(frozen=True)
class Opened:
    """A song of the set list: its piece and the move to its key; or why it cannot be opened."""

    song: Song
    piece: Piece | None = None
    move: Transposition | None = None
    fault: str = ""


def opened(songs: Sequence[Song]) -> list[Opened]:
    """The songs' pieces, each with the move it is to be played with."""
    from trainer.scores import reading
    from trainer.scores.shelf import library

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
