"""What a piano may send, as plain values. Times are seconds on one monotonic clock, from the start of the take."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Press:
    """One key press.

    Parameters
    ----------
    at : float
        Seconds, the driver's time stamp where there is one.
    pitch : int
        MIDI note number, 0-127.
    velocity : int
        1-127.
    """

    at: float
    pitch: int
    velocity: int = 64


@dataclass(frozen=True, slots=True)
class Release:
    """A key let go."""

    at: float
    pitch: int


@dataclass(frozen=True, slots=True)
class Pedal:
    """A pedal moved: ``sustain`` (controller 64), ``sostenuto`` (66), ``soft`` (67); value 0-127."""

    at: float
    pedal: str
    value: int


Event = Press | Release | Pedal
