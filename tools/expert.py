"""A seeded concert player: rubato, hands and chord notes apart, rolled chords, ornaments, a few slips.

Spreads follow what is known of pianists (melody ahead by about 20 ms, chord notes within some 10 to 40 ms: W. Goebl,
"Melody lead in piano performance", JASA 110 (2001), from memory); the rest is ours.
"""

from __future__ import annotations

import math
import random

from tools.learner import Struck, Take, Truth, possible, struck_keys
from trainer.following import marks as m
from trainer.listening.press import Press
from trainer.music.piece import LEFT, RIGHT, Note, Piece


def perform(expected: Piece, seed: int = 0, *, errors: float = 0.02) -> Take:
    """One concert take of a piece; `errors` is the share of notes left out, wrong or added."""
    chance = random.Random(f"expert/{seed}/{expected.title}/{len(expected.notes)}")
    base = 60.0 / expected.tempo * chance.uniform(0.8, 1.25)
    struck: list[Struck] = []
    at, slow = 0.0, 0.0
    phase = chance.uniform(0.0, 6.28)
    moments = expected.moments
    lately = {RIGHT: -math.inf, LEFT: -math.inf}
    for index, moment in enumerate(moments):
        free = dict(lately)
        left_late = chance.gauss(0.015, 0.02) + (chance.uniform(-0.1, 0.12) if chance.random() < 0.03 else 0.0)
        rolled = chance.uniform(0.03, 0.09) if len(moment.notes) > 2 and chance.random() < 0.05 else 0.0
        if index + 1 < len(moments):  # a roll ends before what follows
            rolled = min(rolled, 0.6 * base * float(moments[index + 1].onset - moment.onset) / len(moment.notes))
        for order, number in enumerate(struck_keys(expected, moment.notes)):
            note = expected.notes[number]
            when = at + chance.gauss(0.0, 0.008) + rolled * order + (0.0 if note.hand == RIGHT else left_late)
            if note.grace:
                when -= chance.uniform(0.05, 0.12) * (1 + moment.notes[-1] - number) / 2
            # A hand plays in the order written, however fast.
            when = max(when, free[note.hand] + chance.uniform(0.015, 0.03))
            lately[note.hand] = max(lately[note.hand], when)
            _sound(struck, note, number, when, base, errors, chance, spelled_out=_spelled_out(expected, number))
        if index + 1 < len(moments):
            onset = float(moment.onset)
            slow = 0.9 * slow + chance.gauss(0.0, 0.03)
            rubato = 1.0 + 0.15 * math.sin(onset / 9.0 + phase) + slow
            last = len(moments) - index < 12
            gap = float(moments[index + 1].onset) - onset
            at += gap * base * max(0.5, rubato) * (1.5 if last else 1.0) * (1 + chance.gauss(0.0, 0.03))
    struck = possible(sorted(struck, key=lambda one: one.at))
    start = struck[0].at - 0.5
    presses = tuple(Press(round(one.at - start, 4), one.pitch, one.velocity) for one in struck)
    return Take(presses, tuple(Truth(one.note, one.cause) for one in struck))


def _spelled_out(piece: Piece, number: int) -> bool:
    """Whether the keys of an ornament also stand in the piece as notes the page hides."""
    note = piece.notes[number]
    return bool(note.ornament) and any(
        other.optional and not other.grace and note.onset <= other.onset < note.end and abs(other.midi - note.midi) <= 2
        for other in piece.notes[number + 1 : number + 12]
    )


def _sound(
    struck: list[Struck],
    note: Note,
    number: int,
    when: float,
    base: float,
    errors: float,
    chance: random.Random,
    *,
    spelled_out: bool,
) -> None:
    draw = chance.random() / max(errors, 1e-9)
    if draw < 0.4:
        return
    if draw < 0.6:
        struck.append(Struck(when, note.midi + chance.choice((-2, -1, 1, 2)), number, m.WRONG))
        return
    struck.append(Struck(when, note.midi, number, m.RIGHT))
    if draw < 1.0:
        later = when + chance.uniform(0.0, 0.2)
        struck.append(Struck(later, note.midi + chance.choice((-2, -1, 1, 2, 7)), None, m.EXTRA))
    seconds = float(note.length) * base
    if spelled_out:
        return
    if note.ornament == "trill" and seconds > 0.3:
        gap = chance.uniform(0.07, 0.12)
        count = int(seconds * 0.9 / gap)
        for i in range(1, count):
            pitch = note.midi + (chance.choice((1, 2)) if i == 1 else 2) * (i % 2)
            struck.append(Struck(when + i * gap, pitch, None, m.RIGHT))
    elif note.ornament in ("mordent", "turn") and seconds > 0.15:
        gap = chance.uniform(0.06, 0.1)
        for i, away in enumerate((2, 0) if note.ornament == "mordent" else (2, 0, -1, 0)):
            struck.append(Struck(when + (i + 1) * gap, note.midi + away, None, m.RIGHT))
