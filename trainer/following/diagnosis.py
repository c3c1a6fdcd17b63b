"""Why a press went wrong: all causes weighed together.

The weight of a cause is how often this player errs so (a rate learned in the take, starting from the table below)
times how well it explains the very key that sounded. Weights are made to sum to one (Bayes' rule).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import lru_cache
from math import log

from trainer.following.marks import (
    ACCIDENTAL,
    AS_WRITTEN,
    BRUSHED,
    DISPLACED,
    OCTAVE,
    SIGNATURE,
    STEP,
    WRONG,
)
from trainer.following.texts import Texts
from trainer.music.keys import SHARPS, Key
from trainer.music.pitch import SpelledPitch

# Share of each cause among slips before the player is known (tuned on simulated takes), and how many slips that
# first guess is worth.
FIRST_RATES: dict[str, float] = {
    AS_WRITTEN: 0.2,
    SIGNATURE: 0.2,
    STEP: 0.2,
    ACCIDENTAL: 0.12,
    OCTAVE: 0.08,
    DISPLACED: 0.06,
    BRUSHED: 0.07,
    WRONG: 0.1,
}
FIRST_WEIGHT = 10.0
FURTHEST = 36  # semitones: no slip lies further from its note
# How likely another key is by its distance in semitones (each way): near keys most (tuned).
_WRONG = ((1, 0.12), (3, 0.08), (5, 0.06), (7, 0.035), (11, 0.015), (24, 0.003))

_BESIDE = 0.008  # a finger lands on the key beside as well as that, whatever it is then called (tuned)

_TOO_MANY = 0.3  # how well one sign too many explains the key it leads to (ours)

NOTHING_AROUND: Mapping[str, float] = {}


class Habits:
    """How often this player makes each kind of slip, counted as the take goes on."""

    def __init__(self) -> None:
        self.counts = {cause: FIRST_WEIGHT * rate for cause, rate in FIRST_RATES.items()}

    def learn(self, weights: Mapping[str, float]) -> None:
        for cause, weight in weights.items():
            self.counts[cause] += weight

    def rate(self, cause: str) -> float:
        return self.counts[cause]


# How well a displaced hand explains a press by the presses at that interval so far: alone hardly, the third surely.
_RUN = (0.05, 2.0, 50.0)


def fits(texts: Texts, note: int, pitch: int, *, run: int = 0, brushed: bool = False) -> dict[str, float]:
    """How well each cause explains a key struck for a note, 0 to 1.

    Parameters
    ----------
    note : int
        The note it was meant for.
    pitch : int
        The key that sounded, not the expected one.
    run : int
        Presses of the run at one constant interval this press stands in; 0 when in none.
    brushed : bool
        The expected key was struck within 60 ms.
    """
    away = pitch - texts.pitch[note]
    found = {WRONG: next((fit for size, fit in _WRONG if abs(away) <= size), 0.001)}
    if away % 12 == 0:
        found[OCTAVE] = 0.45
    if away == texts.shift:
        found[AS_WRITTEN] = 1.0
    expected = texts.expected.notes[note]
    key = texts.keys[note]
    chromatic = expected.pitch.alteration != key.alteration_of(expected.pitch.letter)
    if abs(away) == 1 or (abs(away) == 2 and chromatic):
        ways = _forgettable(texts, note, key)
        if chromatic:
            # Without its sign, or with the one that stands on the page; another sign is left some room.
            without = key.alteration_of(expected.pitch.letter)
            printed = texts.written.notes[note].pitch.alteration
            there = {without - expected.pitch.alteration, printed - expected.pitch.alteration}
            found[ACCIDENTAL] = 0.8 if away in there else 0.15
        elif away in ways:
            found[SIGNATURE] = 0.9 / len(ways)
        elif away == _too_many(expected.pitch.letter, key):
            found[SIGNATURE] = _TOO_MANY
    step = neighbours(expected.pitch, key).get(away)
    if step is not None:
        found[STEP] = step
    if run and away != texts.shift:
        found[DISPLACED] = _RUN[min(run, len(_RUN)) - 1]
    elif run:
        found[AS_WRITTEN] += _RUN[min(run, len(_RUN)) - 1]
    if brushed and abs(away) <= 2:
        found[BRUSHED] = 10.0
    return found


def slip_shares(texts: Texts, note: int) -> dict[int, float]:
    """Log share of each distance, up to `FURTHEST` semitones, among the slips for a note, all causes together."""
    shares = {}
    for away in range(-FURTHEST, FURTHEST + 1):
        if away:
            found = fits(texts, note, texts.pitch[note] + away)
            beside = _BESIDE if abs(away) == 1 else 0.0
            shares[away] = log(beside + sum(FIRST_RATES[cause] * fit for cause, fit in found.items()))
    return shares


def leftover(texts: Texts, note: int, key: Key) -> int:
    """Semitones by which the written key's signature would alter the letter of an expected note."""
    letter = texts.expected.notes[note].pitch.letter
    return texts.pages[note].alteration_of(letter) - key.alteration_of(letter)


