"""Engraved systems as ink: the same darkness as their pictures, kept on disk, drawn afresh when that is damaged."""

from __future__ import annotations

import io
import os
from pathlib import Path

import numpy
import pygame
import pytest

from trainer import folders
from trainer.scores import cache
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.picturing import picture
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.page.music import score_of
from trainer.window.paint.theme import DAY, NIGHT
from trainer.window.workroom import inking, jobs
from trainer.window.workroom.inking import Ink, inked

LOOK = Look(700, 32.0, ribbon_px=20.0)


@pytest.fixture(autouse=True)
def own_home(first_home: Path) -> Path:
    return first_home


def test_ink_is_as_dark_as_the_picture() -> None:
    system = engrave(read(find("three-bells")), LOOK).systems[0]
    drawn = pygame.image.load(io.BytesIO(picture(system.svg, system.width)), "system.png")
    ink = inked(system)
    assert ink.size == drawn.get_size()
    assert numpy.array_equal(ink.alpha(), pygame.surfarray.array_alpha(drawn))
    assert numpy.count_nonzero(ink.alpha()) > 1000


def test_what_is_kept_is_read_and_what_is_damaged_is_drawn_afresh(monkeypatch: pytest.MonkeyPatch) -> None:
    system = engrave(read(find("three-bells")), LOOK).systems[0]
    first = inked(system)
    drawn: list[Ink] = []
    draw = inking._drawn

    def counted(png: bytes) -> Ink:
        drawn.append(draw(png))
        return drawn[-1]

    monkeypatch.setattr(inking, "_drawn", counted)
    assert inked(system) == first
    assert drawn == []
    kept = next(folders.cache().glob("ink-*"))
    for damage in (b"", kept.read_bytes()[:40], b"\0" * 200, kept.read_bytes()[:-1] + b"x"):
        kept.write_bytes(damage)
        drawn.clear()
        assert inked(system) == first
        assert len(drawn) == 1


def test_a_system_is_shown_in_the_ink_of_the_light() -> None:
    piece = read(find("three-bells"))
    system = score_of(piece, jobs.engraved(piece, LOOK)).systems[0]
    darkest = numpy.unravel_index(int(system.darkness.argmax()), system.darkness.shape)
    place = int(darkest[0]), int(darkest[1])
    for theme in (DAY, NIGHT):
        assert system.inked(theme).get_at(place)[:3] == theme["ink"]
    area = pygame.Rect(place[0] - 2, place[1] - 2, 5, 5).clip(pygame.Rect((0, 0), system.size))
    assert system.softened(area, (1, 2, 3)).get_at((place[0] - area.left, place[1] - area.top))[:3] == (1, 2, 3)


def test_a_start_drops_the_oldest_pages_once_there_are_too_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "_MOST_BYTES", 2500)
    for at, name in enumerate(("new", "older", "oldest")):
        cache.keep_bytes(name, bytes(1000))
        os.utime(folders.cache() / name, (5000 - at, 5000 - at))
    jobs.warm()
    assert {"new", "older", "oldest"} & {one.name for one in folders.cache().iterdir()} == {"new", "older"}
