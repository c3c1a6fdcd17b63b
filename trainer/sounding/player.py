"""Plays a schedule through a voice and tells how far it is."""

from __future__ import annotations

import threading
from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction

from trainer.listening.clock import now
from trainer.listening.press import Event, Press, Release
from trainer.sounding.voice import Schedule, Voice

# From being asked to the first sound: time to hand a schedule over.
LEAD_S = 0.12


class Player:
    """One thing playing at a time.

    Parameters
    ----------
    voice : Voice
        For the notes.
    clicker : Voice, optional
        For the click; `voice` when left out.
    """

    def __init__(self, voice: Voice, clicker: Voice | None = None) -> None:
        self.voice = voice
        self.clicker = clicker or voice
        self._lock = threading.Lock()
        self._run: _Run | None = None

    @property
    def playing(self) -> bool:
        run = self._run
        return run is not None and run.alive

    @property
    def started(self) -> float | None:
        """When the schedule's 0 is, on the clock of `trainer.listening.clock.now`; None before that is settled."""
        run = self._run
        return run.start if run is not None and run.alive else None

    @property
    def place(self) -> Fraction | None:
        """The onset of the piece reached last; None when nothing plays or none is reached yet."""
        run, started = self._run, self.started
        if run is None or started is None:
            return None
        at = bisect_right(run.schedule.places, now() - started, key=lambda place: place[0])
        return run.schedule.places[at - 1][1] if at else None

    def play(
        self,
        schedule: Schedule,
        place: Callable[[Fraction], None] | None = None,
        ended: Callable[[], None] | None = None,
    ) -> None:
        """Stop what plays and play this. Returns at once.

        Parameters
        ----------
        place : callable, optional
            Called with each onset of the piece as it is reached, from the player's thread.
        ended : callable, optional
            Called when it has played to its end; not when it was stopped.
        """
        with self._lock:
            self._halt()
            self._run = _Run(self.voice, self.clicker, schedule, place, ended)

    def stop(self) -> None:
        """Stop and be silent."""
        with self._lock:
            self._halt()

    def hear(self, event: Event) -> bool:
        """Stop at the first press while something plays; tells whether it did."""
        if isinstance(event, Press) and self.playing:
            self.stop()
            return True
        return False

    def _halt(self) -> None:
        run, self._run = self._run, None
        if run is not None:
            run.stop()


class _Run:
    def __init__(
        self,
        voice: Voice,
        clicker: Voice,
        schedule: Schedule,
        place: Callable[[Fraction], None] | None,
        ended: Callable[[], None] | None,
    ) -> None:
        self.schedule = schedule
        self.start: float | None = None
        self._voice, self._clicker = voice, clicker
        self._place, self._ended = place, ended
        self._stopped = threading.Event()
        self._gate = threading.Lock()
        self._thread = threading.Thread(target=self._play, name="player", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        return self._thread.is_alive() and not self._stopped.is_set()

    def stop(self) -> None:
        with self._gate:
            self._stopped.set()
            for voice in {id(one): one for one in (self._voice, self._clicker)}.values():
                voice.cancel()

    def _play(self) -> None:
        parts = [(self._voice, self.schedule)]
        if self._clicker is not self._voice:
            parts = [(self._voice, self.schedule.only(click=False)), (self._clicker, self.schedule.only(click=True))]
        for voice, part in parts:
            voice.prepare(part.notes)
        # Voices leave the computer with different lags; all are made to wait for the slowest in use.
        slowest = max((voice.lag_s for voice, part in parts if part.notes), default=0.0)
        with self._gate:
            if self._stopped.is_set():
                return
            begin = now() + LEAD_S
            for voice, part in parts:
                voice.play(part.notes, begin + slowest - voice.lag_s)
            self.start = begin + slowest
        self._tell_places()

    def _tell_places(self) -> None:
        assert self.start is not None
        for at, onset in self.schedule.places if self._place else ():
            if self._stopped.wait(max(0.0, self.start + at - now())):
                return
            if self._place:
                self._place(onset)
        if not self._stopped.wait(max(0.0, self.start + self.schedule.length - now())) and self._ended:
            self._ended()


class Echo:
    """Sounds a silent controller's presses as they come, with its sustain pedal."""

    def __init__(self, voice: Voice) -> None:
        self.voice = voice
        self._pedal = False
        # Let go of, and sounding on through the pedal.
        self._kept: set[int] = set()

    def hear(self, event: Event) -> None:
        if isinstance(event, Press):
            self._kept.discard(event.pitch)
            self.voice.note_on(event.pitch, event.velocity)
        elif isinstance(event, Release):
            if self._pedal:
                self._kept.add(event.pitch)
            else:
                self.voice.note_off(event.pitch)
        elif event.pedal == "sustain":
            # Half of the pedal's way, as MIDI 1.0 has it for switches: 0-63 off, 64-127 on.
            self._pedal = event.value >= 64
            if not self._pedal:
                for pitch in self._kept:
                    self.voice.note_off(pitch)
                self._kept.clear()
