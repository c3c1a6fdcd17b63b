"""A recorded take: read from a Standard MIDI File, written to one, played as if live.

Source of the file's form: *Standard MIDI Files 1.0* (RP-001, MIDI Manufacturers Association, 1988): formats 0, 1
and 2; division in ticks a quarter, or negative SMPTE frames a second and ticks a frame; tempo in microseconds a
quarter, 500 000 until told otherwise.
"""

from __future__ import annotations

import io
import pathlib
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from trainer.listening.clock import now
from trainer.listening.decode import PEDALS
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music.pitch import MusicError

TEMPO = 500_000
# 10 000 ticks a quarter at 120 quarters a minute: one tick is 50 microseconds.
TICKS = 10_000
# In bytes: some 60 000 presses, hours of playing; read within two seconds.
LARGEST = 400_000
_TICKS_A_SECOND = TICKS * 1_000_000 // TEMPO
_CONTROLLERS = {name: number for number, name in PEDALS.items()}


def read_take(path: str | pathlib.Path) -> list[Event]:
    """The events of a recorded take, all tracks together, in time order and in file order when equal.

    Every note-on with velocity above 0 is one press, so the presses count as the file counts them. Times are in
    seconds from the start of the file, tempo changes honoured.

    Raises
    ------
    MusicError
        When the file cannot be read as a Standard MIDI File.
    """
    import mido

    place = pathlib.Path(path)
    if not place.is_file():
        raise MusicError(f"There is no file {place}: name a recorded take, a Standard MIDI File (.mid).")
    try:
        if place.stat().st_size > LARGEST:
            raise MusicError(f"{place} is too large for a take (at most {LARGEST // 1000} kB): export one take alone.")
        data = place.read_bytes()
    except OSError as refusal:
        raise MusicError(f"{place} cannot be opened ({refusal.strerror}): see who may read it.") from refusal
    if data[:4] == b"RIFF" and data[8:12] == b"RMID":
        data = data[max(data.find(b"MThd"), 0) :]
    if data[:4] != b"MThd":
        raise MusicError(f"{place} is not a Standard MIDI File: record or export the take as .mid.")
    try:
        file = mido.MidiFile(file=io.BytesIO(data), clip=True)
    except Exception as damage:  # mido raises whatever it meets in a damaged file.
        raise MusicError(
            f"{place} is a damaged MIDI file, or one with tables no program could mean: "
            "export the take again from where it was recorded."
        ) from damage
    if file.type == 2:
        raise MusicError(f"{place} is a MIDI file of format 2, several takes in one: export one take as format 0 or 1.")
    return [event for at, message in _timed(file) if (event := _event(at, message)) is not None]


def _timed(file: Any) -> Iterator[tuple[float, Any]]:
    """Messages of all tracks with their seconds."""
    tempo, seconds, before = TEMPO, 0.0, 0
    for tick, message in sorted(_ticked(file), key=lambda pair: pair[0]):
        seconds += (tick - before) * _tick_seconds(file.ticks_per_beat, tempo)
        before = tick
        if message.type == "set_tempo":
            tempo = message.tempo
        yield seconds, message


def _ticked(file: Any) -> Iterator[tuple[int, Any]]:
    """Messages track by track with their ticks from the start."""
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            yield tick, message


def _tick_seconds(division: int, tempo: int) -> float:
    if division > 0:
        return tempo / division / 1e6
    frames, ticks = -(division >> 8), division & 0xFF
    return 1.0 / ((29.97 if frames == 29 else frames) * max(ticks, 1)) if frames else tempo / 1e6


def _event(at: float, message: Any) -> Event | None:
    if message.type == "note_on" and message.velocity > 0:
        return Press(at, message.note, message.velocity)
    if message.type in ("note_on", "note_off"):
        return Release(at, message.note)
    if message.type == "control_change" and message.control in PEDALS:
        return Pedal(at, PEDALS[message.control], message.value)
    return None


def write_take(events: Iterable[Event], path: str | pathlib.Path, title: str = "") -> None:
    """Write a take as a Standard MIDI File of format 0, its first moment at 0 when times lie before it.

    Read again it gives the same events; times keep to 25 microseconds.
    """
    import mido

    listed = sorted(events, key=lambda event: event.at)
    start = min(0.0, listed[0].at) if listed else 0.0
    track = mido.MidiTrack()
    if title:
        # Track names are Latin-1 by the standard's habit; other letters are written plainly.
        plain = title.encode("latin-1", "replace").decode("latin-1")
        track.append(mido.MetaMessage("track_name", name=plain, time=0))
    track.append(mido.MetaMessage("set_tempo", tempo=TEMPO, time=0))
    before = 0
    for event in listed:
        ticks = round((event.at - start) * _TICKS_A_SECOND)
        track.append(_message(event, ticks - before))
        before = ticks
    file = mido.MidiFile(type=0, ticks_per_beat=TICKS)
    file.tracks.append(track)
    file.save(path)


def _message(event: Event, delta: int) -> Any:
    import mido

    if isinstance(event, Press):
        return mido.Message("note_on", note=event.pitch, velocity=event.velocity, time=delta)
    if isinstance(event, Release):
        return mido.Message("note_off", note=event.pitch, velocity=0, time=delta)
    return mido.Message("control_change", control=_CONTROLLERS[event.pedal], value=event.value, time=delta)


class Replay:
    """A take handed out as if live.

    Parameters
    ----------
    events : sequence of Event
        In time order. They keep their own times, whatever the speed, so a take is marked alike at any speed.
    speed : float
        1.0 as it was played, 2.0 twice as fast, ``float("inf")`` without waiting.
    """

    def __init__(self, events: Sequence[Event], speed: float = 1.0) -> None:
        if not speed > 0:
            raise MusicError(f"A replay cannot run at speed {speed:g}: give a number above 0, like 1 or 2.5.")
        self.events = tuple(events)
        self.speed = speed
        self._next = 0
        self._began: float | None = None
        self._stopped = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def finished(self) -> bool:
        """Whether every event has been handed out."""
        return self._next >= len(self.events)

    def due(self, at: float | None = None) -> list[Event]:
        """The events that have come due since the last call; the first call starts the clock.

        Parameters
        ----------
        at : float, optional
            Seconds on the clock of `trainer.listening.clock.now`, which is asked when it is left out.
        """
        at = now() if at is None else at
        if self._began is None:
            self._began = at
        first = self._next
        while not self.finished and self._due_at(self._next) <= at:
            self._next += 1
        return list(self.events[first : self._next])

    def start(self, hear: Callable[[Event], None], ended: Callable[[], None] | None = None) -> None:
        """Hand the events to `hear` in a thread of its own, then call `ended`."""
        self._thread = threading.Thread(target=self._run, args=(hear, ended), name="replay", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop handing out; returns when the thread has ended."""
        self._stopped.set()
        if self._thread and self._thread is not threading.current_thread():
            self._thread.join()

    def _due_at(self, index: int) -> float:
        assert self._began is not None
        return self._began + (self.events[index].at - self.events[0].at) / self.speed

    def _run(self, hear: Callable[[Event], None], ended: Callable[[], None] | None) -> None:
        while not self._stopped.is_set():
            for event in self.due():
                hear(event)
            if self.finished:
                break
            self._stopped.wait(max(0.0, self._due_at(self._next) - now()))
        if ended and not self._stopped.is_set():
            ended()
