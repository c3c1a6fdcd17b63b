"""The final verdicts: the likeliest story read backwards, everything known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from trainer.following.diagnosis import Habits, fits, weigh
from trainer.following.findings import findings, key_shift, only_hand
from trainer.following.ground import Ground
from trainer.following.hindsight import CLOSE, in_hindsight, tempo_before
from trainer.following.leanings import leanings
from trainer.following.marks import (
    AS_WRITTEN,
    DISPLACED,
    EXTRA,
    HESITATED,
    OCTAVE,
    REPEATED,
    RIGHT,
    SKIPPED,
    WENT_BACK,
    Finding,
    Mark,
    Move,
    Settled,
    shift_of,
)
from trainer.following.model import MODEL
from trainer.following.outside import after_the_end, begun_after, bounded, finding_the_key, without
from trainer.following.repeats import Repeats
from trainer.following.runs import RUN, runs_of
from trainer.following.story import AGAIN, HIT, NOTHING, ORNAMENT, Step
from trainer.following.texts import Texts
from trainer.following.timing import timing
from trainer.listening.press import Press

FEW = 2  # moments left out that make a jump ahead a skip
BACK = 1.0  # beats back, at the least, that make a move (common practice, no source)
AHEAD = 1.0  # beats left out, at the least, that make a skip (common practice, no source)
MANY = 4  # moments left out that make going on a skip
IN_TIME = 1.3  # times the wait due, or as much less, that notes left out in time may take (tuned)
SURE = 3  # right presses, of more than one moment, that must follow before a move is told: fewer may fit anywhere


class Lay(NamedTuple):
    """Where a whole take lay: semitones from what was asked for, what its presses are then, the piece it was meant as.

    In a take an octave off throughout each note is the right one in another octave, not a run of a hand displaced.
    """

    shift: int
    cause: str
    texts: Texts


def where_it_lay(ground: Ground, found: Sequence[Finding]) -> Lay:
    """Where a take lay, by what was found true of all of it."""
    shift = shift_of(found)
    if not shift:
        return Lay(0, RIGHT, ground)
    cause = OCTAVE if shift % 12 == 0 else AS_WRITTEN if shift == ground.shift else DISPLACED
    return Lay(shift, cause, ground.moved(key_shift(found)))


def settled(ground: Ground, presses: list[Press], steps: list[Step]) -> Settled:
    """Marks, missed notes, moves and findings of a whole take, from the steps of its likeliest story."""
    found = findings(ground, presses, steps)
    lay = where_it_lay(ground, found)
    if lay.shift:
        # Slips are told by how far they lie from what was meant there, as though the whole had lain at home.
        presses = [replace(press, pitch=press.pitch - lay.shift) for press in presses]
        steps = [step._replace(shift=step.shift - lay.shift) if step.note >= 0 else step for step in steps]
    repeats = Repeats(ground.expected)
    steps = in_hindsight(ground, presses, repeats.first_times(steps))
    found_key = 0 if lay.shift else finding_the_key(ground, presses, steps)
    if found_key:
        steps = begun_after(ground, steps, found_key)
    runs = runs_of(ground, lay.texts, presses, steps)
    brushed = _brushed(ground, presses, steps)

    def tell(habits: Habits, around: Mapping[int, Mapping[str, float]]) -> tuple[list[Mark], Habits]:
        counted = Habits()
        marks = [
            _mark(
                ground,
                presses[step.press].pitch,
                step,
                runs[step.press],
                step.press in brushed,
                lay,
                habits,
                counted,
                around.get(step.press, {}),
            )
            for step in steps
        ]
        return marks, counted

    _, habits = tell(Habits(), {})
    marks, _ = tell(habits, {})
    marks, _ = tell(habits, leanings(ground, marks))
    gone = [move for move in _moves(ground, presses, steps) if not repeats.is_none_taken(move)]
    moves = sorted([*gone, *_waits(ground, presses, marks)], key=lambda move: move.at)
    other = after_the_end(ground, presses, marks, moves, runs)
    # What other music struck makes up for nothing that was left out.
    let_off = repeats.let_off(steps[:other])
    missed = tuple(note for note in _missed(ground, marks[:other], steps[:other]) if note not in let_off)
    told = without(Settled(tuple(marks), missed, tuple(moves), found), presses, other)
    return bounded(ground.written, presses, told, found_key)


def _brushed(ground: Ground, presses: list[Press], steps: list[Step]) -> set[int]:
    """Presses on a key next to one that the same note's right key follows or goes before within 60 ms."""
    found = set()
    for index, step in enumerate(steps):
        if step.note < 0 or not 1 <= abs(presses[step.press].pitch - ground.pitch[step.note]) <= 2:
            continue
        for other in steps[max(index - CLOSE, 0) : index + CLOSE + 1]:
            near = abs(presses[other.press].at - presses[step.press].at) <= MODEL.brush_window
            if near and other.note == step.note and presses[other.press].pitch == ground.pitch[step.note]:
                found.add(step.press)
    return found