def _forgettable(texts: Texts, note: int, key: Key) -> set[int]:
    """Semitones a forgotten signature moves a note: the letter as the written key has it, or natural.

    That nobody forgets a sign into one of neither key is common practice, no source.
    """
    return {leftover(texts, note, key), -key.alteration_of(texts.expected.notes[note].pitch.letter)} - {0}


def _too_many(letter: str, key: Key) -> int:
    """Semitones the sign that a key would gain next moves a letter, G sharp in D; 0 for the other letters.

    Signs come in their order: who plays one too many thinks in the next key (common practice, no source).
    """
    signs = abs(key.signature)
    for more, order in ((1, SHARPS), (-1, SHARPS[::-1])):
        if key.signature * more >= 0 and order[signs : signs + 1] == letter:
            return more
    return 0


def displaced(texts: Texts, notes: Collection[int], shift: int) -> bool:
    """Whether notes struck at one interval from their keys tell of a hand displaced, rather than of a habit.

    One letter amiss by a tone at most, again and again, is a habit; so are letters whose signature is forgotten one and
    all.
    """
    letters = {texts.expected.notes[note].pitch.letter for note in notes}
    if abs(shift) == 1 and all(shift in _forgettable(texts, note, texts.keys[note]) for note in notes):
        return False
    return len(letters) > 1 or abs(shift) > 2


@lru_cache(maxsize=4096)
def neighbours(pitch: SpelledPitch, key: Key) -> Mapping[int, float]:
    """Semitones from a pitch to the degrees of a key one letter up and down, and how well a step there explains a slip.

    In minor the raised seventh is a neighbour too, a less likely one.
    """
    found: dict[int, float] = {}
    for step in (1, -1):
        plain = SpelledPitch.from_steps(pitch.steps + step, 0)
        other = SpelledPitch(plain.letter, key.alteration_of(plain.letter), plain.octave)
        found[other.midi - pitch.midi] = 0.5
        if key.is_minor and (other.steps - key.tonic.steps) % 7 == 6:
            found.setdefault(other.midi + 1 - pitch.midi, 0.2)
    found.pop(0, None)
    return found


def weigh(
    found: Mapping[str, float], habits: Habits, around: Mapping[str, float] = NOTHING_AROUND
) -> list[tuple[str, float]]:
    """Causes with their probabilities, likeliest first; `around`: how many times likelier some are for what is near."""
    weights = {cause: fit * habits.rate(cause) * around.get(cause, 1.0) for cause, fit in found.items()}
    whole = sum(weights.values())
    return sorted(((cause, weight / whole) for cause, weight in weights.items()), key=lambda pair: -pair[1])


def spelled_for(pitch: SpelledPitch, offset: int, cause: str, key: Key) -> SpelledPitch:
    """How to spell the key that sounded `offset` semitones from an expected pitch, given the cause.

    A forgotten alteration keeps the letter, a step takes the next letter; anything else is spelled within the key
    where it can be, otherwise with the fewer alterations and, of a sharp and a flat, as the one nearer to the key's
    own notes on the line of fifths: D flat in E flat major.
    """
    sounded = pitch.midi + offset
    if cause in (SIGNATURE, ACCIDENTAL):
        return SpelledPitch.from_steps(pitch.steps, sounded)
    if cause == OCTAVE:
        return SpelledPitch.from_steps(pitch.steps + 7 * (offset // 12), sounded)
    near = round(offset * 7 / 12)
    choices = [SpelledPitch.from_steps(pitch.steps + step, sounded) for step in range(near - 2, near + 3)]
    if cause == STEP:
        choices = [c for c in choices if abs(c.steps - pitch.steps) == 1] or choices
    middle = key.signature + 2  # of the seven notes of a key on the line of fifths

    def oddness(choice: SpelledPitch) -> tuple[bool, int, int, int]:
        foreign = choice.alteration != key.alteration_of(choice.letter)
        return foreign, abs(choice.alteration), abs(choice.fifths - middle), choice.steps

    return min(choices, key=oddness)
