"""What lies around a slip says why it happened: causes that last for a while.

A sign forgotten is forgotten again at its degree and kept at the others; who plays as written does so with one hand for
a while. So the notes of a degree, and those of a hand, are gone through as those of a player who at each of them is in
such a habit or not: a hidden Markov process of two states, told for each slip from all its kind but itself (forward and
backward: L. Rabiner, "A tutorial on hidden Markov models", Proceedings of the IEEE 77 (1989), from memory). The hands
are asked first: what a hand's habit explains needs none of every degree it struck.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence

from trainer.following.ground import Ground
from trainer.following.marks import ACCIDENTAL, AS_WRITTEN, BRUSHED, REPEATED, SIGNATURE, Mark

OF_A_DEGREE = (SIGNATURE, ACCIDENTAL)
OF_A_HAND = (AS_WRITTEN,)
FEWEST = 3  # slips alike that may be a habit, as many as make a run; two are chance (tuned)
BEGINS = 0.005  # chance at each note that a habit begins (tuned)
ENDS = 0.15  # and that it ends (tuned)
LASTS = 0.85  # share of the notes that go wrong by a habit while it lasts (our guess)
USUALLY = 0.05  # share of slips of one cause outside of a habit, before this player is known (our guess)
USUAL_WEIGHT = 20.0  # and how many notes that guess is worth


def leanings(ground: Ground, marks: Sequence[Mark]) -> dict[int, dict[str, float]]:
    """For slips, by their press, how many times likelier some causes are for what lies around them.

    Parameters
    ----------
    marks : sequence of Mark
        Of a whole take, in order, told each by itself.
    """
    told = [mark for mark in marks if mark.note is not None and mark.cause not in (BRUSHED, REPEATED)]
    degrees: dict[Hashable, list[Mark]] = {}
    hands: dict[Hashable, list[Mark]] = {}
    for mark in _chances(told):
        assert mark.note is not None
        pitch = ground.expected.notes[mark.note].pitch
        degree = pitch.letter, pitch.alteration, ground.keys[mark.note], ground.pages[mark.note]
        degrees.setdefault(degree, []).append(mark)
        hands.setdefault(ground.hand[mark.note], []).append(mark)
    alone = {mark.press: _shares(mark) for mark in told}
    shares = alone
    found: dict[int, dict[str, float]] = {}
    for causes, groups in ((OF_A_HAND, hands), (OF_A_DEGREE, degrees)):
        weights = {press: dict(each) for press, each in shares.items()}
        for cause in causes:
            usual = _usual(groups.values(), cause, alone)
            for group in groups.values():
                likely = [shares[mark.press].get(cause, 0.0) for mark in group]
                for press, likelier in _lasting(group, likely, usual):
                    found.setdefault(press, {})[cause] = likelier
                    weights[press][cause] *= likelier
        shares = {press: _summing_to_one(each) for press, each in weights.items()}
    return found


def _usual(groups: Iterable[Sequence[Mark]], cause: str, shares: Mapping[int, Mapping[str, float]]) -> float:
    """The share of slips of a cause among the notes of the groups in which it shows at all."""
    times, notes = USUALLY * USUAL_WEIGHT, USUAL_WEIGHT
    for group in groups:
        here = sum(shares[mark.press].get(cause, 0.0) for mark in group)
        if here:
            times += here
            notes += len(group)
    return times / notes


def _chances(told: Iterable[Mark]) -> Iterator[Mark]:
    """The marks without right ones that put a slip right at once: the player knows by then."""
    before: Mark | None = None
    for mark in told:
        if mark.others or before is None or before.note != mark.note:
            yield mark
        before = mark


def _lasting(group: Sequence[Mark], likely: Sequence[float], usual: float) -> Iterator[tuple[int, float]]:
    """The presses of a group that a cause may have sent astray as far, with how many times likelier it is there.

    `likely` holds the probability of the cause of each mark by what is known without this group.
    """
    for offset in {mark.offset for mark, share in zip(group, likely, strict=True) if share}:
        shares = [share if mark.offset == offset else 0.0 for mark, share in zip(group, likely, strict=True)]
        asked = [at for at, share in enumerate(shares) if share]
        if len(asked) < FEWEST:
            continue
        # How many times likelier each press is in a habit than out of it.
        ratios = [max(LASTS * share / usual, 1.0 - LASTS) for share in shares]
        before, after = _from_before(ratios), _from_after(ratios)
        for at in asked:
            inside = before[at] * after[at]
            lasting = inside / (inside + 1.0 - before[at])
            yield group[at].press, 1.0 + lasting * max(LASTS / usual - 1.0, 0.0)


def _from_before(ratios: Sequence[float]) -> list[float]:
    """For each note the probability that the habit lasts there, from the notes before it."""
    lasting, found = BEGINS / (BEGINS + ENDS), []
    for ratio in ratios:
        found.append(lasting)
        inside = lasting * ratio
        lasting = inside / (inside + 1.0 - lasting)
        lasting = lasting * (1.0 - ENDS) + (1.0 - lasting) * BEGINS
    return found


def _from_after(ratios: Sequence[float]) -> list[float]:
    """For each note how many times likelier the notes after it are if the habit lasts there."""
    times, found = 1.0, []
    for ratio in reversed(ratios):
        found.append(times)
        inside = times * ratio
        times = (inside * (1.0 - ENDS) + ENDS) / (inside * BEGINS + 1.0 - BEGINS)
    return found[::-1]


def _shares(mark: Mark) -> dict[str, float]:
    """The probabilities of the causes of one mark; none where it was told for certain."""
    return {mark.cause: mark.probability, **dict(mark.others)} if mark.others else {}


def _summing_to_one(weights: Mapping[str, float]) -> dict[str, float]:
    whole = sum(weights.values())
    return {cause: weight / whole for cause, weight in weights.items()}
