"""``python tools/bench.py hands``: how long a fingering takes, and how much of it other keys keep."""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections.abc import Callable
from fractions import Fraction

from trainer.hands import effort
from trainer.hands.changes import changes
from trainer.hands.ease import ease
from trainer.hands.fingering import finger_piece
from trainer.music.keys import CIRCLE_MAJOR, CIRCLE_MINOR, Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.transpose import interval_between, transposed


def run(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="bench.py hands")
    parser.add_argument("--notes", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=20)
    args = parser.parse_args(argv)
    print(f"processor time in ms over {args.rounds} rounds, tables already made (first: with the tables to make)")
    for name, piece, hand in (
        (f"line of {args.notes}", _wander(args.notes, ()), RIGHT),
        (f"line of {args.notes}, left", _wander(args.notes, (), LEFT), LEFT),
        (f"triads of {args.notes} notes", _wander(args.notes // 3, (2, 4)), RIGHT),
    ):
        _timed(name, lambda piece=piece, hand=hand: finger_piece(piece, hand), args.rounds)  # type: ignore[misc]
    line = _wander(args.notes, ())
    moved = transposed(line, interval_between(line.key, Key.parse("Eb")))
    _timed(f"changes of a line of {args.notes}", lambda: changes(line, moved), args.rounds)
    _timed(f"ease of a line of {args.notes} in a key", lambda: ease(line, moved), args.rounds)
    _shelf()
    return 0


def _timed(name: str, work: Callable[[], object], rounds: int) -> None:
    for table in (effort.one, effort.two, effort.three, effort.together):
        table.cache_clear()
    spent = []
    for _ in range(rounds + 1):
        start = time.process_time()
        work()
        spent.append(1000 * (time.process_time() - start))
    first, *rest = spent
    cuts = statistics.quantiles(rest, n=20)
    print(f"  {name:38s} median {statistics.median(rest):6.1f}   95% {cuts[18]:6.1f}   first {first:6.1f}")


def _wander(count: int, above: tuple[int, ...], hand: str = RIGHT) -> Piece:
    """A line in D major that wanders over three octaves; `above` adds chord notes, in steps."""
    dice, key = random.Random(1), Key.parse("D")
    notes: list[Note] = []
    step, length = 0, Fraction(1, 2)
    for i in range(count):
        step = max(-9, min(12, step + dice.choice((-3, -2, -1, -1, 1, 1, 2, 3))))
        for more in (0, *above):
            octave, degree = divmod(step + more, 7)
            pitch = key.degree(degree + 1, 4 + octave)
            notes.append(Note(f"n{len(notes)}", pitch, i * length, length, hand))
    return Piece("", sorted_notes(notes), (Bar(1, Fraction(0), count * length),), (KeyChange(Fraction(0), key),))


def _shelf() -> None:
    """Shares of fingers kept by the bundled pieces in the other eleven keys, by level."""
    from trainer.music.compass import LEVELS, level
    from trainer.scores.reading import read
    from trainer.scores.shelf.library import bundled_folder

    kept: dict[str, list[float]] = {name: [] for name in LEVELS}
    for path in sorted(bundled_folder().rglob("*.musicxml")):
        piece = read(path)
        for key in CIRCLE_MINOR if piece.key.is_minor else CIRCLE_MAJOR:
            way = interval_between(piece.key, key)
            if way.semitones:
                kept[level(piece)].append(changes(piece, transposed(piece, way)).kept)
    print("fingers kept in the other eleven keys, bundled pieces")
    for name, shares in kept.items():
        if shares:
            print(f"  {name:11s} {len(shares) // 11:3d} pieces   median {statistics.median(shares):.0%}   "
                  f"least {min(shares):.0%}")  # fmt: skip
