"""A piano that is connected while something plays."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from tools import staging
from trainer.listening.ports import Ports
from trainer.window.house.house import House
from trainer.window.house.houseloop import Loop
from trainer.window.house.still import house_of


class Plugged(Ports):
    """Ports on which a piano is heard from the first look on."""

    def __init__(self) -> None:
        self.there: tuple[str, ...] = ()

    @property
    def hearing(self) -> tuple[str, ...]:
        return self.there

    def watch(self, at_once: bool = False) -> list[str]:
        self.there = ("Stage",)
        return []

    def close(self) -> None:
        """Nothing is open."""


@pytest.mark.parametrize(("plays", "opened"), [([False] * 3, [1, 1, 1]), ([True, True, False], [0, 0, 1])])
def test_a_piano_connected_while_something_plays_sounds_after_it(
    plays: list[bool], opened: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    with staging.home():
        house = house_of((1280, 800))
        house.ports = Plugged()
        player = SimpleNamespace(playing=False, stop=lambda: None)
        monkeypatch.setattr(house.sound, "player", player)
        times: list[int] = []
        monkeypatch.setattr(House, "open_sound", lambda _: times.append(1))
        loop, counts = Loop(house), []
        for playing in plays:
            player.playing = playing
            loop._watch_ports()
            counts.append(len(times))
        assert counts == opened
        house.close()
