"""A voice that keeps what it is told."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.sounding.voice import Silent, Sounded


class Recorded(Silent):
    """Keeps live notes as ``(pitch, velocity)``, let-go pitches, schedules with their start, and calls by name."""

    def __init__(self) -> None:
        self.live: list[tuple[int, int]] = []
        self.off: list[int] = []
        self.played: list[tuple[tuple[Sounded, ...], float]] = []
        self.calls: list[str] = []

    def note_on(self, pitch: int, velocity: int) -> None:
        self.live.append((pitch, velocity))

    def note_off(self, pitch: int) -> None:
        self.off.append(pitch)

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        self.played.append((tuple(notes), start))

    def cancel(self) -> None:
        self.calls.append("cancel")

    def close(self) -> None:
        self.calls.append("close")
