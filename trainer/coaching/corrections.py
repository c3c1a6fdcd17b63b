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

import re
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores.harmony import Correction
from trainer.scores.numerals import parse
from trainer.scores.plain import Entry, read_plain, write_plain

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
        for bar in piece.bars:
            onset = bar.onset + (beat - 1) * bar.beat_quarters
            if bar.number == number and onset < bar.onset + bar.length:
                parse(figure, piece.key_at(onset).mode)
                found.append(Correction(onset, figure))
    return tuple(found)


def keep(folder: Path, piece: Piece, correction: Correction) -> None:
    """Keep one correction, in place of any at the same bar and beat; an empty figure takes it away again."""
    import tomlkit

    if correction.figure:
        parse(correction.figure, piece.key_at(correction.onset).mode)
    bar = piece.bar_at(correction.onset)
    beat = (correction.onset - bar.onset) / bar.beat_quarters + 1
    document = read_plain(folder / FILE)
    if document is None:
        document = tomlkit.document()
        document.add(tomlkit.comment("Chords named by the player: bar, beat and Roman numeral. You may edit this."))
    rows = [dict(row) for row in document.get("chord", [])]
    here = (piece.title, bar.number, _words(beat))
    rows = [row for row in rows if (row.get("piece"), row.get("bar"), row.get("beat")) != here]
    if correction.figure:
        rows.append({"piece": here[0], "bar": here[1], "beat": here[2], "numeral": correction.figure})
    document["chord"] = _tables(rows)
    write_plain(folder / FILE, tomlkit.dumps(document))


def _tables(rows: Iterable[dict[str, object]]) -> object:
    import tomlkit

    tables = tomlkit.aot()
    for row in rows:
        table = tomlkit.table()
        table.update(row)
        tables.append(table)
    return tables


def _beat(entry: Entry) -> Fraction:
    text = entry.text("beat")
    match = re.fullmatch(r"(\d{1,3})(?: (\d{1,4})/(\d{1,4}))?", text.strip())
    if not match or (match[3] and not int(match[3])) or not int(match[1]):
        raise MusicError(f'{entry.where}: beat must be like "3" or "2 1/2", counted from 1.')
    return int(match[1]) + (Fraction(int(match[2]), int(match[3])) if match[3] else Fraction(0))


def _words(beat: Fraction) -> str:
    whole = beat.numerator // beat.denominator
    rest = beat - whole
    return f"{whole} {rest.numerator}/{rest.denominator}" if rest else str(whole)
