"""Runs of a hand that lies elsewhere: presses in a row at one constant interval from what was asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from trainer.following.diagnosis import displaced, fits
from trainer.following.ground import Ground
from trainer.following.marks import WRONG
from trainer.following.story import HIT, SLIP, Step
from trainer.following.texts import Texts
from trainer.listening.press import Press

RUN = 3  # presses at one constant interval that make a displaced run (the vocabulary's definition)
PAIR = 2  # do so too, where nothing else explains either: two keys do not lie as far off by chance


class Run(NamedTuple):
    """Presses of one hand at one interval: the first, the last, the semitones."""

    first: int
    last: int
    shift: int


def runs_of(ground: Ground, texts: Texts, presses: Sequence[Press], steps: Sequence[Step]) -> list[int]:
    """For each press how many presses of its hand, at one constant interval, it stands among; 0 when among none.

    Parameters
    ----------
    ground : Ground
    texts : Texts
        The piece as it was meant in this take.
    presses, steps : sequences of Press and of Step
        Those of a whole take, as though it had lain at home.

    Returns
    -------
    list of int
        From `RUN` on a hand was displaced there; two that nothing else explains count as so many. A note put right in
        between does not end a run.
    """
    lengths = [0] * len(steps)
    found: list[Run] = []
    for hand in (0, 1):
        mine = _without_corrections(ground, presses, steps, hand)
        shifts = [_interval(ground, presses, step) if step.kind in (HIT, SLIP) else 0 for step in mine]
        start = 0
        for at in range(1, len(mine) + 1):
            if at == len(mine) or shifts[at] != shifts[start]:
                run = mine[start:at]
                length = _length(texts, run, shifts[start]) if shifts[start] else 0
                for step in run:
                    lengths[step.press] = length
                if length >= RUN:
                    found.append(Run(run[0].press, run[-1].press, shifts[start]))
                start = at
    return _joined(ground, presses, steps, lengths, found)


def _interval(ground: Ground, presses: Sequence[Press], step: Step) -> int:
    return presses[step.press].pitch - ground.pitch[step.note]


def _length(texts: Texts, run: Sequence[Step], shift: int) -> int:
    """How many presses at one interval count as: tries for one note are one."""
    notes = {step.note for step in run}
    if len(notes) < PAIR or not displaced(texts, notes, shift):
        return len(notes) if len(notes) < RUN else 0
    if len(notes) >= RUN:
        return len(run)
    strange = all(set(fits(texts, note, texts.pitch[note] + shift)) == {WRONG} for note in notes)
    return RUN if strange else PAIR


def _without_corrections(ground: Ground, presses: Sequence[Press], steps: Sequence[Step], hand: int) -> list[Step]:
    """The steps of a hand without right keys that put right what it had struck displaced."""
    mine: list[Step] = []
    for step in steps:
        if step.note < 0 or ground.hand[step.note] != hand:
            continue
        right = presses[step.press].pitch == ground.pitch[step.note]
        if not (right and mine and mine[-1].note == step.note and mine[-1].kind == HIT and mine[-1].shift):
            mine.append(step)
    return mine


def _joined(
    ground: Ground, presses: Sequence[Press], steps: Sequence[Step], lengths: list[int], found: Sequence[Run]
) -> list[int]:
    """The lengths of runs, with the few presses of the other hand as far off taken in.

    They lie within a run, or follow or go before it with nothing else between.
    """
    for run in found:
        first, last = run.first, run.last
        while first > 0 and _as_far_off(ground, presses, steps[first - 1], run.shift):
            first -= 1
        while last + 1 < len(steps) and _as_far_off(ground, presses, steps[last + 1], run.shift):
            last += 1
        for step in steps[first : last + 1]:
            if step.note >= 0 and _interval(ground, presses, step) == run.shift:
                lengths[step.press] = max(lengths[step.press], lengths[run.first])
    return lengths


def _as_far_off(ground: Ground, presses: Sequence[Press], step: Step, shift: int) -> bool:
    """Whether a press lay at an interval, or was meant for no note at all."""
    return step.note < 0 or _interval(ground, presses, step) == shift
