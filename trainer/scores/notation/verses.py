"""Verses: which of them is sung each time round, and the rows in which they stand under the notes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.piece import Bar, Piece, Verse, Word
from trainer.scores.notation.elements import write_lyric
from trainer.scores.notation.preparing import Print, melismas, singing, syllables
from trainer.scores.notation.unfolding import Signs
from trainer.scores.notation.written import Part

Words = tuple[Word, ...]

# Beside the one that is sung; no page prints so many under one staff.
MOST_VERSES = 24
# A page may number its verses in their words.
_NUMBERED = re.compile(r"\d+\s*[.:)]")


def words_of(
    parts: Sequence[Part], order: Sequence[int], bars: Sequence[Bar], signs: Sequence[Signs]
) -> tuple[Words, tuple[Verse, ...]]:
    """What the first part that has words sings, and the further verses printed under the same music.

    Each time a passage comes round its next verse is sung, where it has one; a volta sings the verse of the passage
    that led to it. Verses beyond the last time round stand under the times they would be sung in going on.
    """
    rounds = Counter(order)
    for part in parts:
        words: list[Word] = []
        further: dict[int, list[Word]] = defaultdict(list)
        times: Counter[int] = Counter()
        verse = turns = 1
        for place, bar in zip(order, bars, strict=True):
            times[place] += 1
            if signs[place].ending:
                verse = max(verse, times[place])
            else:
                verse, turns = times[place], rounds[place]
            verses = part.bars[place].lyrics if place < len(part.bars) else {}
            if not verses:
                continue
            own = verse if verses.get(verse) else min(verses)
            words += _placed(verses[own], bar)
            for number in verses:
                if number > turns and number != own and (number - verse) % turns == 0:
                    further[number] += _placed(verses[number], bar)
        if words:
            kept = sorted(further)[:MOST_VERSES]
            return _once(words), tuple(Verse(number, _once(further[number])) for number in kept)
    return (), ()


def _placed(said: Sequence[tuple[Fraction, str]], bar: Bar) -> list[Word]:
    return [Word(bar.onset + at, text) for at, text in sorted(said, key=lambda pair: pair[0])]


def _once(words: Sequence[Word]) -> Words:
    return tuple(dict.fromkeys(words))


@dataclass(frozen=True)
class Row:
    """A row of words under the notes.

    Parameters
    ----------
    number : int
        As the document counts them.
    texts : dict
        By onset each syllable, and whether it goes on from the one before.
    under : dict
        By onset the index of the note it stands under.
    held : set
        Onsets of syllables that are sung on over more heads.
    """

    number: int
    texts: dict[Fraction, tuple[str, bool]]
    under: dict[Fraction, int]
    held: set[Fraction]


def rows_of(piece: Piece, printing: Print | None) -> list[Row]:
    """The words of the melody that is played: in a file all verses, on a page those that `Print.verse` asks for."""
    if printing is None:
        numbered = [(1, piece.lyrics), *((verse.number, verse.words) for verse in piece.verses)]
    elif printing.words and not piece.sung:
        first = 2 if printing.ribbon else 1
        numbered = list(enumerate(_on_page(piece, printing.verse), start=first))
    else:
        return []
    found = []
    for number, words in numbered:
        texts = syllables(words)
        under = singing(piece.notes, texts)
        found.append(Row(number, texts, under, melismas(piece, texts, under)))
    return found


def write_words(element: ET.Element, rows: Sequence[Row], onset: Fraction, notes: Collection[int]) -> None:
    """The syllables that stand under a chord, in the head that stands for it; `notes` are those of the chord."""
    for row in rows:
        if row.under.get(onset) in notes:
            text, joined = row.texts[onset]
            write_lyric(element, text, row.number, joined, onset in row.held)


def verses_in(piece: Piece) -> list[int]:
    """The verses that `Print.verse` tells apart by their rows, each by its number, or that of the first in the row."""
    lines = [piece.verses, *(singer.verses for singer in piece.singers)]
    rows = max((_rows(line) for line in lines), key=len)
    return [1, *(row[0].number for row in rows)]


def _on_page(piece: Piece, verse: int) -> list[Words]:
    """The rows of a page, with their numbers where there are more than one; all of them, or one verse alone, in which
    music without words of its own has those of the first: a refrain is printed once.
    """
    rows = [piece.lyrics]
    if piece.verses:
        rows = [_first_labelled(piece), *map(_row_words, _rows(piece.verses))]
    if verse == 0 or len(rows) == 1:
        return rows
    if not 1 < verse <= len(rows):
        return rows[:1]
    own = rows[verse - 1]
    bars = {piece.bar_index(word.onset) for word in own}
    words = [*own, *(word for word in piece.lyrics if piece.bar_index(word.onset) not in bars)]
    return [tuple(sorted(words, key=lambda word: word.onset))]


def _rows(verses: Sequence[Verse]) -> list[list[Verse]]:
    """Further verses by the row they stand in: such as never meet share one."""
    rows: list[list[Verse]] = []
    for verse in sorted(verses, key=lambda verse: verse.words[0].onset):
        row = next((row for row in rows if row[-1].words[-1].onset < verse.words[0].onset), None)
        if row is None:
            rows.append([verse])
        else:
            row.append(verse)
    return rows


def _row_words(row: Sequence[Verse]) -> Words:
    """The words of a row, each verse with its number."""
    return tuple(word for one in row for word in (_with_number(one.words[0], one.number), *one.words[1:]))


def _first_labelled(piece: Piece) -> Words:
    """The verse that is sung, numbered where others begin under it and where it turns to the next one."""
    begins = {piece.bar_index(verse.words[0].onset) for verse in piece.verses}
    first: dict[tuple[int, Fraction], str] = {}
    words: list[Word] = []
    standing = 0
    done = set[int]()
    for word in piece.lyrics:
        at = piece.bar_index(word.onset)
        time, bar = piece.times_round[at], piece.bars[at]
        # A refrain comes round with the words it had.
        turned = first.setdefault((bar.number, word.onset - bar.onset), word.text) != word.text and time > standing
        fresh = turned or any(one <= at and one not in done for one in begins)
        done |= {one for one in begins if one <= at}
        standing = time if fresh else standing
        words.append(_with_number(word, time) if fresh else word)
    return tuple(words)


def _with_number(word: Word, number: int) -> Word:
    """A syllable with its verse's number, which the engraver hangs before it."""
    return word if _NUMBERED.match(word.text) else replace(word, text=f"{number}. {word.text}")
