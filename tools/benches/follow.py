"""Measure the follower: ``python tools/bench.py follow [--takes N] [--seed N] [--tuning] [--still] [--compare]``,
or ``--latency``.

Pieces come from music21's corpus: every second one, in order of name, was used for tuning, the others (and other
seeds) for the figures reported. Takes come from `tools.learner` and `tools.expert`, whose truth is known.
"""

from __future__ import annotations

import argparse
import random
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from tools.benches import others
from tools.benches.scoring import Score, score
from tools.expert import perform
from tools.learner import CLEAN, LEVELS, simulate
from trainer.following.follower import Follower
from trainer.following.marks import CAUSES
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed
from trainer.window.house.sparing import spare

# Folders of the corpus with keyboard music, reductions of chamber music, songs and tunes.
FOLDERS = ("joplin", "mozart/k545", "mozart/k155", "mozart/k156", "mozart/k458", "haydn/opus1no1", "haydn/opus74no1",
           "beethoven", "schumann_clara", "schumann_robert", "chopin", "cpeb*", "weber", "verdi",
           "liliuokalani", "beach", "leadSheet", "ryansMammoth", "essenFolksong", "monteverdi")  # fmt: skip
KINDS = (".mxl", ".xml", ".krn", ".abc", ".musicxml")
WISHES = ("-3", "+2", "-5", "+4", "+1", "-1", "-2", "+5", "+3", "-4", "-6")
SHORT, LONG = 250, 1500  # notes of a learner's and of a concert take
EXPERTS = {"expert, short": SHORT, "expert, long": LONG}


@dataclass
class Told:
    """All takes of one kind: our scores, the seconds each press took, F1 of each library on the same takes."""

    scores: list[Score] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    settling: list[float] = field(default_factory=list)
    others: dict[str, list[float | None]] = field(default_factory=dict)


