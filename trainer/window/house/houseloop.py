"""The loop: it sleeps until something happens, deals with it, and draws a frame."""

from __future__ import annotations

import importlib
import math
import sys
import threading
import time
from collections import deque
from queue import Empty
from typing import TYPE_CHECKING

import pygame

from trainer.listening.clock import now
from trainer.window.house.bell import Bell
from trainer.window.house.repeats import Repeats
from trainer.window.house.sparing import spare

if TYPE_CHECKING:
    from trainer.window.house.house import House

_PORTS_S = 1.0
# Imported after the first frame; the last is what numpy itself imports when the first take is made ready.
_LATER = (
    "trainer.window.rounds.rounds", "trainer.window.copy.copy", "trainer.journal.store", "trainer.listening.ports",
    "trainer.sounding.opening", "trainer.coaching.today.schedule", "numpy.ma",
)  # fmt: skip


class Loop:
    """Runs a house until its window is closed.

    Attributes
    ----------
    running : bool
        Whether it goes round.
    first_frame : float
        When the first frame stood, on the system's steady clock.
    work, spent : deque of float
        For the bench: seconds each frame took, and what of them this thread computed.
    """

    def __init__(self, house: House) -> None:
        self.house = house
        self.bell = Bell()
        self._repeats = Repeats()
        self.first_frame = 0.0
        self.running = False
        self.work: deque[float] = deque(maxlen=20000)
        self.spent: deque[float] = deque(maxlen=20000)
        # Whether what journal, ports and sound need is imported.
        self._loaded = False
        self._next_tick = 0.0
        self._next_ports = 0.0
        # Of ports and sound.
        self._unsaid: list[str] = []
        # Whether a piano came or went since the sound was opened.
        self._moved = False

    def run(self) -> None:
        """Draw and listen until `house.running` ends."""
        house = self.house
        # Other threads (journal, tones, ports) hand the interpreter back to a frame within a millisecond, not five.
        sys.setswitchinterval(0.001)
        house.draw()
        self.first_frame = time.monotonic()
        threading.Thread(target=self._preload, name="preload", daemon=True).start()
        active = now()
        self.running = True
        while house.running:
            moment = now()
            until = min(self._next_tick, self._next_ports, house.notice.until if house.notice else math.inf)
            self.bell.wait(until - moment, moment - active)
            events = self._repeats.sift(pygame.event.get())
            began, computed = time.perf_counter(), time.thread_time()
            if events:
                active = now()
            if self._happened(events) and house.running:
                house.draw()
                self.work.append(time.perf_counter() - began)
                self.spent.append(time.thread_time() - computed)
        house.close()

    def figures(self) -> dict[str, object]:
        """How long things took, for `tools/bench.py window`: seconds, the first frame on the system's steady clock."""
        return {
            "first_frame_at": self.first_frame,
            "work": list(self.work),
            "spent": list(self.spent),
            "answered": list(self.house.pane.answered),
            "opened": list(self.house.opened),
        }

    def _happened(self, events: list[pygame.event.Event]) -> bool:
        """Deal with all that has happened; whether a frame is due."""
        house = self.house
        # The piano first: after a long frame a note struck before the take was ended by a key still belongs to it.
        touched = self._listen() or bool(events)
        for event in events:
            house.handle(event)
        touched |= self._open_up()
        touched |= house.workroom.collect()
        if house.ready and house.rounds.is_behind and (said := house.rounds.catch_up()):
            house.say(said)
            touched = True
        # After all that has been said of the take: what is not kept matters more.
        touched |= house.tell_trouble()
        moment = now()
        if moment >= self._next_ports:
            touched |= self._watch_ports()
            self._next_ports = now() + _PORTS_S
        if house.notice and moment >= house.notice.until:
            house.notice = None
            touched = True
        if moment >= self._next_tick or touched:
            assert house.screen is not None
            wish = house.screen.tick(moment)
            touched |= moment >= self._next_tick
            self._next_tick = moment + wish
        return touched

    def _preload(self) -> None:
        """Import what the first frame did not need, in a thread of its own."""
        for name in _LATER:
            importlib.import_module(name)
        self._loaded = True
        self.bell.ring()

    def _open_up(self) -> bool:
        """Once all is imported: keep takes, hear the piano, sound."""
        if not self._loaded or self.house.ready:
            return False
        self.house.open_up()
        spare()
        return True

    def _listen(self) -> bool:
        """Hear what came from the piano and from a take that plays itself."""
        house = self.house
        heard = house.ports.pending() if house.ports is not None else []
        for event in heard:
            struck = house.as_struck(event)
            house.take_over(struck)
            house.hear(struck, struck.at)
            house.dealt_with(event)
        try:
            while True:
                # A recorded take keeps its own times.
                event, put = house.played.get_nowait()
                heard.append(event)
                house.hear(event, put)
                house.dealt_with(event)
        except Empty:
            return bool(heard)

    def _watch_ports(self) -> bool:
        """Look for pianos that came or went; what there is to say of them is one quiet line."""
        house = self.house
        if house.ports is None:
            return False
        heard = house.ports.hearing
        self._unsaid += house.ports.watch() + house.sound.lines()
        # What there is to say of the journal is read first.
        first = house.notice is not None and house.notice is house.of_journal
        said = "" if first else " ".join(self._unsaid)
        if said:
            house.say(said)
            self._unsaid = []
        self._moved = (self._moved or house.ports.hearing != heard) and house.settings.sound == "auto"
        # What plays is not cut off: the piano has its turn after it.
        if self._moved and not house.sound.player.playing:
            self._moved = False
            house.open_sound()
        return bool(said)
