"""How large the window opens, and what it waits for."""

from __future__ import annotations

import subprocess
import sys

import pygame
import pytest

from trainer.window.house import opening


@pytest.mark.parametrize(
    ("screen", "asked", "size"),
    [
        ((1920, 1080), None, (1280, 800)),
        ((1366, 768), None, (1280, 688)),
        ((1024, 600), None, (1024, 600)),
        ((1366, 768), "1366x768", (1366, 768)),
        ((1366, 768), "300x200", (960, 600)),
    ],
)
def test_the_window_is_no_larger_than_the_screen_unless_asked_to_be(
    monkeypatch: pytest.MonkeyPatch, screen: tuple[int, int], asked: str | None, size: tuple[int, int]
) -> None:
    monkeypatch.setattr(pygame.display, "get_desktop_sizes", lambda: [screen])
    assert opening._size(asked) == size


def test_the_first_frame_waits_for_no_engraver_and_no_follower() -> None:
    """What lays pages out and what follows is loaded behind it, or in the second process."""
    code = "import sys, trainer.window.house.opening; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True)
    later = ("music21", "verovio", "trainer.scores.engraving", "trainer.scores.notation", "trainer.following.follower")
    assert [name for name in done.stdout.split() if name.startswith(later)] == []
