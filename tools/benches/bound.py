"""How soon the place after a move can be known at all: ``python tools/bench.py bound [--moves N] [--runs N]``.

From the state just before each move the simulated learner is played on again and again, by other chances: going on,
going back, skipping, each weighed by its rate. Of the runs that strike the same keys in about the same time, the note
most often meant by the last of them is the best guess there can be (the Bayes decision, by rejection sampling: J. K.
Pritchard et al., Mol. Biol. Evol. 16 (1999), from memory): it knows the learner's rates and all that came before.
But for the chance of few moves no follower ties more presses rightly. Ours is told beside it, on the same moves.
"""

from __future__ import annotations

import argparse
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import log
from typing import TypeAlias

from tools.benches.follow import SHORT, pieces
from tools.benches.scoring import keys_of
from tools.learner import LEVELS, Learner, Profile, Take
from trainer.following.follower import Follower
from trainer.following.marks import Mark
from trainer.music.piece import Piece

PRESSES = 5  # after a move
FEW = 10  # like runs, at the least, that tell what was meant
MORE = 3  # presses played further, so that the last that counts has its own place in time
WAIT = 0.7  # how far apart, in logarithms, the waits before the first press may lie, and between those after it
GAP = 1.3
Meant: TypeAlias = dict[int | None, float]  # weight of each note meant
MOMENT_S = 0.06  # added to both: what hands are apart by chance


@dataclass
class Known:
    """After so many presses: moves with enough like runs, those the best guess ties rightly, and those we do."""

    moves: int = 0
    best: int = 0
    ours: int = 0


@dataclass
class _Move:
    """A move: the learner just before it, in whose time the last press was struck at `last`, and its first press."""

    learner: Learner
    first: int
    last: float = 0.0


@dataclass
class _Heard:
    """A take with its moves."""

    expected: Piece
    written: Piece
    take: Take
    moves: list[_Move] = field(default_factory=list)


def run(argv: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(prog="bench.py bound")
    parser.add_argument("--moves", type=int, default=40, help="moves looked at (40)")
    parser.add_argument("--runs", type=int, default=4000, help="runs of each kind from every one of them (4000)")
    parser.add_argument("--level", choices=sorted(LEVELS), default="beginner")
    parser.add_argument("--seed", type=int, default=2026)
    args = parser.parse_args(argv)
    known = [Known() for _ in range(PRESSES)]
    left = args.moves
    for heard in _takes(LEVELS[args.level], args.seed):
        key = keys_of(heard.expected)
        follower = Follower(heard.written, heard.expected)
        first = [follower.hear(press) for press in heard.take.presses]
        for move in heard.moves[:left]:
            _learn(known, heard.take, first, move, key, args.runs)
        left -= len(heard.moves)
        if left <= 0:
            break
    print(f"{'press':>5} {'moves':>6} {'best guess':>11} {'ours':>6}")
    for press, one in enumerate(known, 1):
        share = max(one.moves, 1)
        print(f"{press:5} {one.moves:6} {one.best / share:11.2f} {one.ours / share:6.2f}")
    return 0


def _takes(who: Profile, seed: int) -> Iterator[_Heard]:
    """Takes of a learner, each with the state before its moves."""
    for number, (written, expected) in enumerate(pieces(1000, seed, SHORT, tuning=False)):
        learner = Learner(written, expected, who, random.Random(f"bound/{seed}/{number}"))
        before = []
        while learner.playing_on:
            state = learner.twin(learner.chance)
            if learner.go_on():
                before.append(state)
        take, struck = learner.take, learner.struck
        if len(before) != len(take.moves):
            continue  # a move before any press, or after the last: not one of these takes can be aligned
        heard = _Heard(expected, written, take)
        for state, move in zip(before, take.moves, strict=True):
            if 0 < move.press <= len(struck) - PRESSES:
                heard.moves.append(_Move(state, move.press, struck[move.press - 1].at))
        yield heard


def _learn(known: list[Known], take: Take, first: Sequence[Mark], move: _Move, key: Sequence[int], runs: int) -> None:
    meant = _meant(take, move, key, runs)
    for index, (one, found) in enumerate(zip(known, meant, strict=True)):
        press = move.first + index
        true, told = take.truth[press].note, first[press].note
        if true is None or found[1] < FEW:
            continue
        one.moves += 1
        one.best += max(found[0], key=found[0].__getitem__) == key[true]
        one.ours += told is not None and key[told] == key[true]


def _meant(take: Take, move: _Move, key: Sequence[int], runs: int) -> list[tuple[Meant, int]]:
    """For each press after a move the notes meant by it in the runs alike so far, weighed, and how many runs."""
    wanted = take.presses[move.first : move.first + PRESSES]
    times = [take.presses[move.first - 1].at, *(press.at for press in wanted)]
    gaps = [later - earlier for earlier, later in pairwise(times)]
    who = move.learner.who
    ways = [
        (1.0 - who.back - who.skip, replace(who, back=0.0, skip=0.0)),
        (who.back, replace(who, back=1.0, skip=0.0)),
        (who.skip, replace(who, back=0.0, skip=1.0)),
    ]
    chance = random.Random(move.first)
    meant: list[Meant] = [defaultdict(float) for _ in wanted]
    alike = [0] * PRESSES
    for weight, way in ways:
        for _ in range(runs):
            twin = move.learner.twin(chance)
            if twin.go_on(way) != (way.back + way.skip > 0.0):
                continue  # there was nowhere to go
            if not any(one.pitch == wanted[0].pitch for one in twin.playing.struck):
                continue  # soon told: the first press comes with the first moment
            while twin.playing_on and len(twin.playing.struck) < PRESSES + MORE:
                twin.go_on()
            at = move.last
            for index, one in enumerate(twin.struck[:PRESSES]):
                apart = log((max(one.at - at, 0.0) + MOMENT_S) / (gaps[index] + MOMENT_S))
                at = one.at
                if one.pitch != wanted[index].pitch or abs(apart) > (GAP if index else WAIT):
                    break
                meant[index][None if one.note is None else key[one.note]] += weight
                alike[index] += 1
    return list(zip(meant, alike, strict=True))
