"""Count-in and click: beats of the written meters at the written tempo changes, subdivided, or silent for some bars."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.passage import passage
from trainer.music.piece import UNSHOWN, Bar, Piece
from trainer.music.pitch import MusicError
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import HIGH_BLOCK, LOW_BLOCK, PERCUSSION, Schedule, Sounded

ACCENT, BEAT, SUBDIVISION = 112, 88, 52
SUBDIVISIONS = (1, 2, 3, 4)
_LENGTH_S = 0.03
# Quarters that are counted in at most before music without a meter.
_UNMETERED = 4


@dataclass(frozen=True, slots=True)
class Beat:
    """One stroke of the click: seconds, onset in quarters (below 0 in the count-in), weight as a velocity."""

    at: float
    onset: Fraction
    weight: int


@dataclass(frozen=True, slots=True)
class ClickTrack:
    """A count-in and the click through a piece.

    Parameters
    ----------
    beats : tuple of Beat
        Times from the first stroke of the count-in.
    begins : float
        Seconds at which the first bar begins (with a pickup: the pickup).
    counted : tuple of int
        The numbers to say in the count-in, one a beat.
    """

    beats: tuple[Beat, ...]
    begins: float
    counted: tuple[int, ...]

    @property
    def schedule(self) -> Schedule:
        """The strokes to be sounded."""
        notes = [
            Sounded(beat.at, _LENGTH_S, HIGH_BLOCK if beat.weight == ACCENT else LOW_BLOCK, beat.weight, PERCUSSION)
            for beat in self.beats
        ]
        return Schedule.of(notes, [(beat.at, beat.onset) for beat in self.beats if beat.onset >= 0])


def click(
    piece: Piece,
    bars: tuple[int, int] | None = None,
    tempo: float | None = None,
    *,
    count_in: int = 1,
    subdivision: int = 1,
    silent: tuple[int, int] = (0, 0),
) -> ClickTrack:
    """The click for a piece or some bars of it.

    Parameters
    ----------
    piece, bars, tempo
        As in `trainer.sounding.model.model`.
    count_in : int
        Bars counted before the start; before a pickup also the beats its bar lacks.
    subdivision : int
        Strokes a beat, 1 to 4.
    silent : (int, int)
        After so many bars with the click, so many without, over and over: a test of the inner pulse. The count-in
        always sounds.

    Raises
    ------
    MusicError
        When the numbers make no sense, or there are no such bars.
    """
    if subdivision not in SUBDIVISIONS:
        raise MusicError(f"A beat cannot be clicked in {subdivision}: choose 1, 2, 3 or 4 strokes.")
    if not 0 <= count_in <= 4 or min(silent) < 0 or (silent[1] and not silent[0]):
        raise MusicError("Count in 0 to 4 bars, and let at least one bar click before the silent ones.")
    chosen = (passage(piece, bars) if bars else piece).bars or (Bar(1, Fraction(0), piece.length),)
    start = piece.bars[bars[0]].onset if bars else Fraction(0)
    course = TempoMap(piece, tempo)
    first = chosen[0]
    begun = piece.begun[bars[0] if bars else 0 :] or (Fraction(0),)
    ahead = _count_in(first, count_in, subdivision, begun[0])
    rate = course.rate(start)
    lead = -float(ahead[0][0]) * 60.0 / rate if ahead else 0.0
    began = course.seconds(start)
    beats = [Beat(lead + float(onset) * 60.0 / rate, onset, weight) for onset, weight in ahead]
    clicked, pause = silent
    for place, (bar, missing) in enumerate(zip(chosen, begun, strict=False)):
        if pause and place % (clicked + pause) >= clicked:
            continue
        for onset, weight in _strokes(bar, subdivision, missing):
            beats.append(Beat(lead + course.seconds(start + onset) - began, start + onset, weight))
    return ClickTrack(tuple(beats), lead, tuple(_counted(ahead)))


def _whole(bar: Bar) -> Fraction:
    return Fraction(4 * bar.meter[0], bar.meter[1])


def _strokes(bar: Bar, subdivision: int, missing: Fraction = Fraction(0)) -> list[tuple[Fraction, int]]:
    """Onsets and weights of a bar's strokes; `missing` is the part of the bar that is not there."""
    step = bar.beat_quarters / subdivision
    found = []
    for number in range(-int(-(missing + bar.length) // step)):
        place = number * step
        if place >= missing:
            weight = ACCENT if number == 0 else (SUBDIVISION if number % subdivision else BEAT)
            found.append((bar.onset - missing + place, weight))
    return found


def _count_in(first: Bar, bars: int, subdivision: int, missing: Fraction) -> list[tuple[Fraction, int]]:
    """Strokes before onset 0 of the first bar: whole bars, then the beats a pickup lacks; without a meter four a bar,
    however long that is.
    """
    whole = _whole(first)
    if first.symbol == UNSHOWN:
        whole = Fraction(max(min(int(whole), _UNMETERED), 1))
    found = []
    for number in range(bars):
        begin = -missing - (bars - number) * whole
        found += _strokes(replace(first, onset=begin, length=whole), subdivision)
    if missing and bars:
        rest = replace(first, onset=-missing, length=missing)
        found += _strokes(rest, subdivision)
    return [(onset, weight) for onset, weight in found if onset < 0]


def _counted(ahead: list[tuple[Fraction, int]]) -> list[int]:
    """The number of each full beat of the count-in within its bar."""
    found: list[int] = []
    for _, weight in ahead:
        if weight != SUBDIVISION:
            found.append(1 if weight == ACCENT else found[-1] + 1)
    return found
