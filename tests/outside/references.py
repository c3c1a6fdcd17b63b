"""Scores and reference libraries the outside checks share.

Scores: the corpus that music21 carries (M. S. Cuthbert and C. Ariza, "music21: a toolkit for computer-aided
musicology", ISMIR 2010): chorales, string quartets, rags, and folk songs of the Essen and Ryan's Mammoth
collections.
"""

from __future__ import annotations

import random
import warnings
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from trainer.music.piece import Piece
from trainer.scores.reading import from_bytes


def corpus() -> Path:
    """Where music21 keeps its scores."""
    import music21

    return Path(music21.__file__).parent / "corpus"


def chosen(pattern: str, count: int, largest: int = 40_000) -> list[Path]:
    """`count` scores that answer a pattern, the same ones every time, none larger than `largest` bytes."""
    found = sorted(path for path in corpus().glob(pattern) if path.stat().st_size < largest)
    return sorted(random.Random(0).sample(found, min(count, len(found))))


def work(pattern: str) -> Path:
    """The one score that answers a pattern."""
    return next(corpus().glob(pattern))


@cache
def ours(path: Path, parts: str = "all") -> Piece:
    return from_bytes(path.read_bytes(), path.name, parts=parts)


def parsed(path: Path) -> Any:
    """The score as music21 reads it."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if path.suffix == ".abc":
            # From version 2 on music21 lets an accidental hold to the end of its bar, as the standard says.
            return converter.parseData("%abc-2.1\n" + path.read_text(errors="replace"), format="abc")
        return converter.parse(path)


def sounding(score: Any) -> Counter[tuple[float, int, str]]:
    """(onset, key number, letter) of every sounding note of a music21 score: tied continuations left out.

    Parts of instruments that transpose are changed in the score itself, for a copy costs more than reading it.
    """
    found: Counter[tuple[float, int, str]] = Counter()
    score.toSoundingPitch(inPlace=True)
    for part in score.parts:
        for element in part.flatten().notes:
            for head in _heads(element):
                if head.tie is None or head.tie.type == "start":
                    found[round(float(element.offset), 2), head.pitch.midi, head.pitch.step] += 1
    return found


def _heads(element: Any) -> Iterator[Any]:
    if "ChordSymbol" in element.classes or "Unpitched" in element.classes:
        return
    yield from element.notes if "Chord" in element.classes else [element]


def as_counted(piece: Piece) -> Counter[tuple[float, int, str]]:
    """The same of a piece of ours."""
    return Counter((round(float(note.onset), 2), note.midi, note.pitch.letter) for note in piece.notes)


@cache
def our_tune(tune: bytes) -> Piece:
    return from_bytes(tune, "tune.abc", parts="all")


@cache
def folk_tunes(book: str, count: int) -> tuple[bytes, ...]:
    """The first tunes of a book of folk songs in ABC, one by one."""
    text = (corpus() / "essenFolksong" / f"{book}.abc").read_text(encoding="utf-8", errors="replace")
    return tuple(("X:" + tune).encode() for tune in text.split("\nX:")[1 : count + 1])
