"""A piece: notes, moments, bars and keys, as values.

All times are in quarter notes from the start of the unfolded piece, as `Fraction`, so that triplets stay exact.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch

RIGHT = "right"
LEFT = "left"
BOTH = "both"
HANDS = (BOTH, RIGHT, LEFT)


def hands_named(hands: str) -> str:
    """A choice of hands in words.

    >>> [hands_named(hands) for hands in HANDS]
    ['both hands', 'right hand', 'left hand']
    """
    return "both hands" if hands == BOTH else f"{hands} hand"


# Of a line that is sung over the piano: its own and one where it divides.
VOICES_A_SINGER = 2

_TIMES = {2: "second", 3: "third", 4: "fourth"}


@dataclass(frozen=True, slots=True)
class Note:
    """One note to be played, ties already joined.

    Parameters
    ----------
    id : str
        The note's id in the file; a note heard again in a repeat keeps it, so only the note's index in
        `Piece.notes` is unique.
    pitch : SpelledPitch
    onset, length : Fraction
        Quarter notes from the start; a grace note has length 0 and the onset of the note it leans on.
    hand : str
        ``right`` or ``left``.
    voice : int
        Voice within the hand, from 1.
    finger : int or None
        The printed finger, 1 to 5.
    grace : bool
        Written small, without time of its own.
    optional : bool
        The player may leave it out without a mark (grace notes, and notes written out from ornaments).
    ornament : str
        ``trill``, ``mordent``, ``turn``, ``tremolo``, ``arpeggio`` or
        empty: extra presses near the pitch belong to it.
    staff : int
        1 upper, 2 lower, as written (cross-staff notes may differ from the hand).
    signs : tuple of str
        How it is played: articulations, a fermata, ends of slurs; what each says is in `scores.notation.expressing`.
    """

    id: str
    pitch: SpelledPitch
    onset: Fraction
    length: Fraction
    hand: str = RIGHT
    voice: int = 1
    finger: int | None = None
    grace: bool = False
    optional: bool = False
    ornament: str = ""
    staff: int = 1
    signs: tuple[str, ...] = ()

    @property
    def midi(self) -> int:
        return self.pitch.midi

    @property
    def end(self) -> Fraction:
        return self.onset + self.length


# The symbol of a bar whose meter the page does not show.
UNSHOWN = "unshown"
# More than the rounding of any onset in quarters as a float.
_NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as it is played: printed number, start and length in quarters, meter (beats, unit).

    `symbol`: ``common`` or ``cut`` where the page shows the meter as C or as C struck through, `UNSHOWN` where it shows
    none: music without meter is counted in the quarters its bar has.
    """

    number: int
    onset: Fraction
    length: Fraction
    meter: tuple[int, int] = (4, 4)
    symbol: str = ""

    @property
    def words(self) -> str:
        """``bar 3``; a pickup is the ``upbeat``."""
        return f"bar {self.number}" if self.number else "upbeat"

    @property
    def beat_quarters(self) -> Fraction:
        """One felt beat in quarters: a dotted quarter in 6/8, 9/8, 12/8; the written unit otherwise."""
        beats, unit = self.meter
        compound = unit >= 8 and beats % 3 == 0 and beats > 3 and self.symbol != UNSHOWN
        return Fraction(4, unit) * (3 if compound else 1)


@dataclass(frozen=True, slots=True)
class Moment:
    """All notes written at one onset, both hands: indices into `Piece.notes`."""

    onset: Fraction
    notes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class KeyChange:
    """From `onset` on the music stands in `key`."""

    onset: Fraction
    key: Key


@dataclass(frozen=True, slots=True)
class Word:
    """A sung syllable, a chord symbol or a dynamic at an onset.

    `place` of a dynamic: empty for both hands, ``left`` for the left hand alone, under its staff; ``voice`` for the
    singer.
    """

    onset: Fraction
    text: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class Verse:
    """A further verse, printed under the same music as the one that is sung; its number and at least one syllable."""

    number: int
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True)
class Singer:
    """One who sings over the piano, or one part of a choir; the notes are in `Piece.sung`.

    Parameters
    ----------
    name : str
        What the part is called in the file.
    words : tuple of Word
        What is printed for this one beside `Piece.lyrics`: nothing where those above sing the same.
    at_pitch : bool
        The line says its octave itself (a treble clef with an 8 under it, a part that transposes).
    verses : tuple of Verse
        As `words`, of further verses.
    """

    name: str = ""
    words: tuple[Word, ...] = ()
    at_pitch: bool = False
    verses: tuple[Verse, ...] = ()


