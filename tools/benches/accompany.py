"""At the last minute: what re-keying a long piece costs, with its line, its clef and its harmony."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import Any

from trainer.coaching.singers.accompany import suit, voice_line
from trainer.coaching.singers.voices import voice
from trainer.music.clefs import TREBLE, reading
from trainer.music.piece import Piece
from trainer.music.transpose import by_semitones, transposed
from trainer.scores import reading as scores
from trainer.scores.harmony import harmonies
from trainer.scores.shelf import library

BARS = 300
ROUNDS = 60


def long_piece(bars: int = BARS) -> Piece:
    """A bundled minuet played over and over until it has so many bars."""
    piece = scores.read(library.find("petzold-minuet-in-g"))
    times = -(-bars // len(piece.bars))
    step = piece.length
    notes = [replace(n, onset=n.onset + k * step) for k in range(times) for n in piece.notes]
    rows = [
        replace(b, onset=b.onset + k * step, number=k * len(piece.bars) + b.number)
        for k in range(times)
        for b in piece.bars
    ]
    kept = tuple(rows[:bars])
    end: Fraction = kept[-1].onset + kept[-1].length
    return replace(piece.with_notes(n for n in notes if n.onset < end), bars=kept, chords=(), lyrics=(), verses=())


def rekeyed() -> tuple[list[float], list[float]]:
    """Seconds of work from the press that re-keys the long piece on the Stand to the frame that shows it.

    And the seconds that the second process then works for the page with the fingers of that key.
    """
    # These set the drivers that need no screen.
    from tools import staging
    from trainer.window.house.still import house_of
    from trainer.window.stand.stand import Stand
    from trainer.window.wish import Wish

    with staging.home():
        house = house_of((1920, 1080))
        stand = house.screen_of(Stand)
        piece = long_piece()
        stand.play(Wish(piece, by_semitones(piece.key, -3)))
        house.draw()
        house.draw()
        ask = house.workroom.ask
        asked: list[Callable[[], object]] = []

        def later(*given: Any, **then: Any) -> None:
            asked.append(partial(ask, *given, **then))

        house.workroom.ask = later  # type: ignore[method-assign]
        frames, pages = [], []
        for at in range(ROUNDS):
            start = time.process_time()
            stand.orders.rekey(1 if at % 2 else -1)
            house.draw()
            frames.append(time.process_time() - start)
            for work in asked:
                work()
            pages.append(time.process_time() - start - frames[-1])
            asked.clear()
        house.close()
    return frames, pages


def run(argv: Sequence[str]) -> int:
    piece = long_piece()
    now = by_semitones(piece.key, -3)
    singer = voice("mezzo")
    print(f"{len(piece.bars)} bars, {len(piece.notes)} notes; processor time in ms, median and worst of {ROUNDS}")
    work: dict[str, Callable[[], object]] = {
        "a semitone lower": lambda: transposed(piece, by_semitones(piece.key, now.interval.semitones - 1).interval),
        "keys for a singer": lambda: suit(voice_line(piece), singer.tessitura, singer),
        "clef to imagine": lambda: reading(TREBLE, now),
        "harmony of the whole piece": lambda: harmonies(piece),
    }
    for name, act in work.items():
        spent = []
        for _ in range(ROUNDS):
            start = time.process_time()
            act()
            spent.append((time.process_time() - start) * 1000)
        print(f"  {name:34s} {statistics.median(spent):8.2f} {max(spent):8.2f}")
    names = "re-keyed on the Stand, drawn", "its fingers, in the second process"
    for name, seconds in zip(names, rekeyed(), strict=True):
        spent = [one * 1000 for one in seconds]
        print(f"  {name:34s} {statistics.median(spent):8.2f} {max(spent):8.2f}")
    return 0
