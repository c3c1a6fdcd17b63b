"""Everything in a take that was not right, line by line: what ``mark`` and ``journal show`` print."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from trainer.following.marks import MISSED, RIGHT, Settled, right_of
from trainer.listening.press import Press
from trainer.music.names import ENGLISH, keys_in
from trainer.music.piece import Piece
from trainer.music.solfege import LA_BASED


class Line(NamedTuple):
    """Where it happened, the code of the mark or move, and what a teacher would say of it."""

    place: str
    code: str
    words: str


def whole_take(settled: Settled, letters: str = ENGLISH) -> tuple[str, ...]:
    """What is true of the take as a whole, in sentences; where it lay, with how much of it was right there."""
    said = [keys_in(finding.words, letters) for finding in settled.findings]
    if settled.shift:
        there = sum(mark.cause == RIGHT or settled.is_of_all(mark) for mark in settled.marks)
        said.append(f"Taken where it lay, {right_of(there, len(settled.marks), len(settled.missed))} were right.")
    return tuple(said)


def lines(
    written: Piece,
    expected: Piece,
    presses: Sequence[Press],
    settled: Settled,
    *,
    minor: str = LA_BASED,
    letters: str = ENGLISH,
) -> Iterator[Line]:
    """All but right notes, and but what `whole_take` says of all, in the order it happened."""
    from trainer.following.findings import meant
    from trainer.following.words import say, say_bar, say_missed, say_move, say_place

    told: list[tuple[float, Line]] = []
    heard = meant(expected, settled.findings)
    bar = ""
    for mark in settled.marks:
        press = presses[mark.press]
        if mark.note is not None:
            bar = say_bar(written, written.notes[mark.note].onset)
        if mark.cause != RIGHT and not settled.is_of_all(mark):
            place = say_place(written, mark.note) if mark.note is not None else bar
            words = say(settled.as_told(mark), written, heard, minor=minor, language=letters, pressed=press.pitch)
            told.append((press.at, Line(place, mark.cause, words)))
    due = _due(presses, settled)
    for note in settled.missed:
        words = say_missed(note, written, expected, minor=minor, language=letters)
        told.append((due(note), Line(say_place(written, note), MISSED, words)))
    for move in settled.moves:
        told.append((move.at, Line(say_place(written, move.goal), move.kind, say_move(move, written))))
    for _, line in sorted(told, key=lambda pair: pair[0]):
        yield line._replace(words=line.words.removeprefix(f"{line.place}: "))


def _due(presses: Sequence[Press], settled: Settled) -> Callable[[int], float]:
    """When a note that nobody played was due: with the press before it in the piece."""
    played = sorted((mark.note, presses[mark.press].at) for mark in settled.marks if mark.note is not None)

    def due(note: int) -> float:
        before = [at for other, at in played if other <= note]
        return before[-1] if before else 0.0

    return due
