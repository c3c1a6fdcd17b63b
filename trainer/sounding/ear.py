"""Set the ear before a take: cadence, drone, pentascale, and singing back with the keys."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import BOTH, RIGHT, Piece
from trainer.music.pitch import Interval, MusicError, SpelledPitch
from trainer.music.solfege import LA_BASED, syllable
from trainer.scores.composing.patterns import pattern
from trainer.sounding.model import model
from trainer.sounding.voice import Schedule, Sounded

CADENCE, DRONE, PENTASCALE = "cadence", "drone", "pentascale"
CHOICES = (CADENCE, DRONE, PENTASCALE)
TEMPO = 96.0
FIFTH = Interval(4, 7)
# The drone is struck anew before a struck string has faded.
_DRONE_STROKE_S = 2.8
_DRONE_VELOCITY = 56


def set_ear(choice: str, key: Key, seconds: float = 11.2) -> Schedule:
    """What is heard before a take in a key.

    Parameters
    ----------
    choice : str
        Of `CHOICES`: a cadence of both hands, the tonic held low with its octave, or the five-finger pattern.
    seconds : float
        How long the drone lasts.

    Raises
    ------
    MusicError
        For any other choice.
    """
    if choice == DRONE:
        return _drone(key, seconds)
    if choice not in CHOICES:
        raise MusicError(f"'{choice}' does not set the ear: choose {', '.join(CHOICES)}.")
    piece = pattern(choice, key, BOTH if choice == CADENCE else RIGHT)
    return model(piece, tempo=TEMPO)


def _drone(key: Key, seconds: float) -> Schedule:
    tonic = key.tonic.midi - 12
    strokes = max(1, round(seconds / _DRONE_STROKE_S))
    return Schedule.of(
        Sounded(number * _DRONE_STROKE_S, _DRONE_STROKE_S, tonic + octave, _DRONE_VELOCITY)
        for number in range(strokes)
        for octave in (-12, 0)
    )


@dataclass(frozen=True, slots=True)
class Answer:
    """What a press was in singing back: right or not, and what was asked by name."""

    right: bool
    asked: str
    """The syllable of the key that was asked."""
    done: bool


class SungBack:
    """Sing it, then play it: tonic, fifth, and the first three notes of the piece, in any octave.

    The tonic and its fifth set a key in the ear, in minor too: do and sol, or la and mi (common practice, no source).

    Parameters
    ----------
    piece : Piece
        In the target key.
    minor : str
        `trainer.music.solfege.LA_BASED` or ``do``.
    """

    def __init__(self, piece: Piece, minor: str = LA_BASED) -> None:
        tonic = piece.key.tonic
        first = _melody(piece)[:3]
        self._asked: list[tuple[str, SpelledPitch]] = [
            (f"Sing {syllable(anchor, piece.key, minor)}, then play it.", anchor) for anchor in (tonic, tonic + FIFTH)
        ]
        words = f"Sing the first {('', 'note', 'two notes', 'three notes')[len(first)]}, then play on."
        self._asked += [(words, pitch) for pitch in first]
        self._names = [syllable(pitch, piece.key, minor) for _, pitch in self._asked]
        self._at = 0
        self.slips = 0

    @property
    def prompt(self) -> str:
        """What to do now; empty when all is done."""
        return "" if self.done else self._asked[self._at][0]

    @property
    def done(self) -> bool:
        return self._at >= len(self._asked)

    def hear(self, press: Press) -> Answer | None:
        """Judge a press; None when nothing is asked any more."""
        if self.done:
            return None
        asked = self._names[self._at]
        right = press.pitch % 12 == self._asked[self._at][1].pitch_class
        if right:
            self._at += 1
        else:
            self.slips += 1
        return Answer(right, asked, self.done)


def _melody(piece: Piece) -> Sequence[SpelledPitch]:
    """The top line: of each moment the highest note that is the right hand's, or the highest of all."""
    found: list[SpelledPitch] = []
    for moment in piece.moments:
        notes = [piece.notes[index] for index in moment.notes if not piece.notes[index].grace]
        right = [note for note in notes if note.hand == RIGHT] if RIGHT in piece.hands else notes
        if right and moment.onset >= Fraction(0):
            found.append(max(right, key=lambda note: note.midi).pitch)
    return found
