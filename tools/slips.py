"""What each slip of the simulated learner strikes: a key for every cause, where that cause can happen at all."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from trainer.following import marks as m
from trainer.music.piece import Piece
from trainer.music.pitch import SpelledPitch


def slip(
    written: Piece, expected: Piece, note: int, causes: Sequence[tuple[str, float]], chance: random.Random
) -> tuple[str, int]:
    """A cause that can happen to a note, and the key it strikes; `causes` with the share of each."""
    kinds, weights = zip(*causes, strict=True)
    for _ in range(12):
        cause = chance.choices(kinds, weights)[0]
        wrong = _SLIPS[cause](written, expected, note, chance)
        if wrong is not None and wrong != expected.notes[note].midi and 0 <= wrong <= 127:
            return cause, wrong
    return m.WRONG, expected.notes[note].midi + chance.choice((-6, 6))


def _as_written(written: Piece, expected: Piece, note: int, chance: random.Random) -> int | None:
    return written.notes[note].midi


def _signature(written: Piece, expected: Piece, note: int, chance: random.Random) -> int | None:
    """The letter as the written key has it, or natural."""
    meant = expected.notes[note]
    key = expected.key_at(meant.onset)
    if meant.pitch.alteration != key.alteration_of(meant.pitch.letter):
        return None
    choices = {0, written.key_at(meant.onset).alteration_of(meant.pitch.letter)} - {meant.pitch.alteration}
    return _altered(meant.pitch, chance.choice(sorted(choices))) if choices else None


def _accidental(written: Piece, expected: Piece, note: int, chance: random.Random) -> int | None:
    """A chromatic note without its accidental, or with the sign printed in the written key."""
    meant = expected.notes[note]
    plain = expected.key_at(meant.onset).alteration_of(meant.pitch.letter)
    if meant.pitch.alteration == plain:
        return None
    choices = {plain, written.notes[note].pitch.alteration} - {meant.pitch.alteration}
    return _altered(meant.pitch, chance.choice(sorted(choices)))


def _step(written: Piece, expected: Piece, note: int, chance: random.Random) -> int | None:
    meant = expected.notes[note]
    key = expected.key_at(meant.onset)
    steps = meant.pitch.steps + chance.choice((-1, 1))
    plain = SpelledPitch.from_steps(steps, 0)
    return _altered(plain, key.alteration_of(plain.letter))


def _octave(written: Piece, expected: Piece, note: int, chance: random.Random) -> int | None:
    return expected.notes[note].midi + chance.choice((-12, 12))


def _wrong(written: Piece, expected: Piece, note: int, chance: random.Random) -> int | None:
    """A key near by that no other cause explains."""
    meant = expected.notes[note]
    key = expected.key_at(meant.onset)
    near = [SpelledPitch.from_steps(meant.pitch.steps + step, 0) for step in (-1, 1)]
    taken = {_altered(plain, key.alteration_of(plain.letter)) for plain in near}
    taken |= {meant.midi, meant.midi - 1, meant.midi + 1, written.notes[note].midi}
    pitch = meant.midi + round(chance.gauss(0.0, 4.0))
    return None if pitch in taken or abs(pitch - meant.midi) > 11 else pitch


def _altered(pitch: SpelledPitch, alteration: int) -> int:
    return SpelledPitch(pitch.letter, alteration, pitch.octave).midi


_SLIPS: dict[str, Callable[[Piece, Piece, int, random.Random], int | None]] = {
    m.AS_WRITTEN: _as_written,
    m.SIGNATURE: _signature,
    m.ACCIDENTAL: _accidental,
    m.STEP: _step,
    m.OCTAVE: _octave,
    m.WRONG: _wrong,
}
