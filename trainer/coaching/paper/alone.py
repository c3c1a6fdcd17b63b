"""Music alone in a key, to be played from: the page for the singer's stand, or a part for an instrument."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from trainer.coaching.paper.sheets import FOOT, Wishes, music_of, sheet
from trainer.coaching.singers.instruments import CHORDS_ONLY, Concert, Instrument, reads_parts, writing_for
from trainer.hands.changes import laid, refingered, served_there
from trainer.music.piece import RIGHT, Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition, transposed
from trainer.scores.paper.papers import EVERY, NONE, PRINTED
from trainer.scores.paper.printing import Block, Document, NewPage
from trainer.scores.plain import as_name


def alone(piece: Piece, moves: Sequence[Transposition], wishes: Wishes, fingers: str = PRINTED) -> Document:
    """The music in each key, one after the other, and nothing to be transposed, with the `fingers` of `papers`."""
    blocks: list[Block] = []
    for move in moves:
        beside = f"in {move.target.name}, {move.words}" if _moves(move) else f"in {move.target.name}"
        blocks += [*([NewPage()] if blocks else []), *music_of(_there(piece, move, wishes, fingers), beside, wishes)]
    return Document(piece.title, tuple(blocks), FOOT)


def songbook(
    name: str,
    songs: Sequence[tuple[Piece, Transposition, str]],
    wishes: Callable[[Piece], Wishes] = lambda piece: Wishes(),
    fingers: str = PRINTED,
) -> Document:
    """The songs of an occasion in their order, each alone in its key and named for its singer; what they stand on is
    called by `name`.
    """
    blocks: list[Block] = []
    for piece, move, singer in songs:
        whose = f", for {singer}" if singer else ""
        wished = wishes(piece)
        page = music_of(_there(piece, move, wished, fingers), f"in {move.target.name}{whose}", wished)
        blocks += [*([NewPage()] if blocks else []), *page]
    return Document(name, tuple(blocks), FOOT)


def part(piece: Piece, moves: Sequence[Transposition], player: Instrument, wishes: Wishes) -> Document:
    """What an instrument reads to play the tune, the singer's where somebody sings, in each of the keys that sound.

    Raises
    ------
    MusicError
        When the instrument reads no line in a clef that can be written here.
    """
    if not reads_parts(player):
        clef = "shapes of chords" if player.name.startswith(CHORDS_ONLY) else f"the {player.clef} clef"
        raise MusicError(f"No part for {player.name} can be written here, who reads {clef}: choose another instrument.")
    blocks: list[Block] = []
    line = _line(piece)
    for move in moves:
        sounding = transposed(line, move.interval)
        there = writing_for(Concert(move.target), player)
        read = transposed(sounding, there.interval)
        beside = f"for {player.name}, sounds in {move.target.name}"
        blocks += [*([NewPage()] if blocks else []), *music_of(read, beside, replace(wishes, harmony=()))]
    return Document(piece.title, tuple(blocks), FOOT)


def on_paper(
    piece: Piece,
    moves: Sequence[Transposition],
    wishes: Wishes,
    *,
    player: Instrument | None = None,
    fingers: str | None = None,
) -> tuple[Document, str]:
    """A player's part, with `fingers` the music alone, else the sheet to be transposed; and what its file is called.

    Raises
    ------
    MusicError
        As `part`.
    """
    keys = ", ".join(move.target.name for move in moves)
    if player is not None:
        document, kind = part(piece, moves, player, wishes), f" - {player.name} in {keys}"
    elif fingers is not None:
        document, kind = alone(piece, moves, wishes, fingers), f" - in {keys}"
    else:
        document, kind = sheet(piece, moves, wishes), f" - {keys}"
    return document, as_name(piece.title, kind)


def _moves(move: Transposition) -> bool:
    return bool(move.interval.semitones or move.interval.steps)


def _there(piece: Piece, move: Transposition, wishes: Wishes, fingers: str) -> Piece:
    """The piece in a key, with the fingers wished."""
    expected = transposed(piece, move.interval)
    if fingers == NONE:
        return expected.with_notes(replace(note, finger=None) for note in expected.notes)
    if fingers == EVERY:
        found = laid(piece, expected, wishes.hand_size, wishes.own)
        return refingered(expected, {note: finger for hand in found.target.values() for note, finger in hand.items()})
    return served_there(piece, expected, wishes.hand_size, wishes.own)


def _line(piece: Piece) -> Piece:
    """The tune by itself, on one staff."""
    notes = tuple(replace(note, hand=RIGHT, staff=1, voice=1, finger=None) for note in piece.voice)
    return replace(piece, notes=notes, sung=(), singers=(), voice_line=(), lyrics=(), verses=(), chords=(), poet="")
