"""A choir as those who sing together: each part with its line and the voice it is for."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.coaching.singers.accompany import Part, Suits, in_semitones, line_of
from trainer.coaching.singers.voices import CHORAL, Voice, voice
from trainer.music.piece import HANDS, Note, Piece
from trainer.music.pitch import MusicError
from trainer.scores.notation.choir import is_mans
from trainer.scores.notation.parting import voice_kind

# What is asked for in place of a voice.
CHOIR = "choir"
# Who sings the parts that the file gives no name, from the top, by how many women's and men's there are. Ours.
_WOMEN = (("mezzo-soprano",), ("soprano", "contralto"), ("soprano", "mezzo-soprano", "contralto"))
_MEN = (("baritone",), ("tenor", "bass"), ("tenor", "baritone", "bass"))
# A part of a choir that is played has a note in so many of its moments; else it is a voice that comes and goes.
_WHOLE = 0.5
_CALLED = {"contralto": "alto"}
_SOLO = "solo"
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


@dataclass(frozen=True)
class Member:
    """A part of a choir: what it is called, and its line with the voice that sings it."""

    name: str
    part: Part


def choir_of(piece: Piece) -> tuple[Member, ...]:
    """The parts of a choir, over a piano or, where the choir is alone, as they are played.

    Raises
    ------
    MusicError
        When there are no two parts that the file tells apart.
    """
    if piece.singers:
        lines = [(one.name, piece.sung_by(at), one.at_pitch) for at, one in enumerate(piece.singers)]
    else:
        lines = [("", tuple(notes), True) for notes in _played(piece)]
    if len(lines) < 2:
        raise MusicError(f"'{piece.title}' does not tell the parts of a choir apart: ask for one voice alone.")
    voices = _voices([(name, notes) for name, notes, _ in lines])
    parts = [Part(line_of(piece, notes, at_pitch), CHORAL[kind.name], kind)
             for (_, notes, at_pitch), kind in zip(lines, voices, strict=True)]  # fmt: skip
    plain = [_SOLO if re.search(rf"\b{_SOLO}\b", name, re.I) else _CALLED.get(kind.name, kind.name)
             for (name, *_), kind in zip(lines, voices, strict=True)]  # fmt: skip
    return tuple(Member(name, part) for name, part in zip(_numbered(plain), parts, strict=True))


def _played(piece: Piece) -> list[list[Note]]:
    """The lines of a choir without a piano, from the top: of each hand the voices, or those its chords are made of."""
    lines: list[list[Note]] = []
    for hand in HANDS[1:]:
        notes = [note for note in piece.notes if note.hand == hand]
        voices = [[note for note in notes if note.voice == voice] for voice in sorted({note.voice for note in notes})]
        whole = [line for line in voices if len({note.onset for note in line}) > _WHOLE * len(piece.moments)]
        lines += _of_chords(whole[0]) if len(whole) == 1 else whole
    return lines


def _of_chords(line: Sequence[Note]) -> list[list[Note]]:
    """The highest and the lowest notes of a line that mostly goes in chords; else the line."""
    chords: dict[Fraction, list[Note]] = defaultdict(list)
    for note in line:
        chords[note.onset].append(note)
    if 2 * sum(len(chord) > 1 for chord in chords.values()) <= len(chords):
        return [list(line)]
    return [[choose(chord, key=lambda note: note.midi) for chord in chords.values()] for choose in (max, min)]


def _voices(lines: Sequence[tuple[str, Sequence[Note]]]) -> list[Voice]:
    """The voice of each part, by its name; else by its place among the women's or the men's, of whom none has a name,
    or by where it lies.
    """
    mans = [is_mans(name, notes) for name, notes in lines]
    named = [voice_kind(name) for name, _ in lines]
    found = []
    for at, (_, notes) in enumerate(lines):
        like = [one for one, man in zip(named, mans, strict=True) if man == mans[at]]
        table = _MEN if mans[at] else _WOMEN
        # Of more than three the upper ones and the lower ones divide.
        kinds = table[len(like) - 1] if len(like) <= len(table) else table[1]
        by_place = kinds[mans[:at].count(mans[at]) * len(kinds) // len(like)]
        found.append(voice(named[at] or (_nearest(notes, table[2]) if any(like) else by_place)))
    return found


def _nearest(notes: Sequence[Note], kinds: Sequence[str]) -> str:
    middle = (min(note.midi for note in notes) + max(note.midi for note in notes)) / 2
    return min(kinds, key=lambda kind: abs(CHORAL[kind].middle - middle))


def _numbered(names: Sequence[str]) -> list[str]:
    """Names of which no two are alike: ``first soprano``, ``second soprano``."""
    met = Counter[str]()
    found = []
    for name in names:
        found.append(f"{_ORDINALS[met[name]]} {name}" if names.count(name) > 1 else name)
        met[name] += 1
    return found


def at_the_edge(choir: Sequence[Member], row: Sequence[Suits]) -> str:
    """Who leaves their tessitura in a key and by how much, the worst off first; empty for nobody.

    ``tenor a tone high, bass a semitone low``
    """
    passing = sorted((one.fit, at) for at, one in enumerate(row) if not one.inside)
    said = []
    for _, at in passing:
        ways = ((row[at].above, "high"), (row[at].below, "low"))
        said.append(f"{choir[at].name} " + " and ".join(f"{in_semitones(by)} {way}" for by, way in ways if by))
    return ", ".join(said)
