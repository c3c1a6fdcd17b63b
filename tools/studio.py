"""An invented studio: students with invented names who practise through a year, seeded.

Each has a journal of their own, as at home. Accuracy and speed grow over the weeks; slips of one or two causes come
back in the same bars, so that a report has something to find.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from trainer.following.marks import AS_WRITTEN, DISPLACED, RIGHT, SIGNATURE, STEP, Mark, Settled
from trainer.journal.store import Journal
from trainer.listening.press import Press, Release
from trainer.music.piece import Piece
from trainer.music.transpose import Transposition, plan, transposed
from trainer.session import Summary

FIRST = ("Ada", "Ben", "Clara", "Dario", "Edda", "Femi", "Greta", "Hugo", "Ines", "Jonah", "Kaya", "Lars", "Mira",
         "Nils", "Olga", "Pavel", "Quinn", "Rosa", "Sven", "Tilda")  # fmt: skip
LAST = ("Winter", "Holm", "Reed", "Moor", "Field")
KEYS = ("Eb", "F", "A", "Bb", "D", "F#")
CAUSES = (SIGNATURE, AS_WRITTEN, STEP, DISPLACED)
_OFFSETS = {SIGNATURE: 1, AS_WRITTEN: 4, STEP: 2, DISPLACED: -2}


def names(count: int) -> list[str]:
    """Invented names, all different."""
    return [f"{FIRST[i % len(FIRST)]} {LAST[i // len(FIRST) % len(LAST)]}" for i in range(count)]


def practise(journal: Journal, player: str, pieces: Sequence[Piece], end: datetime, takes: int, seed: int) -> None:
    """Let a student play so many takes, spread over the year before `end`."""
    draw = random.Random(f"{seed} {player}")
    weak = draw.choice(CAUSES)
    days = sorted((draw.random() * 365 for _ in range(takes)), reverse=True)
    for ago in days:
        piece = draw.choice(pieces)
        wish = plan(
            piece.key, draw.choice(("+0", *KEYS)) if not piece.key.is_minor else draw.choice(("+0", "-3", "+2"))
        )
        grown = 1 - ago / 365
        play(journal, player, piece, wish, draw, 0.25 * (1 - grown) + 0.02, weak, end - timedelta(days=ago))


def play(
    journal: Journal, player: str, piece: Piece, wish: Transposition, draw: random.Random, slips: float, weak: str,
    began: datetime, **about: Any,
) -> None:  # fmt: skip
    """One take with a share of slips; the weak cause comes back on every seventh note."""
    take = journal.begin(piece, wish, player=player, tempo=None, began=began, **about)
    expected = transposed(piece, wish.interval)
    beat = 0.5 + slips
    marks: list[Mark] = []
    at = 0.0
    for index, note in enumerate(expected.notes):
        at = float(note.onset) * beat
        chance = min(slips * (4 if index % 7 == 3 else 0.7), 0.9)
        cause = (weak if index % 7 == 3 else draw.choice(CAUSES)) if draw.random() < chance else RIGHT
        offset = 0 if cause == RIGHT else _OFFSETS[cause]
        marks.append(Mark(index, index, cause, 0.9, (), offset))
        take.press(Press(at, note.midi + offset, 70), marks[-1])
        take.other(Release(at + 0.8 * beat * float(note.length), note.midi + offset))
    right = sum(mark.cause == RIGHT for mark in marks)
    figures = Summary(right, len(marks), len(marks), right / len(marks), 60 / beat, at + beat)
    take.finish(Settled(tuple(marks), (), ()), figures)


def studio(
    folder: Path, students: int, takes: int, pieces: Sequence[Piece], end: datetime, seed: int = 1
) -> list[Path]:
    """A journal for every student, in a folder."""
    made = []
    for number, name in enumerate(names(students)):
        path = folder / f"student-{number:02d}.sqlite"
        with Journal(path, strict=True) as journal:
            practise(journal, name, pieces, end, takes, seed)
        made.append(path)
    return made
