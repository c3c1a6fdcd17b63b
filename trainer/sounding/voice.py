"""What sounds: timed notes as plain values, and what a voice can do with them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

# The channel of percussion and its keys for the click: high and low wood block.
# Source: *General MIDI System Level 1* (RP-003, MIDI Manufacturers Association, 1991), percussion key map.
PERCUSSION = 9
HIGH_BLOCK, LOW_BLOCK = 76, 77
# A key struck again must be let go a little before, or the second stroke is not heard.
_LET_GO_S = 0.02


@dataclass(frozen=True, slots=True, order=True)
class Sounded:
    """A note to be sounded.

    Parameters
    ----------
    at, length : float
        Seconds; `at` from the start of the schedule.
    pitch, velocity : int
        MIDI note 0-127, velocity 1-127.
    channel : int
        0-15; `PERCUSSION` is the click.
    """

    at: float
    length: float
    pitch: int
    velocity: int = 64
    channel: int = 0

    @property
    def end(self) -> float:
        return self.at + self.length


@dataclass(frozen=True, slots=True)
class Schedule:
    """Notes in time order, and which place of the page belongs to which moment.

    Parameters
    ----------
    notes : tuple of Sounded
    places : tuple of (seconds, onset)
        When each onset of the piece, in quarter notes, is reached.
    length : float
        Seconds until all is over, rests at the end included.
    """

    notes: tuple[Sounded, ...]
    places: tuple[tuple[float, Fraction], ...] = ()
    length: float = 0.0

    @classmethod
    def of(
        cls, notes: Iterable[Sounded], places: Iterable[tuple[float, Fraction]] = (), length: float = 0.0
    ) -> Schedule:
        """Put notes in order so that every stroke is heard: unisons joined, a key let go before it is struck again."""
        kept: list[Sounded] = []
        sounding: dict[tuple[int, int], int] = {}
        for note in sorted(note for note in notes if 0 <= note.pitch <= 127):
            key = (note.channel, note.pitch)
            if key in sounding:
                before = kept[sounding[key]]
                if before.at == note.at:
                    kept[sounding[key]] = replace(
                        before, length=max(before.length, note.length), velocity=max(before.velocity, note.velocity)
                    )
                    continue
                if before.end > note.at - _LET_GO_S:
                    short = max(note.at - _LET_GO_S - before.at, (note.at - before.at) / 2)
                    kept[sounding[key]] = replace(before, length=min(before.length, short))
            sounding[key] = len(kept)
            kept.append(note)
        end = max((note.end for note in kept), default=0.0)
        return cls(tuple(kept), tuple(sorted(places)), max(length, end))

    def later(self, seconds: float) -> Schedule:
        """The same, moved later by some seconds."""
        return Schedule(
            tuple(replace(note, at=note.at + seconds) for note in self.notes),
            tuple((at + seconds, onset) for at, onset in self.places),
            self.length + seconds,
        )

    def after(self, seconds: float) -> Schedule:
        """What begins at or after a moment, that moment becoming 0."""
        return Schedule(
            tuple(replace(note, at=note.at - seconds) for note in self.notes if note.at >= seconds),
            tuple((at - seconds, onset) for at, onset in self.places if at >= seconds),
            max(0.0, self.length - seconds),
        )

    def only(self, click: bool) -> Schedule:
        """The click alone, or everything but the click."""
        return replace(self, notes=tuple(note for note in self.notes if (note.channel == PERCUSSION) == click))


def together(*schedules: Schedule) -> Schedule:
    """Schedules laid over one another."""
    return Schedule(
        tuple(sorted(note for one in schedules for note in one.notes)),
        tuple(sorted(place for one in schedules for place in one.places)),
        max((one.length for one in schedules), default=0.0),
    )


class Voice(Protocol):
    """Something that sounds: the piano over MIDI out, the built-in tone, or nothing."""

    @property
    def words(self) -> str:
        """What it is called on the screen."""

    @property
    def lag_s(self) -> float:
        """Seconds from being told to the sound leaving the computer, as far as it is known."""

    def note_on(self, pitch: int, velocity: int) -> None:
        """Sound a note now, until `note_off`."""

    def note_off(self, pitch: int) -> None: ...

    def prepare(self, notes: Sequence[Sounded]) -> None:
        """Do beforehand what a schedule would otherwise have to wait for; may take a second or two."""

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        """Sound a schedule whose 0 is at `start` on the clock of `trainer.listening.clock.now`."""

    def cancel(self) -> None:
        """Stop every schedule and let go of its notes; notes of `note_on` stay."""

    def panic(self) -> None:
        """Stop everything and let go of everything."""

    def lines(self) -> list[str]:
        """Quiet lines for the player since the last call: a device lost, refused, back."""

    def close(self) -> None: ...


class Silent:
    """No voice: everything goes on, nothing sounds."""

    words = "no sound"
    lag_s = 0.0

    def note_on(self, pitch: int, velocity: int) -> None:
        """Nothing sounds."""

    def note_off(self, pitch: int) -> None:
        """Nothing sounds."""

    def prepare(self, notes: Sequence[Sounded]) -> None:
        """Nothing sounds."""

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        """Nothing sounds."""

    def cancel(self) -> None:
        """Nothing sounds."""

    def panic(self) -> None:
        """Nothing sounds."""

    def lines(self) -> list[str]:
        return []

    def close(self) -> None:
        """Nothing to close."""