def _mark(
    ground: Ground,
    pitch: int,
    step: Step,
    run: int,
    brushed: bool,
    lay: Lay,
    habits: Habits,
    counted: Habits,
    around: Mapping[str, float],
) -> Mark:
    """The final mark of one press; what it tells of the player's habits is added to `counted`."""
    if step.kind == NOTHING:
        return Mark(step.press, None, EXTRA)
    if step.kind == ORNAMENT:
        return Mark(step.press, None, RIGHT)
    away = pitch - ground.pitch[step.note]
    offset = away + lay.shift
    if away == 0 or (run > 1 and offset == 0):  # a lone key as asked for, in a take elsewhere, is so by chance
        cause = REPEATED if step.kind == AGAIN else lay.cause if away == 0 else RIGHT
        return Mark(step.press, step.note, cause, offset=offset)
    key = lay.texts.pitch[step.note] + away
    likely = weigh(fits(lay.texts, step.note, key, run=run if run >= RUN else 0, brushed=brushed), habits, around)
    counted.learn(dict(likely))
    return Mark(step.press, step.note, likely[0][0], likely[0][1], tuple(likely[1:]), offset)


def _missed(ground: Ground, marks: list[Mark], steps: list[Step]) -> tuple[int, ...]:
    """Needed notes between the first and the last place reached that no press was meant for.

    A hand that did not play is not told note by note: a finding says so. Where the take broke off, nobody knows whether
    the rest of a chord would have come; at the end of the piece it did not.
    """
    tied = {mark.note for mark in marks if mark.note is not None}
    if not tied:
        return ()
    alone = only_hand(ground, steps)
    playing = {ground.hand[note] for note in tied} if alone is None else {alone}
    begun, last = ground.moment[min(tied)], ground.moment[max(tied)]
    # A hand that had nothing to play as far as the take went is still to come.
    going = playing | {hand for hand in (0, 1) if not ground.skipped(hand, begun, last + 1)}
    high = ground.first[last + 1 if _is_end(ground, going, last) else last]
    return tuple(
        note
        for note in range(ground.first[begun], high)
        if ground.needed[note] and note not in tied and ground.hand[note] in playing
    )


def _is_end(ground: Ground, hands: set[int], moment: int) -> bool:
    """Whether a moment is the last one in which one of these hands has a note it needs, whichever time round."""
    notes = ground.expected.notes
    end = next((n for n in reversed(range(len(notes))) if ground.needed[n] and ground.hand[n] in hands), None)
    if end is None:
        return False
    # A note heard again in a repeat keeps its id.
    printed = {notes[n].id for n in range(ground.first[ground.moment[end]], ground.first[ground.moment[end] + 1])}
    return any(notes[n].id in printed for n in range(ground.first[moment], ground.first[moment + 1]))


