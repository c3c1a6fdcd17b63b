"""The slurs of a voice of an ABC tune: round brackets, one within another, between notes or inside chords."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.scores.notation.written import Written


class Slurs:
    """Slurs while their voice is read."""

    def __init__(self) -> None:
        self._open: list[Written | None] = []  # without a note until it comes
        self._waiting: list[int] = []  # the places of those
        self._pairs: list[tuple[Written, Written]] = []

    def begin(self) -> None:
        """One begins with the next note."""
        self._waiting.append(len(self._open))
        self._open.append(None)

    def come(self, note: Written) -> None:
        """A note, or the first of a chord: what waits for it begins with it."""
        for at in self._waiting:
            self._open[at] = note
        self._waiting.clear()

    def within(self, begun: Iterable[Written]) -> None:
        """Slurs begin at these notes of one chord; they end in the same order."""
        self._open += reversed(list(begun))

    def end(self, last: Written | None) -> None:
        """The innermost ends with a note."""
        first = self._open.pop() if self._open else None
        if self._waiting and self._waiting[-1] == len(self._open):
            self._waiting.pop()
        if first and last and first is not last:
            self._pairs.append((first, last))

    def say(self) -> None:
        """All of them in the signs of the notes they begin and end at, once these have their names."""
        for first, last in self._pairs:
            first.signs.append("(")
            last.signs.append(f"){first.id}")
