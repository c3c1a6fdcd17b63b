"""A passage of a piece as a piece of its own: some bars, one hand, one voice."""

from __future__ import annotations

from dataclasses import replace

from trainer.music.piece import BOTH, KeyChange, Note, Piece, Verse, Word
from trainer.music.pitch import MusicError


def passage(piece: Piece, bars: tuple[int, int] | None = None, hand: str = BOTH, voice: int | None = None) -> Piece:
    """Cut a passage out; it begins at 0, its notes keep their ids.

    Parameters
    ----------
    bars : (first, last) or None
        Indices in `Piece.bars`, both included: a printed number comes again where a repeat is played.
    hand : {"both", "right", "left"}
    voice : int or None
        One voice within each hand.

    Raises
    ------
    MusicError
        When there are no such bars or no notes in them.
    """
    first, last = 0, len(piece.bars)
    if bars is not None:
        if not 0 <= bars[0] <= bars[1] < len(piece.bars):
            raise MusicError(f"There are no such bars: the piece has {len(piece.bars)}, repeats counted.")
        first, last = bars[0], bars[1] + 1
    kept = piece.bars[first:last]
    start, end = kept[0].onset, kept[-1].onset + kept[-1].length

    def line(notes: tuple[Note, ...]) -> tuple[Note, ...]:
        return tuple(
            replace(note, onset=note.onset - start, length=min(note.length, end - note.onset))
            for note in notes
            if start <= note.onset < end
        )

    def words(found: tuple[Word, ...], ends: bool = False) -> tuple[Word, ...]:
        """With `ends` those of hairpins that last as long as the passage, too."""
        return tuple(
            replace(word, onset=word.onset - start)
            for word in found
            if start <= word.onset < end or (ends and word.text == "!" and word.onset == end)
        )

    def verses(found: tuple[Verse, ...]) -> tuple[Verse, ...]:
        cut = (replace(verse, words=words(verse.words)) for verse in found)
        return tuple(verse for verse in cut if verse.words)

    notes = tuple(note for note in piece.notes if hand in (BOTH, note.hand) and (voice is None or note.voice == voice))
    cut = line(notes)
    if not cut:
        raise MusicError("There is nothing to play in that passage: choose other bars, both hands or another voice.")
    keys = [KeyChange(start - start, piece.key_at(start))]
    keys += [KeyChange(change.onset - start, change.key) for change in piece.keys if start < change.onset < end]
    before = [tempo for onset, tempo in piece.tempi if onset <= start]
    tempo = before[-1] if before else piece.tempo
    tempi = ((start - start, tempo), *((on - start, speed) for on, speed in piece.tempi if start < on < end))
    return replace(
        piece,
        notes=cut,
        sung=line(piece.sung),
        bars=tuple(replace(bar, onset=bar.onset - start) for bar in kept),
        keys=tuple(keys),
        tempo=tempo,
        tempi=tempi if piece.tempi else (),
        chords=words(piece.chords),
        directions=words(piece.directions, ends=True),
        lyrics=words(piece.lyrics),
        verses=verses(piece.verses),
        singers=tuple(replace(one, words=words(one.words), verses=verses(one.verses)) for one in piece.singers),
        voice_line=(),
    )
