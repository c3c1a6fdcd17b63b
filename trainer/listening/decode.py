"""MIDI bytes into presses, releases and pedals.

Source of the message forms: *MIDI 1.0 Detailed Specification* (MIDI Manufacturers Association, 1996), tables I to V:
a status byte 0x80-0xEF is followed by one or two data bytes and stays in force (running status) until another
status; 0xF0-0xF7 end it; 0xF8-0xFF are one byte and may stand anywhere, even between the bytes of another message;
a note-on with velocity 0 is a note-off; controllers 120 and 123-127 silence a channel. Controller 121 puts its pedals
up: *Response to Reset All Controllers* (RP-015, MIDI Manufacturers Association, 1998), from memory.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator

from trainer.listening.press import Event, Pedal, Press, Release

NOTE_OFF, NOTE_ON, CONTROL = 0x80, 0x90, 0xB0
# Data bytes after each channel status, by its high nibble.
DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
PEDALS = {64: "sustain", 66: "sostenuto", 67: "soft"}
SILENCERS = frozenset({120, 123, 124, 125, 126, 127})
RESET = 121
# One key cannot be struck twice in so short a time.
DOUBLED_S = 0.005
# Two layered sounds, or one piano on two cables, send a stroke twice: ten keys on two channels take a MIDI cable 20 ms,
# a cable beside the radio is sooner by some more (ours). No hand strikes a key again so soon.
APART_S = 0.04


class Bytes:
    """One port's stream of bytes cut into channel messages, running status kept between calls."""

    def __init__(self) -> None:
        self._status = 0
        self._data: list[int] = []

    def feed(self, data: Iterable[int]) -> Iterator[tuple[int, ...]]:
        """Whole channel messages ``(status, data...)`` as they are completed; everything else is passed over."""
        for byte in data:
            if byte >= 0xF8:
                continue
            if byte >= 0x80:
                self._status = byte if byte < 0xF0 else 0
                self._data.clear()
            elif self._status:
                self._data.append(byte)
                if len(self._data) == DATA_BYTES[self._status & 0xF0]:
                    yield (self._status, *self._data)
                    self._data.clear()


class Keyboard:
    """Which keys and pedals are down, over all ports and channels; turns messages into events, what is doubled once.

    A key, and a pedal, stays down until every port and channel that sent it has let it go.
    """

    def __init__(self) -> None:
        self._held: dict[int, dict[Hashable, None]] = {}
        self._struck: dict[int, float] = {}
        self._trodden: dict[str, dict[Hashable, int]] = {pedal: {} for pedal in PEDALS.values()}

    def hear(self, message: tuple[int, ...], at: float, port: Hashable = "") -> list[Event]:
        """The events a whole channel message stands for: none, one, or many when it silences a channel.

        Parameters
        ----------
        message : tuple of int
            Status and data bytes, as `Bytes.feed` gives them.
        at : float
            Seconds on the clock the events shall carry.
        port : hashable
            Where it came from.
        """
        kind, source = message[0] & 0xF0, (port, message[0] & 0x0F)
        if kind == NOTE_ON and message[2] > 0:
            return self._press(message[1], message[2], at, source)
        if kind in (NOTE_OFF, NOTE_ON):
            return self._release(message[1], at, source)
        if kind == CONTROL and message[1] in PEDALS:
            return self._tread(PEDALS[message[1]], message[2], at, source)
        if kind == CONTROL and message[1] == RESET:
            return self._pedals_up(at, source)
        if kind == CONTROL and message[1] in SILENCERS:
            return [event for pitch in list(self._held) for event in self._release(pitch, at, source)]
        return []

    def let_go(self, at: float, port: Hashable) -> list[Event]:
        """Releases for every key and pedal a port held down: what a lost port leaves behind."""
        found: list[Event] = []
        for pitch, holders in list(self._held.items()):
            for source in [s for s in holders if isinstance(s, tuple) and s[0] == port]:
                found += self._release(pitch, at, source)
        trodden = {source: None for held in self._trodden.values() for source in held}
        for source in [s for s in trodden if isinstance(s, tuple) and s[0] == port]:
            found += self._pedals_up(at, source)
        return found

    @property
    def down(self) -> tuple[int, ...]:
        """The keys that are down, low to high."""
        return tuple(sorted(self._held))

    def _press(self, pitch: int, velocity: int, at: float, source: Hashable) -> list[Event]:
        holders = self._held.setdefault(pitch, {})
        doubled = bool(holders) and at - self._struck[pitch] <= (DOUBLED_S if source in holders else APART_S)
        holders[source] = None
        if doubled:
            return []
        self._struck[pitch] = at
        return [Press(at, pitch, velocity)]

    def _tread(self, pedal: str, value: int, at: float, source: Hashable) -> list[Event]:
        held = self._trodden[pedal]
        before, doubled = max(held.values(), default=0), bool(held.keys() - {source})
        held[source] = value
        if not value:
            del held[source]
        after = max(held.values(), default=0)
        return [] if doubled and after == before else [Pedal(at, pedal, after)]

    def _pedals_up(self, at: float, source: Hashable) -> list[Event]:
        return [
            event for pedal, held in self._trodden.items() if source in held
            for event in self._tread(pedal, 0, at, source)
        ]  # fmt: skip

    def _release(self, pitch: int, at: float, source: Hashable) -> list[Event]:
        holders = self._held.get(pitch)
        if holders is None or source not in holders:
            return []
        del holders[source]
        if holders:
            return []
        del self._held[pitch]
        return [Release(at, pitch)]
