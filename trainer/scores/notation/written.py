"""A score as it is written: parts, printed bars, printed notes, before repeats are unfolded and hands told apart."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from trainer.music.piece import UNSHOWN
from trainer.music.pitch import SpelledPitch
from trainer.scores.notation.unfolding import Signs

# Voices 1 to 4 are the right hand's, 5 to 8 the left hand's, as most notation programs number them.
LEFT_VOICES = 4


class Meter(NamedTuple):
    """Beats and unit, and how they are shown where not in figures (`music.piece.Bar.symbol`).

    Without beats there is no meter (senza misura).
    """

    beats: int
    unit: int
    symbol: str = ""


FREE = Meter(0, 4, UNSHOWN)


@dataclass(slots=True)
class Written:
    """One printed note: place and length in quarters from the start of its bar, and what the page says about it."""

    id: str
    pitch: SpelledPitch
    onset: Fraction
    length: Fraction
    staff: int
    voice: str
    finger: int | None = None
    grace: bool = False
    optional: bool = False
    ornament: str = ""
    signs: list[str] = field(default_factory=list)
    tie_start: bool = False
    tie_stop: bool = False


@dataclass(slots=True)
class WrittenBar:
    """One printed bar of one part.

    `length` goes to the end of the last note or rest, `sounding` of the last note, `resting` of a rest for the whole
    bar, which some programs write as long as a full bar into a pickup. `rounded` says that some
    length in it is not known to be the printed one, so that a program's rounding may be in the sum. `lyrics` are the
    words of each verse by number, `said` the same by the voice whose notes they stand under, `directions` what is said
    and for whom (`music.piece.Word.place`).
    """

    number: int
    length: Fraction = Fraction(0)
    sounding: Fraction = Fraction(0)
    resting: Fraction = Fraction(0)
    rounded: bool = False
    meter: Meter | None = None
    keys: list[tuple[Fraction, int, str]] = field(default_factory=list)
    notes: list[Written] = field(default_factory=list)
    chords: list[tuple[Fraction, str]] = field(default_factory=list)
    directions: list[tuple[Fraction, tuple[str, str]]] = field(default_factory=list)
    lyrics: dict[int, list[tuple[Fraction, str]]] = field(default_factory=dict)
    said: dict[str, dict[int, list[tuple[Fraction, str]]]] = field(default_factory=dict)
    tempi: list[tuple[Fraction, float]] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)


@dataclass(slots=True)
class Part:
    """One part: its name, how many staves, the first clef of each staff, its bars.

    `at_pitch`: clef or transposition say in which octave it sounds.
    """

    name: str
    bars: list[WrittenBar] = field(default_factory=list)
    staves: int = 1
    clefs: dict[int, str] = field(default_factory=dict)
    program: int | None = None
    at_pitch: bool = False

    @property
    def has_lyrics(self) -> bool:
        return any(bar.lyrics for bar in self.bars)

    def lay(self, at: int, bar: WrittenBar) -> None:
        """Lay the bar of a further voice over the one at a place, or add it after the last; its words stay."""
        if at == len(self.bars):
            self.bars.append(bar)
            return
        whole = self.bars[at]
        whole.notes += bar.notes
        whole.chords += bar.chords
        whole.directions += bar.directions
        whole.length, whole.sounding = max(whole.length, bar.length), max(whole.sounding, bar.sounding)
        whole.lyrics = whole.lyrics or bar.lyrics
        whole.said |= bar.said


@dataclass(slots=True)
class Score:
    """A whole document as written.

    `order`: passages of bars as they are to be played, each with its own repeats, where the document says so itself.
    """

    parts: list[Part]
    title: str = ""
    composer: str = ""
    origin: str = ""
    source: str = ""
    licence: str = ""
    order: tuple[range, ...] = ()
    poet: str = ""
