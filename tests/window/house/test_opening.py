"""How large the window opens."""

from __future__ import annotations

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