def singer_of(note: Note) -> int:
    """Whose a note of `Piece.sung` is: an index in `Piece.singers`."""
    return (note.voice - 1) // VOICES_A_SINGER


@dataclass(frozen=True)
class Piece:
    """Written music.

    Parameters
    ----------
    notes : tuple of Note
        In order of onset, then grace notes first, then from low to high.
    bars : tuple of Bar
        In playing order, repeats unfolded; a pickup bar has number 0.
    keys : tuple of KeyChange
        At least one, the first at or before the first note.
    tempo : float
        Quarter notes a minute at the start.
    tempi : tuple of (onset, quarters a minute)
        Every written tempo, the first included.
    voice_line : tuple of int
        Indices in `notes` of the line that is sung, where it is also played.
    sung : tuple of Note
        What is sung over the piano part that alone is in `notes`: everybody's line in voices of its own (`singer_of`),
        on the staves over the piano's, 1 at the top (`scores.notation.choir`).
    singers : tuple of Singer
        Whose those lines are.
    directions : tuple of Word
        Dynamics, hairpins and words between the staves (`scores.notation.expressing`).
    at_pitch : bool
        The line that is sung, the first one's, says its octave itself.
    verses : tuple of Verse
        Those printed under `lyrics` and sung no time round.
    poet : str
        Whose the words are.
    """

    title: str
    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    keys: tuple[KeyChange, ...]
    tempo: float = 90.0
    tempi: tuple[tuple[Fraction, float], ...] = ()
    composer: str = ""
    origin: str = ""
    source: str = ""
    licence: str = ""
    key_confidence: float = 1.0
    chords: tuple[Word, ...] = ()
    lyrics: tuple[Word, ...] = ()
    voice_line: tuple[int, ...] = field(default=(), compare=False)
    sung: tuple[Note, ...] = ()
    singers: tuple[Singer, ...] = ()
    directions: tuple[Word, ...] = ()
    at_pitch: bool = field(default=False, compare=False)
    verses: tuple[Verse, ...] = ()
    poet: str = ""

    @property
    def by(self) -> str:
        """Who it is by, for its head: the composer, or where it comes from, and whose the words are."""
        words = f"words by {self.poet}" if self.poet else ""
        return ", ".join(part for part in (self.composer or self.origin, words) if part)

    @property
    def key(self) -> Key:
        """The written key: the one the piece starts in."""
        return self.keys[0].key

    def key_at(self, onset: Fraction) -> Key:
        """The key that stands at an onset."""
        at = bisect_right([change.onset for change in self.keys], onset) - 1
        return self.keys[max(at, 0)].key

    @cached_property
    def moments(self) -> tuple[Moment, ...]:
        """Notes grouped by onset, in order."""
        found: list[tuple[Fraction, list[int]]] = []
        for index, note in enumerate(self.notes):
            if found and found[-1][0] == note.onset:
                found[-1][1].append(index)
            else:
                found.append((note.onset, [index]))
        return tuple(Moment(onset, tuple(indices)) for onset, indices in found)

    @cached_property
    def moment_of(self) -> tuple[int, ...]:
        """For each note, the index of its moment."""
        places = [0] * len(self.notes)
        for at, moment in enumerate(self.moments):
            for index in moment.notes:
                places[index] = at
        return tuple(places)

    @cached_property
    def printed(self) -> tuple[int, ...]:
        """For each moment the first one that is the same on the page: a note heard again in a repeat keeps its id."""
        seen: dict[str, int] = {}
        places = []
        for at, moment in enumerate(self.moments):
            ids = [self.notes[note].id for note in moment.notes]
            places.append(next((seen[one] for one in ids if one in seen), at))
            seen.update(dict.fromkeys(ids, places[-1]))
        return tuple(places)

    @cached_property
    def printed_next(self) -> dict[int, set[int]]:
        """For each place of `printed` those that come after it, any time round."""
        found: dict[int, set[int]] = {}
        for here, there in pairwise(self.printed):
            found.setdefault(here, set()).add(there)
        return found

    @cached_property
    def _bar_onsets(self) -> tuple[float, ...]:
        return tuple(float(bar.onset) for bar in self.bars)

    def bar_index(self, onset: Fraction) -> int:
        """Index in `bars` of the bar that holds an onset."""
        # Fractions are compared slowly: floats find the bar, and only what they cannot tell apart is compared.
        at = bisect_right(self._bar_onsets, float(onset) + _NEAR) - 1
        while at > 0 and self.bars[at].onset > onset:
            at -= 1
        return max(at, 0)

    def bar_at(self, onset: Fraction) -> Bar:
        return self.bars[self.bar_index(onset)]

    @property
    def printed_bars(self) -> int:
        """How many bars are printed and numbered: those of a repeat once, the pickup not."""
        return len({bar.number for bar in self.bars if bar.number})

    @cached_property
    def times_round(self) -> tuple[int, ...]:
        """Which time each bar is played, from 1; two halves of a bar, divided by a repeat's sign, are one time."""
        found: dict[int, int] = {}
        times = []
        before: Bar | None = None
        for bar in self.bars:
            whole = Fraction(4 * bar.meter[0], bar.meter[1])
            halves = before is not None and before.number == bar.number and before.length + bar.length <= whole
            found[bar.number] = found.get(bar.number, 0) + (not halves)
            times.append(found[bar.number])
            before = bar
        return tuple(times)

    def time_words(self, index: int) -> str:
        """Which time the bar at an index of `bars` is played: empty the first, then `` (second time)``."""
        times = self.times_round[index] if self.bars else 1
        if times < 2:
            return ""
        return f" ({_TIMES[times]} time)" if times in _TIMES else f" (time {times})"

    @cached_property
    def begun(self) -> tuple[Fraction, ...]:
        """Quarters of its whole bar that are over as each bar begins: those before a pickup, each time it comes, and
        those before a repeat's sign that divides a bar, whose halves have one number.
        """
        found: list[Fraction] = []
        divided: set[int] = set()
        pickups = {(bar.number, bar.length) for bar in self.bars[:1]}
        for at, bar in enumerate(self.bars):
            lacks = max(Fraction(4 * bar.meter[0], bar.meter[1]) - bar.length, Fraction(0))
            before = self.bars[at - 1]
            goes_on = at > 0 and not found[-1] and before.length == lacks and bar.number in {before.number, *divided}
            divided |= {bar.number} if goes_on else set()
            found.append(lacks if not bar.number or (bar.number, bar.length) in pickups or goes_on else Fraction(0))
        return tuple(found)

    def beat_at(self, onset: Fraction) -> Fraction:
        """Beat within the bar, from 1, in the bar's felt beats; a pickup counts from the bar's end."""
        index = self.bar_index(onset)
        bar = self.bars[index]
        return (onset - bar.onset + self.begun[index]) / bar.beat_quarters + 1

    @cached_property
    def length(self) -> Fraction:
        """Quarters from 0 to the end of the last bar or note."""
        ends = [note.end for note in self.notes] + [bar.onset + bar.length for bar in self.bars]
        return max(ends, default=Fraction(0))

    @cached_property
    def hands(self) -> tuple[str, ...]:
        """The hands that have notes, right first."""
        return tuple(hand for hand in (RIGHT, LEFT) if any(note.hand == hand for note in self.notes))

    @property
    def voice(self) -> tuple[Note, ...]:
        """The line a singer sings: the voice part, else the notes marked as voice, else the top of the right hand."""
        if self.sung:
            return self.sung_by(0)
        if self.voice_line:
            return tuple(self.notes[index] for index in self.voice_line)
        tops: dict[Fraction, Note] = {}
        for note in self.only_hand(RIGHT).notes or self.notes:
            if not note.optional and (note.onset not in tops or note.midi > tops[note.onset].midi):
                tops[note.onset] = note
        return tuple(tops.values())

    def sung_by(self, singer: int) -> tuple[Note, ...]:
        """The line of one of those who sing over the piano, by its index in `singers`."""
        return tuple(note for note in self.sung if singer_of(note) == singer)

    def with_notes(self, notes: Iterable[Note]) -> Piece:
        """The same piece holding other notes, put into the order of `sorted_notes`."""
        return replace(self, notes=sorted_notes(notes), voice_line=())

    def only_hand(self, hand: str) -> Piece:
        """The notes of one hand (``both``: itself)."""
        return self if hand == BOTH else self.with_notes(note for note in self.notes if note.hand == hand)


def sorted_notes(notes: Iterable[Note]) -> tuple[Note, ...]:
    """By onset, grace notes first, then low to high."""
    return tuple(sorted(notes, key=lambda n: (n.onset, not n.grace, n.midi if not n.grace else 0)))
