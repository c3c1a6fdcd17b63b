"""A piece looked through before it is written: names for its notes, staves, ticks, and what stands in which bar."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import TypeVar

from trainer.music.piece import LEFT, RIGHT, Bar, Note, Piece, Word
from trainer.scores.notation.expressing import LIFTED, VOICE, hairpins_closed
from trainer.scores.notation.written import LEFT_VOICES

T = TypeVar("T")
# The middle of a tenor's line lies below this, that of a woman's above it. Ours.
TENORS_BELOW = 64
# Percent of the piano's: usual for the voice over an accompaniment (common practice, no source).
VOICE_SIZE = 75.0


@dataclass(frozen=True)
class Print:
    """What the engraver wants of the document and a file on disk does not.

    Parameters
    ----------
    ribbon : str
        A word put under every note as a lyric, to keep room for syllables there; empty for none.
    fingers, chords : bool
        Print fingerings and chord symbols.
    words : bool
        Print what is sung: words under a melody that is played, else the voice with its words over the piano's staves.
    colours : dict of note index to ``#RRGGBB``
        Notes in another colour.
    expression : bool
        Print how the notes are to be played: slurs, articulations, fermatas, dynamics.
    ending : bool
        Close with the final barline; not for a passage.
    voice_size : float
        In percent of the piano's staves.
    verse : int
        Of the verses under the same music, by their rows from 1; 0 for all.
    """

    ribbon: str = ""
    fingers: bool = True
    chords: bool = True
    words: bool = False
    colours: Mapping[int, str] = field(default_factory=dict)
    expression: bool = False
    ending: bool = True
    voice_size: float = VOICE_SIZE
    verse: int = 1


def unique_names(notes: tuple[Note, ...], by_index: bool) -> list[str]:
    """A name for every note, no two alike: its id, with ``-2`` and so on where it comes again; or by its index."""
    if by_index:
        return [f"k{index}" for index in range(len(notes))]
    taken = {note.id for note in notes}
    names: list[str] = []
    given: set[str] = set()
    for note in notes:
        name, number = note.id, 1
        while name in given or (number > 1 and name in taken):
            number += 1
            name = f"{note.id}-{number}"
        given.add(name)
        names.append(name)
    return names


def tied_name(name: str, used: set[str]) -> str:
    """A name for one more head of a note written with several, tied: unlike all in `used`, to which it is added."""
    number = 1
    while f"{name}-t{number}" in used:
        number += 1
    used.add(f"{name}-t{number}")
    return f"{name}-t{number}"


def staves_of(piece: Piece) -> dict[int, str]:
    """Staff number to its home clef: two staves for two hands or a hand that crosses, else one."""
    hands = piece.hands
    if len(hands) == 2 or len({note.staff for note in piece.notes}) == 2:
        return {1: "G", 2: "F"}
    return {1: "F" if hands == (LEFT,) else "G"}


def is_tenors(piece: Piece) -> bool:
    """Whether a line with words takes the treble clef with an 8 under it: its page says the octave, and it is low."""
    low = sum(note.midi for note in piece.notes) < TENORS_BELOW * len(piece.notes)
    return low and piece.at_pitch and bool(piece.lyrics) and len(staves_of(piece)) == 1 and piece.hands == (RIGHT,)


def divisions_of(piece: Piece, bars: tuple[Bar, ...]) -> int:
    """Ticks in a quarter note, so that every place of the piece is a whole number of them."""
    found = 1
    places = [f for n in piece.notes for f in (n.onset, n.length)] + [f for b in bars for f in (b.onset, b.length)]
    places += [word.onset for word in (*piece.chords, *piece.directions)] + [onset for onset, _ in piece.tempi]
    for place in places:
        found = lcm(found, place.denominator)
    # Values inside a tied length may be finer than its ends.
    return lcm(found, 8)


def by_bar(bars: tuple[Bar, ...], things: Iterable[tuple[Fraction, T]]) -> dict[int, list[tuple[Fraction, T]]]:
    """Things with their onsets, by the index of the bar they stand in."""
    onsets = [bar.onset for bar in bars]
    found: dict[int, list[tuple[Fraction, T]]] = defaultdict(list)
    for onset, thing in things:
        found[max(bisect_right(onsets, onset) - 1, 0)].append((onset, thing))
    return found


def said_in(
    bars: tuple[Bar, ...], directions: Sequence[Word], staves: Mapping[int, str]
) -> dict[int, list[tuple[Fraction, str, int | None]]]:
    """By bar, what is said to the pianist of how it is played: onset, text, staff of two. A hairpin that ends with a
    bar, or a pedal that is lifted with it, ends in it, not at the next one, which may be on the next system.
    """
    onsets = [bar.onset for bar in bars]
    found: dict[int, list[tuple[Fraction, str, int | None]]] = defaultdict(list)
    for word in hairpins_closed(directions):
        if word.place == VOICE or (word.place == LEFT and staves == {1: "G"}):
            continue
        at = (bisect_left if word.text in ("!", LIFTED) else bisect_right)(onsets, word.onset) - 1
        staff = (2 if word.place == LEFT else 1) if len(staves) == 2 else None
        found[max(at, 0)].append((word.onset, word.text, staff))
    return found


def syllables(words: Sequence[Word]) -> dict[Fraction, tuple[str, bool]]:
    """By onset, each syllable and whether it goes on from the one before."""
    joins = (False, *(word.text.endswith("-") for word in words))
    return {word.onset: (word.text, joined) for word, joined in zip(words, joins, strict=False)}


def singing(notes: Sequence[Note], words: Iterable[Fraction]) -> dict[Fraction, int]:
    """For each onset that has words, the note they stand under: the right hand's and the first voice's before others,
    for the melody of a bass, or of a voice that divides, is in another hand or voice.
    """
    onsets = set(words)
    found: dict[Fraction, tuple[bool, int, int]] = {}
    for index, note in enumerate(notes):
        if note.onset in onsets and not note.grace:
            place = (note.hand == LEFT, note.voice, index)
            found[note.onset] = min(place, found.get(note.onset, place))
    return {onset: index for onset, (_, _, index) in found.items()}


def melismas(piece: Piece, words: Mapping[Fraction, tuple[str, bool]], under: Mapping[Fraction, int]) -> set[Fraction]:
    """Onsets of the syllables that end a word and are sung on over more heads, which a line after them shows.

    Parameters
    ----------
    words, under : mapping
        As `syllables` and `singing` give them. Notes without a syllable are sung on where one slur holds them all.
    """
    ends = {sign[1:]: note.onset for note in piece.notes for sign in note.signs if sign[0] == ")"}
    lines: dict[tuple[str, int], list[Fraction]] = defaultdict(list)
    for note in piece.notes:
        if not note.grace:
            lines[note.hand, note.voice].append(note.onset)
    found = set()
    for onset, following in pairwise((*sorted(under), piece.length)):
        note = piece.notes[under[onset]]
        line = lines[note.hand, note.voice]
        last = line[bisect_left(line, following) - 1]
        slurred = "(" in note.signs and ends.get(note.id, onset) >= last > onset
        bar = piece.bar_at(onset) if piece.bars else None
        tied = last == onset and bar is not None and note.end > bar.onset + bar.length
        if (slurred or tied) and not words[onset][0].endswith("-"):
            found.add(onset)
    return found


def stems_apart(home: Mapping[int, set[int]], on: Mapping[int, set[int]]) -> dict[int, str]:
    """Stems of the voices of a staff that a third one crosses into, which the engraver would turn all one way.

    Parameters
    ----------
    home : mapping of staff to voices
        The voices of one bar that belong to each staff.
    on : mapping of voice to staves
        Where its notes stand in that bar.
    """
    stems: dict[int, str] = {}
    for staff, voices in home.items():
        own = [voice for voice in sorted(voices) if on[voice] == {staff}]
        if len(own) > 1 and any(staff in on[voice] for voice in on if voice not in voices):
            stems |= {voice: "up" if voice == own[0] else "down" for voice in own}
    return stems


def voices_by_staff(voices: Iterable[int], staves: Mapping[int, str]) -> dict[int, set[int]]:
    """Of the voices of a bar those that belong to each staff; one that has none gets its first."""
    home: dict[int, set[int]] = {staff: set() for staff in staves}
    for voice in voices:
        home[2 if voice > LEFT_VOICES and len(staves) == 2 else 1].add(voice)
    for staff in staves:
        home[staff] = home[staff] or {1 + (LEFT_VOICES if staff == 2 else 0)}
    return home


def spread(
    notes: Sequence[Note], voices: Sequence[int], bars: tuple[Bar, ...]
) -> tuple[list[dict[int, list[tuple[int, Fraction, Fraction]]]], dict[tuple[int, Fraction], list[int]]]:
    """Per bar and voice the notes that sound, by index, onset and end; and grace notes by voice and onset.

    `voices`: of each note.
    """
    onsets = [bar.onset for bar in bars]
    sounding: list[dict[int, list[tuple[int, Fraction, Fraction]]]] = [defaultdict(list) for _ in bars]
    graces: dict[tuple[int, Fraction], list[int]] = defaultdict(list)
    latest: dict[tuple[int, int], int] = {}
    spans: dict[int, tuple[Fraction, Fraction]] = {}
    for index, (note, voice) in enumerate(zip(notes, voices, strict=True)):
        if note.grace or not note.length:
            graces[voice, note.onset].append(index)
            continue
        before = latest.get((voice, note.midi))
        if before is not None and spans[before][0] < note.onset < spans[before][1]:
            # One key cannot sound twice in a voice: the earlier note ends where the later begins.
            spans[before] = (spans[before][0], note.onset)
        spans[index] = (note.onset, note.end)
        latest[voice, note.midi] = index
    for index, (onset, end) in spans.items():
        at = max(bisect_right(onsets, onset) - 1, 0)
        while at < len(bars) and bars[at].onset < end:
            sounding[at][voices[index]].append((index, onset, end))
            at += 1
    return sounding, graces
