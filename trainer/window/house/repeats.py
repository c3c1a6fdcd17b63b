"""Keys held down: which of their repeats count, and what they may repeat.

A timer of pygame's repeats a key from the moment it is read until its release is read. While a frame takes long, the
release lies unread, and one tap would count many times: on the Desk a key seven semitones on, on the Stand a choice
made and unmade.
"""

from __future__ import annotations

import pygame

# What a key held down does again and again, on any screen.
STEPS = frozenset({"left", "right", "up", "down", "page up", "page down", "tab", "backspace", "ctrl left", "ctrl right",
                   "ctrl +", "ctrl =", "ctrl [+]", "ctrl -", "ctrl [-]"})  # fmt: skip


class Repeats:
    """Goes through what comes from the window, in its order."""

    def __init__(self) -> None:
        self._held: set[int] = set()

    def sift(self, events: list[pygame.event.Event]) -> list[pygame.event.Event]:
        """The same events; repeats have `repeated` set, and those of a key let go meanwhile are left out."""
        kept = []
        for at, event in enumerate(events):
            if event.type == pygame.KEYDOWN and event.scancode in self._held:
                if _released(event.scancode, events[at + 1 :]):
                    continue
                event = pygame.event.Event(pygame.KEYDOWN, {**event.dict, "repeated": True})
            elif event.type == pygame.KEYDOWN:
                self._held.add(event.scancode)
            elif event.type == pygame.KEYUP:
                self._held.discard(event.scancode)
            elif event.type == pygame.WINDOWFOCUSLOST:
                self._held.clear()
            kept.append(event)
        return kept


def _released(scancode: int, later: list[pygame.event.Event]) -> bool:
    return any(event.type == pygame.KEYUP and event.scancode == scancode for event in later)