def run(argv: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(prog="bench.py follow")
    parser.add_argument("--takes", type=int, default=40, help="takes of each kind")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--tuning", action="store_true", help="the pieces used for tuning instead of the others")
    parser.add_argument("--still", action="store_true", help="learners who never go back or skip")
    parser.add_argument("--compare", action="store_true", help="the open libraries' matchers on the same takes")
    parser.add_argument("--latency", action="store_true", help="only time and memory as pieces grow")
    args = parser.parse_args(argv)
    if args.latency:
        return _latency()
    confusion: Counter[tuple[str, str]] = Counter()
    heads = "first mean/worst  final mean/worst  tied   cause / plain  accused  within 3/6/3 known (moves)  false moves"
    print(f"{'':14} {heads}")
    for kind in (*LEVELS, *EXPERTS):
        told = _measure(kind, args)
        _print(kind, told)
        if kind not in EXPERTS:  # a concert take calls every wrong key `wrong`
            for one in told.scores:
                confusion.update(one.confusion)
    _confusion(confusion)
    return 0


def _measure(kind: str, args: argparse.Namespace) -> Told:
    told = Told()
    size = EXPERTS.get(kind, SHORT)
    who = LEVELS.get(kind, CLEAN)
    if args.still:
        who = replace(who, back=0.0, skip=0.0)
    for number, (written, expected) in enumerate(pieces(args.takes, args.seed, size, tuning=args.tuning)):
        seed = args.seed * 1000 + number
        take = perform(expected, seed) if kind in EXPERTS else simulate(written, expected, who, seed)
        if not take.presses:
            continue
        follower = Follower(written, expected)
        first = []
        for press in take.presses:
            start = time.thread_time()
            first.append(follower.hear(press))
            told.seconds.append(time.thread_time() - start)
        start = time.thread_time()
        settled = follower.settle()
        told.settling.append(time.thread_time() - start)
        told.scores.append(score(take, follower.ground, first, settled))
        if args.compare:
            for name, found in others.scores(expected, take):
                told.others.setdefault(name, []).append(found)
    return told


def pieces(count: int, seed: int, size: int, *, tuning: bool) -> Iterator[tuple[Piece, Piece]]:
    """Pieces and what is expected of them, folder after folder, cut to a size."""
    from music21.common import getCorpusFilePath

    from trainer.music.pitch import MusicError
    from trainer.scores.reading import read

    base = Path(getCorpusFilePath())
    chance = random.Random(seed)
    shelves = []
    for folder in FOLDERS:
        files = sorted(path for path in base.glob(f"{folder}/*") if path.suffix in KINDS)[:24]
        shelves.append(files[0 if tuning else 1 :: 2] or files)
    given = turn = 0
    while given < count:
        shelf = shelves[turn % len(shelves)]
        turn += 1
        try:
            piece = read(chance.choice(shelf))
            written = _cut(piece, size)
            expected = transposed(written, plan(written.key, chance.choice(WISHES)).interval)
        except (MusicError, IndexError):
            continue
        if len(written.notes) >= 25:
            given += 1
            yield written, expected


def _cut(piece: Piece, size: int) -> Piece:
    if len(piece.notes) <= size:
        return piece
    last = piece.notes[size - 1].onset
    return piece.with_notes(note for note in piece.notes if note.onset <= last)


def _print(kind: str, told: Told) -> None:
    scores = told.scores

    def share(part: str, whole: str) -> float:
        return float(sum(getattr(s, part) for s in scores) / max(1, sum(getattr(s, whole) for s in scores)))

    moves = sum(s.moves for s in scores)
    cause = f"{share('slips_named', 'slips'):.3f} / {share('plain_named', 'plain'):.3f}"
    cause = f"{'—':13}" if kind in EXPERTS else cause
    print(
        f"{kind:14} {_mean(s.first for s in scores):.4f} / {min(s.first for s in scores):.3f}"
        f"   {_mean(s.final for s in scores):.4f} / {min(s.final for s in scores):.3f}"
        f"   {_mean(s.tied for s in scores):.3f}  {cause}  {share('accused', 'right'):.4f}"
        f"   {share('within3', 'moves'):.2f} / {share('within6', 'moves'):.2f} / {share('known3', 'moves'):.2f}"
        f" ({moves})"
        f"   {sum(s.false_moves for s in scores)}"
    )
    micro = sorted(1e6 * s for s in told.seconds)
    print(
        f"{'':14} first verdict µs: median {micro[len(micro) // 2]:.0f}, 99th percentile "
        f"{micro[int(0.99 * len(micro))]:.0f}; settling a take: {_mean(told.settling):.2f} s"
    )
    for name, found in told.others.items():
        done = [one for one in found if one is not None]
        gave_up = f"; gave up {len(found) - len(done)} of {len(found)}" if len(done) < len(found) else ""
        print(f"{'':14} {name}: {_mean(done):.4f} / {min(done, default=0.0):.3f}{gave_up}")


def _mean(values: Iterable[float]) -> float:
    listed = list(values)
    return sum(listed) / max(1, len(listed))


def _confusion(counts: Counter[tuple[str, str]]) -> None:
    print("\ntrue cause (row) and cause told (column)")
    print(" " * 11 + "".join(cause[:8].rjust(9) for cause in CAUSES))
    for true in CAUSES:
        print(true.rjust(11) + "".join(str(counts[true, told]).rjust(9) for told in CAUSES))


# Time and memory as pieces grow.


def _latency() -> int:
    import tracemalloc

    spare()  # as the window does
    middles = {}
    for size in (100, 1000, 10_000):
        piece = _long_piece(size)
        expected = transposed(piece, plan(piece.key, "+2").interval)
        take = simulate(piece, expected, "intermediate", 7)
        presses = take.presses[:2000]
        while len(presses) < 2000:
            shift = presses[-1].at + 1.0
            presses += tuple(Press(p.at + shift, p.pitch, p.velocity) for p in take.presses)
        tracemalloc.start()
        follower = Follower(piece, expected)
        held = tracemalloc.get_traced_memory()[0] / 1e6
        tracemalloc.stop()
        spent = []
        for press in presses:
            start = time.thread_time()
            follower.hear(press)
            spent.append(1e6 * (time.thread_time() - start))
        spent.sort()
        middles[size] = spent[len(spent) // 2]
        print(
            f"{size:6} notes: µs a press median {middles[size]:.0f}, 99th percentile "
            f"{spent[int(0.99 * len(spent))]:.0f}, longest {spent[-1]:.0f}; {held:.1f} MB"
        )
    print(f"growth of the median from 100 to 10,000 notes: {middles[10_000] / middles[100]:.2f}")
    take = simulate(piece, expected, "intermediate", 8)
    follower = Follower(piece, expected)
    for press in take.presses[:5000]:
        follower.hear(press)
    start = time.thread_time()
    follower.settle()
    print(f"settling {min(5000, len(take.presses))} presses: {time.thread_time() - start:.2f} s")
    return 0


def _long_piece(size: int) -> Piece:
    """Two hands in G major: a wandering melody over broken chords."""
    chance = random.Random(size)
    notes = []
    scale = [SpelledPitch.parse(p) for p in "D4 E4 F#4 G4 A4 B4 C5 D5 E5 F#5 G5".split()]
    bass = [SpelledPitch.parse(p) for p in "G2 D3 G3 B3 C3 E3 A3 F#3".split()]
    at = 5
    for step in range(size // 2):
        at = min(max(at + chance.choice((-2, -1, -1, 0, 1, 1, 2)), 0), len(scale) - 1)
        onset = Fraction(step, 2)
        notes.append(Note(f"r{step}", scale[at], onset, Fraction(1, 2)))
        notes.append(Note(f"l{step}", chance.choice(bass), onset, Fraction(1, 2), hand="left", staff=2))
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(size // 16 + 1))
    return Piece("long", (), bars, (KeyChange(Fraction(0), Key.parse("G")),)).with_notes(notes)
