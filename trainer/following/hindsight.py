"""Steps of a told story put right in hindsight, once all presses are known.

While a take is played each press is told by what came before it; what a press was can also show in the next ones.
"""

from __future__ import annotations

from itertools import groupby
from statistics import median

from trainer.following.diagnosis import fits
from trainer.following.ground import Ground
from trainer.following.marks import WRONG
from trainer.following.model import MODEL, SLIP_FAR
from trainer.following.rough import NOWHERE
from trainer.following.story import AGAIN, BRUSH, HIT, NOTHING, SLIP, Step
from trainer.listening.press import Press

FAR = 12  # semitones from a note at which it is hardly looked for
LONG = 24  # presses that may be struck while a long note is held
LATELY = 12  # presses that tell the tempo before one
HELD_UP = 1.5  # times the wait due, from which on a player has been held up (our guess)
EARLY = 0.5  # of the wait due, before which a key struck by itself was not yet meant for the next note (tuned)
STILL = 0.75  # of the wait due, before which a moment still lasts (ours)
CLOSE = 8  # presses before and after one that may have been meant together with it


def in_hindsight(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """The steps of a whole take, brushed keys, fumbles and notes struck twice told as what they turned out to be."""
    steps = _brushes(ground, presses, _untimely(ground, presses, steps))
    steps = _put_right(ground, presses, _fumbled(ground, presses, steps))
    steps = _looked_for(ground, presses, steps)
    steps = _while_held(ground, presses, steps)
    steps = _for_the_first_time(ground, presses, _nearest_its_chord(ground, presses, steps))
    return _for_nothing(ground, presses, steps)


def _untimely(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which a key no cause leads to is meant for no note: long before its time, or sooner tried than heard."""
    told = list(steps)
    for index, step in enumerate(steps):
        if step.kind != SLIP or step.jumped:
            continue
        at, moment = presses[step.press].at, ground.moment[step.note]
        if set(fits(ground, step.note, presses[step.press].pitch)) != {WRONG}:
            continue
        mates = [one for one in _around(steps, index) if one.note >= 0 and ground.moment[one.note] == moment]
        if any(abs(presses[one.press].at - at) < MODEL.near for one in mates):
            continue
        tried = any(one.note == step.note and 0.0 < at - presses[one.press].at < MODEL.notices for one in mates)
        later = any(one.press > step.press for one in mates) and not any(one.press < step.press for one in mates)
        if tried or (later and _before_its_time(ground, presses, steps, index)):
            told[index] = step._replace(note=-1, kind=NOTHING)
    return told


def _before_its_time(ground: Ground, presses: list[Press], steps: list[Step], index: int) -> bool:
    """Whether a key was struck long before the note it is tied to was due."""
    moment = ground.moment[steps[index].note]
    before = _last_right(steps, index)
    if before is None or ground.moment[before.note] >= moment:
        return False
    due = (ground.onset[moment] - ground.onset[ground.moment[before.note]]) * tempo_before(ground, presses, before)
    return presses[steps[index].press].at - presses[before.press].at < EARLY * due


def _brushes(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which a press that was meant for no note of its own is tied to the note it brushed.

    By the vocabulary's definition: a key next to a right one struck within 60 ms of it, before or after.
    """
    told = list(steps)
    for index, step in enumerate(steps):
        if step.kind not in (AGAIN, SLIP, NOTHING):
            continue
        pitch, at = presses[step.press].pitch, presses[step.press].at
        close = [
            (abs(presses[other.press].at - at), other.note)
            for other in _around(steps, index)
            if other.kind == HIT and not other.shift and 1 <= abs(presses[other.press].pitch - pitch) <= 2
        ]
        if close and min(close)[0] <= MODEL.brush_window and _needless(ground, presses, steps, index):
            told[index] = step._replace(note=min(close)[1], kind=BRUSH)
    return told


def _needless(ground: Ground, presses: list[Press], steps: list[Step], index: int) -> bool:
    """Whether a press was meant for no note of its own: none, one gone by, or one of this gesture."""
    step = steps[index]
    if step.kind == AGAIN:
        return ground.moment[step.note] < step.place
    if step.kind == SLIP:
        gesture = [
            other
            for other in _around(steps, index)
            if abs(presses[other.press].at - presses[step.press].at) < MODEL.notices
        ]
        return any(other.note == step.note and other.kind in (HIT, SLIP) for other in gesture)
    return step.kind == NOTHING


def _around(steps: list[Step], index: int) -> list[Step]:
    """The steps near one, without it."""
    return steps[max(index - CLOSE, 0) : index] + steps[index + 1 : index + CLOSE + 1]


def _fumbled(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which a key struck by itself while a note is looked for is one more slip for it.

    It comes after a slip for the note and before its right key.
    """
    told = list(steps)
    for index, step in enumerate(steps[1:-1], 1):
        before, after = (presses[steps[index + way].press].at for way in (-1, 1))
        pitch, at = presses[step.press].pitch, presses[step.press].at
        if step.kind != NOTHING or min(at - before, after - at) < MODEL.notices:
            continue
        here = [one for one in told[max(index - CLOSE, 0) : index + CLOSE] if one.place == step.place]
        tried = {one.note for one in here if one.kind == SLIP and one.press < step.press}
        found = next((one.note for one in here if one.press > step.press and one.note in tried), None)
        if found is not None and abs(pitch - ground.pitch[found]) < FAR:
            told[index] = step._replace(note=found, kind=SLIP)
    return told


def _put_right(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which a key that answers nothing is the right one of a note a displaced hand has just struck."""
    told = list(steps)
    for index, step in enumerate(steps):
        if step.kind != NOTHING or step.place < 0:
            continue
        pitch, at = presses[step.press].pitch, presses[step.press].at
        for before in reversed(told[max(index - CLOSE, 0) : index]):
            if before.place != step.place:
                break
            struck = before.kind == HIT and before.shift and ground.pitch[before.note] == pitch
            if struck and at - presses[before.press].at > MODEL.notices:
                told[index] = step._replace(note=before.note, kind=HIT)
                break
    return told


def _looked_for(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which a key that answers nothing was struck in the place of a note whose right key is found only then.

    Either it comes with other notes of the moment and the right key by itself thereafter, or by itself before the right
    key, which it holds up.
    """
    told = list(steps)
    for index in range(len(steps) - 1, -1, -1):
        step = told[index]
        if step.kind != NOTHING or step.jumped:
            continue
        pitch, at = presses[step.press].pitch, presses[step.press].at
        around = told[max(index - CLOSE, 0) : index + CLOSE + 1]
        together = [one for one in around if one.kind == HIT and abs(presses[one.press].at - at) < MODEL.near]
        struck = {one.note for one in _since_a_jump(told, index)}
        place = max((one.place for one in together), default=NOWHERE)
        for later in told[index + 1 : index + CLOSE + 1]:
            if later.jumped or later.kind not in (HIT, SLIP, NOTHING):
                break
            if later.kind != HIT:
                continue
            since = presses[later.press].at - at
            meant = _likeliest(ground, presses, told, later, pitch, struck) if since >= MODEL.notices else None
            if meant is not None:
                if later.place == place if together else _held_up(ground, presses, told, index, later):
                    told[index] = step._replace(note=meant, kind=SLIP)
                break
            if not together:
                break
    return told


def _likeliest(
    ground: Ground, presses: list[Press], steps: list[Step], found: Step, pitch: int, struck: set[int]
) -> int | None:
    """The note a key was likeliest struck for, of those whose right keys came in one gesture with the one found."""
    at = presses[found.press].at
    chord = [
        one.note
        for one in steps[found.press : found.press + CLOSE]
        if one.kind == HIT
        and one.place == found.place
        and not one.shift
        and one.note not in struck
        and presses[one.press].at - at < MODEL.near
        and abs(pitch - ground.pitch[one.note]) < FAR
    ]
    return max(chord, key=lambda n: ground.share[n].get(pitch - ground.pitch[n], SLIP_FAR), default=None)


def _last_right(steps: list[Step], index: int) -> Step | None:
    """The last step before one that struck its note, displaced or not."""
    return next((steps[at] for at in range(index - 1, -1, -1) if steps[at].kind == HIT), None)


def _since_a_jump(steps: list[Step], index: int) -> list[Step]:
    """The few steps before one that the player has not jumped away from."""
    before = steps[max(index - CLOSE, 0) : index]
    jumped = max((at for at, one in enumerate(before) if one.jumped), default=0)
    return before[jumped:]


def _held_up(ground: Ground, presses: list[Press], steps: list[Step], index: int, later: Step) -> bool:
    """Whether the moment of a right key comes late after keys struck by themselves, from a step on, when it was due."""
    before = _last_right(steps, index)
    if before is None or before.place >= later.place:
        return False
    moment, after = ground.moment[later.note], steps[index + 1 : index + CLOSE + 1]
    begun = next(one for one in after if one.note >= 0 and ground.moment[one.note] == moment)
    last = presses[before.press].at
    tempo = tempo_before(ground, presses, before)
    due = (ground.onset[later.place] - ground.onset[before.place]) * tempo
    since = presses[steps[index].press].at - last
    by_itself = since >= max(MODEL.notices, EARLY * due)
    return by_itself and tempo > 0.0 and presses[begun.press].at - last > HELD_UP * due


def tempo_before(ground: Ground, presses: list[Press], before: Step) -> float:
    """Seconds a quarter: the median of the waits of the last few moments, each over its length; 0 without any."""
    waits = []
    here = before
    while here.before is not None and before.press - here.press < LATELY:
        earlier = here.before
        if 0 <= earlier.place < here.place and not here.jumped:
            length = ground.onset[here.place] - ground.onset[earlier.place]
            waits.append((presses[here.press].at - presses[earlier.press].at) / length)
        here = earlier
    return median(waits) if waits else 0.0


def _while_held(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which the key of a long note, struck again twice and more while it should still be held, is that note's.

    Once may be chance: another key that is nothing of the piece.
    """
    again: dict[int, list[int]] = {}
    for index, step in enumerate(steps):
        if step.kind == AGAIN:
            again.setdefault(step.note, []).append(index)
        if step.kind != NOTHING or step.place < 0:
            continue
        pitch, here = presses[step.press].pitch, ground.expected.moments[step.place].onset
        struck = (one for one in reversed(steps[max(index - LONG, 0) : index]) if presses[one.press].pitch == pitch)
        before = next((one for one in struck if one.kind != NOTHING), None)
        if before is not None and before.kind in (HIT, AGAIN) and ground.expected.notes[before.note].end > here:
            again.setdefault(before.note, []).append(index)
    told = list(steps)
    for note, times in again.items():
        for index in times if len(times) > 1 else ():
            told[index] = told[index]._replace(note=note, kind=AGAIN)
    return told


def _nearest_its_chord(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which of two presses on a key of a chord the one that comes with the chord, its slips too, is the right
    one.

    The other, before it, strikes the key of an earlier moment again.
    """
    told = list(steps)
    for index, step in enumerate(steps):
        if step.kind != AGAIN or presses[step.press].pitch != ground.pitch[step.note]:
            continue
        moment = ground.moment[step.note]
        around = range(max(index - CLOSE, 0), min(index + CLOSE, len(steps)))
        early = next((at for at in around if at < index and told[at].kind == HIT and told[at].note == step.note), None)
        mates = [
            presses[steps[at].press].at
            for at in around
            if steps[at].kind in (HIT, SLIP) and steps[at].note != step.note and ground.moment[steps[at].note] == moment
        ]
        if early is None or not mates:
            continue
        same = [
            one.note
            for one in told[max(early - CLOSE, 0) : early]
            if one.kind == HIT and ground.pitch[one.note] == ground.pitch[step.note]
        ]
        apart = [min(abs(presses[told[at].press].at - mate) for mate in mates) for at in (early, index)]
        if same and apart[1] < MODEL.near < apart[0]:
            told[early] = told[early]._replace(kind=AGAIN, note=same[-1])
            told[index] = step._replace(kind=HIT)
    return told


def _for_the_first_time(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which a note is not struck again whose right key had not sounded before: it is put right."""
    sounded: set[int] = set()
    told = list(steps)
    for index, step in enumerate(steps):
        if step.note < 0 or presses[step.press].pitch != ground.pitch[step.note]:
            continue
        if step.kind == AGAIN and step.note not in sounded:
            told[index] = step._replace(kind=HIT)
        sounded.add(step.note)
    return told


def _for_nothing(ground: Ground, presses: list[Press], steps: list[Step]) -> list[Step]:
    """Steps in which what is struck anew is struck again, where everything of it had been right at once.

    Who puts a slip right, or a note left out, strikes the others of the moment anew as well, and rightly; who stops may
    begin again with it.
    """
    again: set[int] = set()
    moments = [ground.moment[step.note] if step.note >= 0 else NOWHERE for step in steps]
    for moment, group in groupby(range(len(steps)), key=moments.__getitem__):
        here = [steps[at] for at in group]
        amiss = moment == NOWHERE or any(presses[one.press].pitch != ground.pitch[one.note] for one in here)
        struck = [one.note for one in here]
        anew = next((at for at, note in enumerate(struck) if note in struck[:at]), 0)
        if amiss or not anew or not set(struck) <= set(struck[:anew]):
            continue
        if here[-1] is steps[-1] or _early(ground, presses, here[0], here[anew]):
            again |= {one.press for one in here[anew:]}
    return [step._replace(kind=AGAIN) if step.press in again and step.kind == HIT else step for step in steps]


def _early(ground: Ground, presses: list[Press], first: Step, step: Step) -> bool:
    """Whether a key of a moment, begun with another step, is struck well before the next moment is due."""
    moment = ground.moment[first.note]
    lasts = ground.onset[min(moment + 1, ground.size - 1)] - ground.onset[moment]
    since = presses[step.press].at - presses[first.press].at
    return since < STILL * lasts * tempo_before(ground, presses, first)
