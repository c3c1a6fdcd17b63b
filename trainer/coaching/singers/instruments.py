"""Transposing instruments: what is written for them and what sounds.

Source of the table: S. Adler, *The Study of Orchestration*, appendix "Ranges and transpositions", with the
older crooks of horn and trumpet after W. Piston, *Orchestration* (1955); from memory. The interval is from the
written to the sounding pitch.

A value is either `Written` (what stands in that instrument's part) or `Concert` (what sounds), never a bare key:
so the two cannot be confused, by a reader or by the type checker.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Generic, TypeVar, cast

from trainer.coaching.singers.voices import Span
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import Interval, MusicError, SpelledPitch
from trainer.music.transpose import OCTAVE, Transposition, plan, transposed

T = TypeVar("T", Key, SpelledPitch, Piece)


@dataclass(frozen=True)
class Instrument:
    """An instrument: name, interval from written to sounding pitch, usual clef, other names."""

    name: str
    sounds: Interval
    clef: str
    also: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """``clarinet in B flat: sounds a major second lower than written``."""
        if self.sounds.semitones == 0:
            return f"{self.name}: sounds as written"
        way = "lower" if self.sounds.is_down else "higher"
        return f"{self.name}: sounds {self.sounds.plain} {way} than written"


@dataclass(frozen=True)
class Written(Generic[T]):
    """What stands in the part of a transposing instrument."""

    value: T
    instrument: Instrument


@dataclass(frozen=True)
class Concert(Generic[T]):
    """What sounds."""

    value: T


def _row(name: str, sounds: str, clef: str = "treble", *also: str) -> Instrument:
    return Instrument(name, Interval.parse(sounds), clef, also)


INSTRUMENTS = (
    _row("piccolo", "+P8"),
    _row("flute", "P1"),
    _row("alto flute", "-P4", "treble", "flute in G"),
    _row("bass flute", "-P8"),
    _row("oboe", "P1"),
    _row("oboe d'amore", "-m3", "treble", "oboe in A"),
    _row("English horn", "-P5", "treble", "cor anglais"),
    _row("bass oboe", "-P8", "treble", "heckelphone"),
    _row("bassoon", "P1", "bass"),
    _row("contrabassoon", "-P8", "bass", "double bassoon"),
    _row("clarinet in B flat", "-M2", "treble", "clarinet"),
    _row("clarinet in A", "-m3"),
    _row("clarinet in C", "P1"),
    _row("clarinet in D", "+M2"),
    _row("clarinet in E flat", "+m3", "treble", "sopranino clarinet"),
    _row("basset horn in F", "-P5", "treble", "basset horn"),
    _row("alto clarinet in E flat", "-M6", "treble", "alto clarinet"),
    _row("bass clarinet in B flat", "-M9", "treble", "bass clarinet"),
    _row("bass clarinet in B flat, bass clef", "-M2", "bass"),
    _row("bass clarinet in A", "-m10"),
    _row("contra-alto clarinet in E flat", "-M13", "treble", "contra-alto clarinet"),
    _row("contrabass clarinet in B flat", "-M16", "treble", "contrabass clarinet"),
    _row("sopranino saxophone in E flat", "+m3", "treble", "sopranino saxophone"),
    _row("soprano saxophone in B flat", "-M2", "treble", "soprano saxophone"),
    _row("alto saxophone in E flat", "-M6", "treble", "alto saxophone", "saxophone"),
    _row("tenor saxophone in B flat", "-M9", "treble", "tenor saxophone"),
    _row("baritone saxophone in E flat", "-M13", "treble", "baritone saxophone"),
    _row("bass saxophone in B flat", "-M16", "treble", "bass saxophone"),
    _row("horn in F", "-P5", "treble", "horn", "French horn"),
    _row("horn in B flat alto", "-M2"),
    _row("horn in A", "-m3"),
    _row("horn in G", "-P4"),
    _row("horn in E", "-m6"),
    _row("horn in E flat", "-M6"),
    _row("horn in D", "-m7"),
    _row("horn in C", "-P8"),
    _row("horn in B flat basso", "-M9"),
    _row("trumpet in B flat", "-M2", "treble", "trumpet"),
    _row("trumpet in A", "-m3"),
    _row("trumpet in C", "P1"),
    _row("trumpet in D", "+M2"),
    _row("trumpet in E flat", "+m3"),
    _row("trumpet in E", "+M3"),
    _row("trumpet in F", "+P4"),
    _row("piccolo trumpet in B flat", "+m7", "treble", "piccolo trumpet"),
    _row("piccolo trumpet in A", "+M6"),
    _row("bass trumpet in E flat", "-M6"),
    _row("bass trumpet in B flat", "-M9", "treble", "bass trumpet"),
    _row("cornet in B flat", "-M2", "treble", "cornet"),
    _row("cornet in A", "-m3"),
    _row("soprano cornet in E flat", "+m3", "treble", "soprano cornet"),
    _row("flugelhorn in B flat", "-M2", "treble", "flugelhorn"),
    _row("tenor horn in E flat", "-M6", "treble", "tenor horn", "alto horn", "alto horn in E flat"),
    _row("euphonium, treble clef", "-M9", "treble", "baritone, treble clef"),
    _row("euphonium", "P1", "bass"),
    _row("trombone", "P1", "bass"),
    _row("tuba", "P1", "bass"),
    _row("timpani", "P1", "bass"),
    _row("glockenspiel", "+P15", "treble", "orchestra bells"),
    _row("crotales", "+P15"),
    _row("xylophone", "+P8"),
    _row("celesta", "+P8"),
    _row("marimba", "P1"),
    _row("vibraphone", "P1"),
    _row("guitar", "-P8", "treble"),
    _row("bass guitar", "-P8", "bass"),
    _row("violin", "P1"),
    _row("viola", "P1", "alto"),
    _row("cello", "P1", "bass", "violoncello"),
    _row("double bass", "-P8", "bass", "contrabass"),
    _row("soprano recorder", "+P8", "treble", "descant recorder"),
    _row("alto recorder", "P1", "treble", "treble recorder"),
    _row("tenor recorder", "P1"),
    _row("bass recorder", "+P8", "bass"),
    _row("tenor voice, treble clef", "-P8"),
    # Each fret is a semitone. What is read are shapes of chords, which have no octave.
    *(
        _row(f"guitar with capo {fret}", sounds, "treble", f"capo {fret}", f"guitar capo {fret}")
        for fret, sounds in enumerate(("+m2", "+M2", "+m3", "+M3", "+P4", "+d5", "+P5"), start=1)
    ),
)
# Clefs a part can be written in; of the two the engraver takes that with the fewer ledger lines.
_CLEFS = ("treble", "bass")
# Who reads shapes of chords, and no line.
CHORDS_ONLY = "guitar with capo"
_WORDS = {"♭": " flat", "bb": "b flat", "eb": "e flat", "sax": "saxophone"}


def _plain(name: str) -> str:
    words = re.sub(r"[\s,-]+", " ", name.lower().replace("♭", " flat")).strip()
    return " ".join(_WORDS.get(word, word) for word in words.split(" "))


def instrument(name: str) -> Instrument:
    """The instrument of a name: ``clarinet in B flat``, ``Bb clarinet``, ``clarinet Bb``, ``alto sax``, ``capo 3``.

    Raises
    ------
    MusicError
        Naming near ones when the table has no such instrument.
    """
    asked = _plain(name)
    before = re.fullmatch(r"([a-g](?: flat)?) (.+)", asked)
    after = re.fullmatch(r"(.+) ([a-g](?: flat)?)", asked)
    wanted = {asked} | ({f"{before[2]} in {before[1]}"} if before else set())
    wanted |= {f"{after[1]} in {after[2]}"} if after else set()
    for row in INSTRUMENTS:
        if wanted & {_plain(known) for known in (row.name, *row.also)}:
            return row
    telling = {word for word in asked.split() if len(word) > 2} - {"flat"}
    near = [row.name for row in INSTRUMENTS if telling & set(_plain(row.name).split())]
    hint = ", ".join(near[:6] or [row.name for row in INSTRUMENTS if row.sounds.fifths][:6])
    raise MusicError(f"'{name}' is not in the table of instruments: try {hint}.")


def reads_parts(player: Instrument) -> bool:
    """Whether a part for an instrument can be written here: a line, in a clef that the engraver writes."""
    return player.clef in _CLEFS and not player.name.startswith(CHORDS_ONLY)


def concert(part: Written[T]) -> Concert[T]:
    """What a part sounds like: the key, pitch or piece the pianist plays from it.

    >>> concert(Written(Key.parse("Bb"), instrument("clarinet in B flat"))).value.short
    'Ab'
    """
    return Concert(cast(T, _moved(part.value, part.instrument.sounds)))


def sounding_span(line: Span, player: Instrument) -> Span:
    """Where a line written for an instrument sounds.

    >>> sounding_span(Span.parse("D4-C5"), instrument("clarinet in B flat")).name
    'C4–B♭4'
    """
    low, high = (concert(Written(pitch, player)).value for pitch in (line.low, line.high))
    return Span(low, high)


def part_for(sounding: Concert[T], player: Instrument) -> Written[T]:
    """What must be written for an instrument so that a given thing sounds.

    >>> part_for(Concert(Key.parse("Eb")), instrument("horn in F")).value.short
    'Bb'
    """
    return Written(cast(T, _moved(sounding.value, -player.sounds)), player)


def playing_from(part: Written[Key]) -> Transposition:
    """The transposition that turns a part, read at the piano, into what it sounds like."""
    return _plan(part.value, part.instrument.sounds)


def writing_for(sounding: Concert[Key], player: Instrument) -> Transposition:
    """The reverse: from a concert-pitch page to the pitches written for an instrument."""
    return _plan(sounding.value, -player.sounds)


def _plan(written: Key, interval: Interval) -> Transposition:
    # `plan` takes at most two octaves; contrabass instruments go beyond.
    octaves = Interval(0, 0)
    while abs((interval + -octaves).semitones) > 24:
        octaves = octaves + (-OCTAVE if interval.is_down else OCTAVE)
    found = plan(written, (interval + -octaves).short)
    # A part with seven accidentals is copied out with five of the other kind.
    simpler = found.target.respelled()
    shift = simpler.tonic - found.target.tonic
    if shift.semitones:
        shift = shift + (-OCTAVE if shift.semitones > 0 else OCTAVE)
    return replace(found, target=simpler, interval=found.interval + shift + octaves)


def _moved(value: Key | SpelledPitch | Piece, interval: Interval) -> Key | SpelledPitch | Piece:
    if isinstance(value, Key):
        return _plan(value, interval).target
    if isinstance(value, SpelledPitch):
        return value + interval
    return transposed(value, interval)
