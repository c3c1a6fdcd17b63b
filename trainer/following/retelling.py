"""Once a take has ended: its doubtful stretches told anew, with more stories and knowing the player.

Going through a whole take again with many stories would take too long for a long one, so the take is cut every
`EVERY` presses, the stretches the likeliest story explains worst are told anew, worst first, until as many presses as
`AT_MOST` have been heard again, and the new telling of a stretch goes on until it meets the old one.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.following.model import ANEW, THOROUGH
from trainer.following.story import Line, Step
from trainer.following.tracker import Tracker
from trainer.listening.press import Press

EVERY = 16  # presses between two places at which the stories are kept
SHORT = 400  # presses of a take that is told anew most thoroughly, in as much time
WHOLE = 700  # presses of a take that is told anew as a whole, well under a second
AT_MOST = 400  # presses heard again in a longer take
CLEAN = -0.8  # log probability a press (mean of a stretch) at which a stretch needs no new telling (tuned)


def retold(live: Tracker, kept: Sequence[Sequence[Line]], presses: Sequence[Press]) -> list[Step]:
    """The steps of the likeliest story of a whole take.

    Parameters
    ----------
    live : Tracker
        As the last press left it.
    kept : sequence of sequences of Line
        The stories after every `EVERY` presses.
    presses : sequence of Press
    """
    steps = steps_of(live.best.step)
    if not steps:
        return steps
    count = len(presses)
    if count <= WHOLE:
        return _stretch(live, None, presses, 0, count, steps, WHOLE)
    on_path = [
        next((line for line in lines if line.step is steps[EVERY * (i + 1) - 1]), None) for i, lines in enumerate(kept)
    ]
    budget = AT_MOST
    for start in _doubtful(on_path):
        if budget <= 0:
            break
        line = on_path[start]
        first = EVERY * (start + 1)
        if line is None or steps[first - 1] is not line.step:
            continue  # told anew already
        fresh = _stretch(live, line, presses, first, min(first + 2 * EVERY, count), steps, budget)
        budget -= sum(a is not b for a, b in zip(fresh, steps, strict=True)) + 2 * EVERY
        steps = fresh
    return steps


def steps_of(last: Step | None) -> list[Step]:
    """The steps that lead to one, in order."""
    steps = []
    while last is not None:
        steps.append(last)
        last = last.before
    steps.reverse()
    return steps


def _doubtful(on_path: Sequence[Line | None]) -> list[int]:
    """Places kept after which the story explains the presses badly, worst first."""
    costs = []
    for index in range(len(on_path) - 1):
        here, there = on_path[index], on_path[index + 1]
        if here is not None and there is not None:
            mean = (there.score - here.score) / EVERY
            if mean < CLEAN:
                costs.append((mean, index))
    return [index for _, index in sorted(costs)]


def _stretch(
    live: Tracker,
    line: Line | None,
    presses: Sequence[Press],
    first: int,
    end: int,
    steps: list[Step],
    budget: int,
) -> list[Step]:
    """Steps in which the presses from `first` on are told anew, at least to `end` and until the old story is met."""
    tracker = Tracker(live.ground, live.tempo, THOROUGH if len(presses) <= SHORT else ANEW)
    tracker.know(live)
    if line is not None:
        tracker.begin_at(line)
    start = presses[0].at
    index = first
    while index < len(presses) and index - first < budget + EVERY:
        press = presses[index]
        best = tracker.hear(index, press.pitch, round(press.at - start, 6))
        index += 1
        if index >= end and best.step is not None and _meet(best.step, steps[index - 1]):
            break
    else:
        # Who has not met the old story may have been led away from it.
        if index < len(presses) or (line is not None and tracker.best.score < live.best.score):
            return steps
    fresh = steps_of(tracker.best.step)
    return fresh + steps[index:]


def _meet(new: Step, old: Step) -> bool:
    return (new.note, new.kind, new.place, new.shift) == (old.note, old.kind, old.place, old.shift)
