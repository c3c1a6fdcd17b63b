"""What is sung over a piano: who shares a staff with whom, and whose words are printed.

A choir stands as in its short score: two parts to a staff, stems up and down, women above and men below, with words
once where all sing them together. Who sings other words, or lies far away, has a staff. Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import accumulate

from trainer.music.piece import VOICES_A_SINGER, Note, Piece, Singer, Verse, Word, singer_of, sorted_notes
from trainer.music.transpose import OCTAVE
from trainer.scores.notation.expressing import VOICE
from trainer.scores.notation.parting import voice_kind
from trainer.scores.notation.preparing import unique_names

# More than a duet is a choir.
_CHOIR = 3
# So many staves, of two lines each, leave the piano its room on every page.
_MOST_STAVES = 4
MOST_SUNG = 2 * _MOST_STAVES
# How far apart two lines may lie on one staff, those of a choir further.
_OCTAVE, _TWELFTH = 12, 19
# A line whose middle lies below this is a man's, above a tenor's and below an alto's; a tenor's whose middle lies above
# the other is written an octave higher than it sounds. Both ours.
_MENS_BELOW = 62
_TENOR_BELOW = 66
# Syllables so near in quarters, all but so many of them, are sung together: voices move in other values now and then.
_NEAR = 1.0
# More than the rounding of an onset.
_CRUMB = 1e-6
_FEW = 0.05


@dataclass(frozen=True)
class Sung:
    """A line that is sung.

    Parameters
    ----------
    name : str
    notes : tuple of Note
        In order of onset, voices numbered in any way.
    words : tuple of Word
    verses : tuple of Verse
    at_pitch : bool
        Whether the page says the octave it is sung in.
    """

    name: str
    notes: tuple[Note, ...]
    words: tuple[Word, ...]
    verses: tuple[Verse, ...] = ()
    at_pitch: bool = False

    @cached_property
    def height(self) -> float:
        return _height(self.notes)

    @cached_property
    def _starts(self) -> list[float]:
        # Fractions are compared slowly.
        return [float(note.onset) for note in self.notes]

    @cached_property
    def _ends(self) -> list[float]:
        """Until when any of the notes up to each sounds."""
        return list(accumulate((float(note.end) for note in self.notes), max))

    @cached_property
    def _said(self) -> dict[str, list[float]]:
        """Where each syllable is sung."""
        found: dict[str, list[float]] = defaultdict(list)
        for word in self.words:
            found[_plain(word.text)].append(float(word.onset))
        return found

    def in_verse(self, number: int) -> Sung:
        """The line with the words of a further verse."""
        words = next((verse.words for verse in self.verses if verse.number == number), ())
        return replace(self, words=words, verses=())

    def sounds_at(self, onset: float) -> bool:
        at = bisect_right(self._starts, onset + _CRUMB)
        return at > 0 and self._ends[at - 1] > onset + _CRUMB

    def says(self, word: Word) -> bool:
        """Whether this line sings a syllable, too, at about its place."""
        onsets = self._said.get(_plain(word.text), [])
        place = float(word.onset)
        at = bisect_left(onsets, place - _NEAR)
        return at < len(onsets) and onsets[at] <= place + _NEAR and self.sounds_at(place)


def is_mans(name: str, notes: Sequence[Note]) -> bool:
    """Whether a man sings a line, by its name or by where it lies."""
    kind = voice_kind(name)
    return kind in ("tenor", "baritone", "bass") if kind else _height(notes) < _MENS_BELOW


def _height(notes: Sequence[Note]) -> float:
    return sum(note.midi for note in notes) / max(len(notes), 1)


def over_the_piano(lines: Sequence[Sung]) -> tuple[tuple[Note, ...], tuple[Singer, ...]]:
    """The notes of `Piece.sung` and whose they are; the words of the first are `Piece.lyrics`."""
    staves = _staves(lines[:MOST_SUNG])
    # Only a duet on two staves has the same words twice.
    short = any(len(staff) > 1 for staff in staves)
    notes: list[Note] = []
    singers: list[Singer] = []
    above: list[Sung] = []
    for number, staff in enumerate(staves, start=1):
        for at, line in enumerate(staff):
            over = above if short else []
            words = _of_its_own(line, over, staff[:at]) if singers else ()
            verses = _verses_of_its_own(line, over, staff[:at]) if singers else ()
            notes += _in_voices(line.notes, len(singers), number)
            singers.append(Singer(line.name, words, line.at_pitch, verses))
        above = above + staff
    return sorted_notes(notes), tuple(singers)


def _staves(lines: Sequence[Sung]) -> list[list[Sung]]:
    """Who stands on which staff, from the top."""
    if len(lines) < _CHOIR:
        return _paired(lines, _OCTAVE)
    lines = [_as_it_sounds(line) for line in lines]
    staves = _paired(lines, _TWELFTH)
    if len(staves) > _MOST_STAVES:
        staves = _paired(lines, _TWELFTH, all_together=True)
    return staves if len(staves) <= _MOST_STAVES else [list(lines[at : at + 2]) for at in range(0, len(lines), 2)]


def _paired(lines: Sequence[Sung], apart: int, all_together: bool = False) -> list[list[Sung]]:
    """Two women or two men that lie less than `apart` from each other and sing together share a staff."""
    staves: list[list[Sung]] = []
    # Those with whose words the latest line goes.
    company: list[Sung] = []
    for line in lines:
        together = all_together or _sing_together(line, company)
        company = [*company, line] if together else [line]
        if together and staves and len(staves[-1]) == 1 and _is_near(staves[-1][0], line, apart):
            staves[-1].append(line)
        else:
            staves.append([line])
    return staves


def _is_near(upper: Sung, lower: Sung, apart: int) -> bool:
    alike = is_mans(upper.name, upper.notes) == is_mans(lower.name, lower.notes)
    return alike and abs(upper.height - lower.height) < apart


def _as_it_sounds(line: Sung) -> Sung:
    """In a choir a tenor in the treble clef sings an octave lower, with an 8 under it or without."""
    if voice_kind(line.name) != "tenor" or line.at_pitch or line.height < _TENOR_BELOW:
        return line
    lower = tuple(replace(note, pitch=note.pitch + -OCTAVE) for note in line.notes)
    return replace(line, notes=lower, at_pitch=True)


def _sing_together(line: Sung, others: Sequence[Sung]) -> bool:
    """Whether the words of some do for a line: those who sing when it does say nearly all of its syllables."""
    said = [other for other in others if other.words]
    own = [
        word
        for word in line.words
        if any(one.sounds_at(float(word.onset)) for one in said) and not any(one.says(word) for one in said)
    ]
    return len(own) <= _FEW * len(line.words)


def _of_its_own(line: Sung, above: Sequence[Sung], beside: Sequence[Sung]) -> tuple[Word, ...]:
    """The words printed for a line: what none of those above sings with it, and on one staff with another what it sings
    while that rests; all of them where too few are sung by those above.
    """
    if not beside and not _sing_together(line, above):
        return line.words
    return tuple(
        word
        for word in line.words
        if not any(one.says(word) for one in above)
        and not any(one.words and one.sounds_at(float(word.onset)) for one in beside)
    )


def _verses_of_its_own(line: Sung, above: Sequence[Sung], beside: Sequence[Sung]) -> tuple[Verse, ...]:
    """As `_of_its_own`, of each further verse."""
    found = []
    for number in (verse.number for verse in line.verses):
        others = ([one.in_verse(number) for one in lines] for lines in (above, beside))
        found.append(Verse(number, _of_its_own(line.in_verse(number), *others)))
    return tuple(verse for verse in found if verse.words)


def _plain(text: str) -> str:
    return re.sub(r"\W", "", text).lower()


def _in_voices(notes: Iterable[Note], singer: int, staff: int) -> list[Note]:
    """The notes of a singer in two voices, however the file numbers them: the chief one of the first is odd, of all
    others even, for its stems go down where it is the lower one of a staff.
    """
    used = sorted({note.voice for note in notes})
    first = 1 + VOICES_A_SINGER * singer
    chief, other = (first + 1, first) if singer else (first, first + 1)
    return [replace(n, voice=chief if n.voice == used[0] else other, staff=staff) for n in notes]


def is_choir(piece: Piece) -> bool:
    """Whether more than two sing over the piano."""
    return len(piece.singers) >= _CHOIR


def staves_above(piece: Piece) -> list[Piece]:
    """What is sung over a piano part, a piece for every staff."""
    return [_staff(piece, number) for number in sorted({note.staff for note in piece.sung})]


def lines_above(piece: Piece) -> list[Piece]:
    """What is sung over a piano part, a piece for every singer with all they sing, called by their name: as a file has
    it. Ids are told apart from those of the piano.
    """
    found: list[Piece] = []
    names = unique_names((*piece.notes, *piece.sung), by_index=False)[len(piece.notes) :]
    sung = tuple(replace(note, id=name) for note, name in zip(piece.sung, names, strict=True))
    for number, singer in enumerate(piece.singers):
        notes = tuple(note for note in sung if singer_of(note) == number)
        one = singer if number else Singer(singer.name, piece.lyrics, piece.at_pitch, piece.verses)
        starts = {note.onset for note in notes}
        verses = (Verse(0, one.words), *one.verses)
        said = {verse.number: {word.onset: word for word in verse.words} for verse in verses}
        # On the page what is sung together is printed once: whoever begins a note there sings it, too.
        for above in found:
            for verse in (Verse(0, above.lyrics), *above.verses):
                own = said.setdefault(verse.number, {})
                own |= {word.onset: word for word in verse.words if word.onset in starts and word.onset not in own}
        words, *further = (
            Verse(at, tuple(own[onset] for onset in sorted(own))) for at, own in sorted(said.items()) if own or not at
        )
        found.append(
            replace(
                piece,
                title=one.name,
                notes=tuple(replace(note, voice=_stemmed(note, number), staff=1) for note in notes),
                chords=(),
                lyrics=words.words,
                verses=tuple(further),
                at_pitch=one.at_pitch,
                directions=() if number else _told_the_singer(piece),
                sung=(),
                singers=(),
            )
        )
    return found


def _staff(piece: Piece, number: int) -> Piece:
    notes = [note for note in piece.sung if note.staff == number]
    on = sorted({singer_of(note) for note in notes})
    # By number; the first stands for the one that is sung.
    said: dict[int, dict[Fraction, Word]] = {0: {}}
    for singer in on:
        one = piece.singers[singer] if singer else Singer(words=piece.lyrics, verses=piece.verses)
        for verse in (Verse(0, one.words), *one.verses):
            said[verse.number] = {word.onset: word for word in verse.words} | said.get(verse.number, {})
    sung, *verses = (
        Verse(number, tuple(words[onset] for onset in sorted(words))) for number, words in sorted(said.items())
    )
    return replace(
        piece,
        notes=tuple(replace(note, voice=_stemmed(note, on[0]), staff=1) for note in notes),
        lyrics=sung.words,
        verses=tuple(verses),
        at_pitch=all(piece.singers[singer].at_pitch if singer else piece.at_pitch for singer in on),
        directions=() if on[0] else _told_the_singer(piece),
        sung=(),
        singers=(),
    )


def _told_the_singer(piece: Piece) -> tuple[Word, ...]:
    """What is said to the first singer, as it stands at that line."""
    return tuple(replace(word, place="") for word in piece.directions if word.place == VOICE)


def _stemmed(note: Note, top: int) -> int:
    """The voice of a note on its staff: the upper singer has 1 and 2, alone with stems both ways, the lower 4 and 3."""
    singer = singer_of(note)
    chief = (note.voice % 2 == 0) == (singer > 0)
    return (1 if chief else 2) if singer == top else (4 if chief else 3)
