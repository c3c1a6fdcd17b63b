"""The final verdicts: the likeliest story read backwards, everything known."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.following.beam import AGAIN, HIT, NOTHING, ORNAMENT, Step
from trainer.following.diagnosis import Habits, fits, weigh
from trainer.following.ground import Ground
from trainer.following.marks import (
    EXTRA,
    HESITATED,
    REPEATED,
    RIGHT,
    SKIPPED,
    WENT_BACK,
    Mark,
    Move,
    Settled,
)
from trainer.following.model import MODEL
from trainer.listening.press import Press

RUN = 3  # presses at one constant interval that make a displaced run (the vocabulary's definition)


def settled(ground: Ground, presses: list[Press], last: Step | None, known: Mapping[str, float]) -> Settled:
    """Marks, missed notes, moves and findings of a whole take."""
    steps = _story(last)
    habits = Habits(known)
    runs = _runs(ground, presses, steps)
    brushed = _brushed(ground, presses, steps)
    for _ in range(2):
        counted = Habits(known)
        marks = []
        for step in steps:
            marks.append(_mark(ground, presses[step.press].pitch, step, runs[step.press], brushed, habits, counted))
        habits = counted
    return Settled(tuple(marks), _missed(ground, steps, marks), _moves(ground, presses, steps))


def _story(last: Step | None) -> list[Step]:
    steps = []
    while last is not None:
        steps.append(last)
        last = last.before
    steps.reverse()
    return steps


def _runs(ground: Ground, presses: list[Press], steps: list[Step]) -> list[int]:
    """For each press the length of the run of its hand, at one constant interval, it stands in; 0 when in none.

    A slip just before a displaced run and at its interval is the run's first press.
    """
    lengths = [0] * len(steps)
    for hand in (0, 1):
        mine = [step for step in steps if step.note >= 0 and ground.hand[step.note] == hand]
        shifts = [step.shift if step.kind == HIT else 0 for step in mine]
        for at in range(len(mine) - 2, -1, -1):
            away = presses[mine[at].press].pitch - ground.pitch[mine[at].note]
            if not shifts[at] and away == shifts[at + 1]:
                shifts[at] = away
        start = 0
        for at in range(1, len(mine) + 1):
            if at == len(mine) or shifts[at] != shifts[start]:
                for step in mine[start:at] if shifts[start] else ():
                    lengths[step.press] = at - start
                start = at
    return lengths


def _brushed(ground: Ground, presses: list[Press], steps: list[Step]) -> set[int]:
    """Presses on a key next to one that the same note's right key follows or goes before within 60 ms."""
    found = set()
    for index, step in enumerate(steps):
        if step.note < 0 or not 1 <= abs(presses[step.press].pitch - ground.pitch[step.note]) <= 2:
            continue
        for other in steps[max(index - 8, 0) : index + 9]:
            near = abs(presses[other.press].at - presses[step.press].at) <= MODEL.brush_window
            if near and other.note == step.note and presses[other.press].pitch == ground.pitch[step.note]:
                found.add(step.press)
    return found


def _mark(ground: Ground, pitch: int, step: Step, run: int, brushed: set[int], habits: Habits, counted: Habits) -> Mark:
    if step.kind == NOTHING:
        return Mark(step.press, None, EXTRA)
    if step.kind == ORNAMENT:
        return Mark(step.press, None, RIGHT)
    away = pitch - ground.pitch[step.note]
    if away == 0:
        return Mark(step.press, step.note, REPEATED if step.kind == AGAIN else RIGHT)
    found = fits(ground, step.note, pitch, run=run if run >= RUN else 0, brushed=step.press in brushed)
    likely = weigh(found, habits)
    counted.learn(dict(likely))
    return Mark(step.press, step.note, likely[0][0], likely[0][1], tuple(likely[1:]), away)


def _missed(ground: Ground, steps: list[Step], marks: list[Mark]) -> tuple[int, ...]:
    """Needed notes between the first and the last place reached that no press was meant for."""
    tied = {mark.note for mark in marks if mark.note is not None}
    if not tied:
        return ()
    low = ground.first[ground.moment[min(tied)]]
    high = ground.first[ground.moment[max(tied)] + 1]
    return tuple(note for note in range(low, high) if ground.needed[note] and note not in tied)


def _moves(ground: Ground, presses: list[Press], steps: list[Step]) -> tuple[Move, ...]:
    moves = []
    origin = -1
    jumped = -1
    for step in steps:
        if step.jumped:
            jumped = step.press
        if step.note < 0:
            continue
        if jumped >= 0 and origin >= 0:
            at = presses[jumped].at
            kind = WENT_BACK if step.note <= origin else SKIPPED
            moves.append(Move(kind, at, origin, step.note, at - presses[max(jumped - 1, 0)].at))
        jumped = -1
        origin = step.note
    return tuple(moves)


__all__ = ["HESITATED", "settled"]
