"""The player's own word on the harmony of a piece, kept as plain data.

``harmony.toml`` in the journal's folder::

    [[chord]]
    piece = "Aura Lee"
    bar = 3
    beat = "2 1/2"        # felt beats from 1, as a whole or mixed number
    numeral = "V7/V"

It holds wherever that bar is played, in every repeat.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from trainer.coaching.own.beats import beat_of, beat_words, onsets_of, place_of
from trainer.music.piece import Piece
from trainer.scores.harmony import Correction
from trainer.scores.numerals import parse
from trainer.scores.plain import LARGEST, Entry, blocks, read_plain, write_plain

FILE = "harmony.toml"


def load(folder: Path, piece: Piece) -> tuple[Correction, ...]:
    """The corrections kept for a piece, by its title.

    Raises
    ------
    MusicError
        Saying which entry is wrong.
    """
    document = read_plain(folder / FILE)
    found: list[Correction] = []
    for entry in Entry.each(document or {}, "chord", FILE):
        if entry.text("piece").casefold() != piece.title.casefold():
            continue
        number, beat, figure = int(entry.number("bar")), _beat(entry), entry.text("numeral")
        for onset in onsets_of(piece, number, beat):
            parse(figure, piece.key_at(onset).mode)
            found.append(Correction(onset, figure))
    return tuple(found)


def keep(folder: Path, piece: Piece, correction: Correction) -> None:
    """Keep one correction, in place of any at the same bar and beat; an empty figure takes it away again.

    Whatever else stands in the file, comments too, is left as it is.

    Raises
    ------
    MusicError
        When the figure is no Roman numeral, or the file cannot be read or written; then nothing is changed.
    """
    import tomlkit

    if correction.figure:
        parse(correction.figure, piece.key_at(correction.onset).mode)
    bar, beat = place_of(piece, correction.onset)
    document = read_plain(folder / FILE)
    if document is None:
        document = tomlkit.document()
        document.add(tomlkit.comment("Chords named by the player: bar, beat and Roman numeral. You may edit this."))
    title = piece.title.casefold()
    entries = list(Entry.each(document, "chord", FILE))
    here = [
        number
        for number, entry in enumerate(entries)
        if entry.text("piece").casefold() == title and entry.number("bar") == bar and _beat(entry) == beat
    ]
    chords = blocks(document, "chord")
    for number in reversed(here[bool(correction.figure) :]):
        del chords[number]
    if correction.figure and here:
        chords[here[0]]["numeral"] = correction.figure
    elif correction.figure:
        row = tomlkit.table()
        row.update({"piece": piece.title, "bar": bar, "beat": beat_words(beat), "numeral": correction.figure})
        chords.append(row)
    if not chords:
        # An empty list would be written as one.
        document.pop("chord", None)
    write_plain(folder / FILE, tomlkit.dumps(document), LARGEST)


def _beat(entry: Entry) -> Fraction:
    return beat_of(entry.text("beat"), entry.where)