def _moves(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Move]:
    """Going back and skipping: the jumps of the story, and going on past several moments.

    A late note of an earlier moment is no move, and neither are a few notes left out in time. What was struck between a
    jump that was not played on from and the next one was no place the player had gone to.
    """
    alone = only_hand(ground, steps)
    playing = {ground.hand[step.note] for step in steps if step.note >= 0} if alone is None else {alone}
    moves = []
    before: Step | None = None
    strayed_from: Step | None = None
    jumped = -1
    for number, step in enumerate(steps):
        if step.jumped:
            jumped = step.press
        if step.note < 0 or step.kind == ORNAMENT or (jumped < 0 and ground.moment[step.note] < step.place):
            continue
        if before is not None:
            left = before if jumped < 0 or strayed_from is None else strayed_from
            came, went = ground.moment[left.note], ground.moment[step.note]
            passed = _passed(ground, playing, came, went)
            skipped = -_beats_back(ground, came, went) >= AHEAD and (
                # Of many, in time all the same, one hand may have dropped out while the other held its note.
                (passed >= MANY and all(_passed(ground, {hand}, came, went) for hand in playing))
                or (passed >= (MANY if jumped < 0 else FEW) and not _in_time(ground, presses, left, step))
            )
            back = jumped >= 0 and went < came and _beats_back(ground, came, went) >= BACK
            sure = _played_on(steps, number)
            if (skipped or back) and sure:
                first = jumped if jumped >= 0 else step.press
                at = presses[first].at
                kind = WENT_BACK if went < came else SKIPPED
                moves.append(Move(kind, at, left.note, step.note, at - presses[max(first - 1, 0)].at))
            if jumped >= 0:
                strayed_from = None if sure else left
        jumped = -1
        before = step
    return moves


def _beats_back(ground: Ground, came: int, went: int) -> float:
    """Beats back from where the player was about to go on, negative ahead.

    Less than one back only puts right what was just played; less than one ahead leaves out a few notes.
    """
    return float(ground.beats[min(came + 1, ground.size - 1)] - ground.beats[went])


def _in_time(ground: Ground, presses: list[Press], before: Step, after: Step) -> bool:
    """Whether a step comes when it would with the notes between left out: the player dropped out, and did not skip."""
    onset = ground.onset
    tempo = tempo_before(ground, presses, before)
    # A late note of an earlier moment may follow one of the place it belongs to.
    if tempo <= 0.0 or after.place == before.place:
        return False
    due = (onset[after.place] - onset[before.place]) * tempo
    return 1.0 / IN_TIME < (presses[after.press].at - presses[before.press].at) / due < IN_TIME


def _played_on(steps: list[Step], number: int) -> bool:
    """Whether the player went on from a step: enough right presses, displaced alike, of more than one moment.

    Looked for up to the next jump. The keys of one chord may be those of another by chance, all at once.
    """
    right: dict[int, list[int]] = {}
    for later in range(number, len(steps)):
        step = steps[later]
        if step.jumped and later > number:
            break
        if step.kind == HIT:
            places = right.setdefault(step.shift, [])
            places.append(step.place)
            if len(places) >= SURE and min(places) < max(places):
                return True
    return False


def _passed(ground: Ground, playing: set[int], came: int, went: int) -> int:
    """Moments left out between two, in which a hand that plays in this take has notes it needs."""
    between = range(came + 1, went)
    if len(between) > 64:
        return len(between)
    return sum(
        any(ground.needed[n] and ground.hand[n] in playing for n in range(ground.first[m], ground.first[m + 1]))
        for m in between
    )


def _waits(ground: Ground, presses: list[Press], marks: list[Mark]) -> list[Move]:
    """Hesitations as moves."""
    waits = timing(ground.expected, presses, marks).hesitations
    return [Move(HESITATED, wait.at, wait.origin, wait.note, wait.beyond) for wait in waits]
