"""A take heard again: as it was played, and as it was meant, side by side from any bar."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.following.marks import Mark
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music.piece import BOTH, Piece
from trainer.music.pitch import MusicError
from trainer.sounding.model import model
from trainer.sounding.voice import Schedule, Sounded

# A key never let go in the record sounds this long.
_UNRELEASED_S = 2.0


def as_played(events: Sequence[Event], piece: Piece | None = None, marks: Sequence[Mark] = ()) -> Schedule:
    """The take as it was played, its first press at 0; keys held by the sustain pedal sound until it is lifted.

    Parameters
    ----------
    events : sequence of Event
        In time order.
    piece, marks : optional
        With the marks of the take the page moves along.
    """
    presses = [event for event in events if isinstance(event, Press)]
    if not presses:
        return Schedule(())
    began = presses[0].at
    ends = _ends(events)
    notes = [
        Sounded(press.at - began, max(end - press.at, 0.03), press.pitch, press.velocity)
        for press, end in zip(presses, ends, strict=True)
    ]
    places = [
        (presses[mark.press].at - began, piece.notes[mark.note].onset)
        for mark in marks
        if piece is not None and mark.note is not None
    ]
    return Schedule.of(notes, places)


def as_meant(
    piece: Piece, hand: str = BOTH, pulse: float | None = None, bars: tuple[int, int] | None = None
) -> Schedule:
    """What was meant: the piece in the target key at the take's own pulse (quarters a minute)."""
    return model(piece, hand, bars, pulse)


def from_bar(schedule: Schedule, piece: Piece, index: int) -> Schedule:
    """A schedule from the first time it reaches a bar of `Piece.bars`, that moment becoming 0.

    Raises
    ------
    MusicError
        When it never comes there.
    """
    bar = piece.bars[index]
    at = min((at for at, onset in schedule.places if bar.onset <= onset < bar.onset + bar.length), default=None)
    if at is None:
        raise MusicError(f"Bar {bar.number} was not played: choose another bar.")
    return schedule.after(at)


def _ends(events: Sequence[Event]) -> list[float]:
    """When each press stops sounding."""
    ends: list[float | None] = []
    pressed: dict[int, int] = {}
    kept: dict[int, int] = {}
    pedal = False
    for event in events:
        if isinstance(event, Press):
            # The same key again ends what still sounds of it.
            for held in (pressed, kept):
                if event.pitch in held:
                    ends[held.pop(event.pitch)] = event.at
            pressed[event.pitch] = len(ends)
            ends.append(None)
        elif isinstance(event, Release) and event.pitch in pressed:
            index = pressed.pop(event.pitch)
            if pedal:
                kept[event.pitch] = index
            else:
                ends[index] = event.at
        elif isinstance(event, Pedal) and event.pedal == "sustain":
            pedal = event.value >= 64
            if not pedal:
                for index in kept.values():
                    ends[index] = event.at
                kept.clear()
    last = events[-1].at + _UNRELEASED_S
    return [last if end is None else end for end in ends]
