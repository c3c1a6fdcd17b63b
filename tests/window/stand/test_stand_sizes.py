"""Every state of the Stand at four window sizes and five text sizes: nothing cut, nothing on anything."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pygame
import pytest

from tools import staging
from trainer.following import marks
from trainer.following.marks import Mark
from trainer.following.words import say as in_words
from trainer.session import A_TEMPO, PRIMA_VISTA
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.paint.canvas import SOLID, Box
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand
from trainer.window.strings import WORDS

SIZES = ((960, 600), (1280, 800), (1920, 1080), (3840, 2160))
SCALES = (80, 100, 130, 150, 200)
# No text may be smaller than this part of a fortieth of the window's height, however much there is to say.
LEAST = 0.44
# What is read while playing is never smaller than a fortieth of the window's height, but for this part of it.
NEEDED, NEARLY = ("head.key", "head.place", "head.mode", "margin.figure.0"), 0.9
CAUSES = (marks.SIGNATURE, marks.ACCIDENTAL, marks.AS_WRITTEN, marks.STEP, marks.OCTAVE, marks.DISPLACED,
          marks.BRUSHED, marks.REPEATED, marks.WRONG)  # fmt: skip


class Elsewhere:
    """A second process that never answers: the words are laid without the music."""

    waiting = 0

    def ask(self, *_: Any, **__: Any) -> None: ...

    def keep(self, *_: Any, **__: Any) -> None: ...

    def collect(self) -> None: ...

    def close(self) -> None: ...


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


def stand_of(name: str = "aura-lee", to: str = "Eb", settings: Settings | None = None, **wish: object) -> Stand:
    house = house_of(SIZES[1], settings)
    house.workroom = Elsewhere()  # type: ignore[assignment]
    return staging.stand_of(house, name, to, **wish)


def playing(stand: Stand) -> Stand:
    staging.slips(stand.house, stand)
    return stand


def ended(stand: Stand) -> Stand:
    playing(stand).stop()
    return stand


def ordered(order: str, stand: Stand) -> Stand:
    getattr(stand.orders, order)()
    return stand


def said(words: str, stand: Stand) -> Stand:
    stand.house.say(words)
    return stand


def correcting(stand: Stand) -> Stand:
    stand.correcting.toggle()
    return stand


def fingering(stand: Stand) -> Stand:
    stand.fingering.toggle()
    stand.fingering.step(1)
    stand.fingering.say(2)
    return stand


STATES: dict[str, Callable[[], Stand]] = {
    "ready": stand_of,
    "far keys": lambda: stand_of("petzold-minuet-in-g-minor", "Eb", Settings(letters="german")),
    "a tempo": lambda: stand_of("greensleeves", "c#", mode=A_TEMPO, tempo=200.0, hands="right"),
    "look": lambda: stand_of("lantern-song", "+3", mode=PRIMA_VISTA),
    "playing": lambda: playing(stand_of()),
    "ended": lambda: ended(stand_of()),
    "by clef": lambda: stand_of("aura-lee", "Eb", Settings(chords=True, clef=True)),
    "all keys": lambda: ordered("show_keys", stand_of()),
    "ear and time": lambda: ordered("tune", stand_of()),
    "correcting": lambda: correcting(stand_of("aura-lee", "Eb", Settings(chords=True))),
    "fingers": lambda: fingering(stand_of("petzold-minuet-in-g-minor", "Eb", Settings(letters="german"))),
    "fingers as written": lambda: fingering(stand_of("aura-lee", "G")),
    "other keys while fingers are said": lambda: said(WORDS["stand.finger.keys"], fingering(stand_of())),
    "watching": lambda: said(WORDS["stand.watching"], stand_of()),
    "long line": lambda: said(WORDS["stand.clef.wish"], stand_of()),
    "no margin": lambda: stand_of("aura-lee", "Eb", Settings(margin=False)),
}


@pytest.mark.parametrize("state", STATES)
def test_everything_is_said_whole_and_nothing_lies_on_anything(state: str) -> None:
    stand = STATES[state]()
    for size, scale in itertools.product(SIZES, SCALES):
        where = f"{state}, {size[0]}x{size[1]}, text {scale} %"
        check(laid(stand.house, size, scale), where, size[1] / 40 * min(1.0, scale / 100))


def laid(house: House, size: tuple[int, int], scale: int) -> list[Box]:
    house.pane.surface = pygame.Surface(size, 0, 32)
    house.settings = replace(house.settings, scale=scale)
    canvas, _ = house.laid()
    return canvas.boxes


def check(boxes: list[Box], where: str, unit: float) -> None:
    spoken = [box for box in boxes if box.extent is not None and box.text.strip()]
    assert [box.text for box in spoken if box.cut] == [], where
    for box in spoken:
        assert box.extent is not None
        assert box.rect.contains(box.extent), f"{where}: {box.name} {box.text!r} leaves its box"
        least = NEARLY if box.name in NEEDED else LEAST
        assert box.extent.height >= least * unit, f"{where}: {box.name} {box.text!r} is {box.extent.height} px high"
    for one, other in itertools.combinations([box for box in spoken if box.kind == SOLID], 2):
        assert one.extent is not None
        assert other.extent is not None
        common = one.extent.clip(other.extent)
        # Lines may touch: descenders and ascenders share a pixel or two.
        allowed = 0.12 * min(one.extent.height, other.extent.height)
        assert min(common.size) <= allowed, f"{where}: {one.name} {one.text!r} lies on {other.name} {other.text!r}"


@pytest.mark.parametrize(("order", "words"), [("show_keys", "card.0.0"), ("tune", "tuning.head")])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_who_wants_large_text_has_a_larger_card(size: tuple[int, int], order: str, words: str) -> None:
    stand = ordered(order, stand_of())
    high = []
    for scale in (100, 200):
        (box,) = (box for box in laid(stand.house, size, scale) if box.name == words)
        assert box.extent is not None
        high.append(box.extent.height)
    assert high[1] >= 1.15 * high[0]


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_the_newest_slip_is_told_whole_however_many_there_are(size: tuple[int, int], scale: int) -> None:
    stand = playing(stand_of())
    where, what = longest_slip(stand)
    for count in (1, 2, 9, 40):
        stand.slips = [(f"bar {at + 1}, left hand", what) for at in range(count - 1)] + [(where, what)]
        boxes = {box.name: box for box in laid(stand.house, size, scale)}
        for part, text in (("where", where), ("what", what)):
            box = boxes[f"margin.{count - 1}.{part}"]
            assert (box.text, box.cut) == (text, False)


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080)])
def test_three_slips_of_three_lines_are_all_told(size: tuple[int, int]) -> None:
    stand = playing(stand_of())
    stand.slips = [(f"bar {at}, left hand", "do is G flat here; you played G natural") for at in (3, 4, 5)]
    words = {box.name: box for box in laid(stand.house, size, 100)}
    assert {f"margin.{at}.what" for at in range(3)} <= set(words)
    assert words["margin.2.what"].rect.bottom < words["margin.figure.0.label"].rect.bottom


def longest_slip(stand: Stand) -> tuple[str, str]:
    """The longest words there are for a slip in the piece on the stand."""
    assert stand.practice is not None
    session = stand.practice.session
    found = []
    for cause, offset, (at, note) in itertools.product(CAUSES, (-2, -1, 1, 12), enumerate(session.expected.notes)):
        mark = Mark(0, at, cause, 1.0, (), offset)
        words = in_words(mark, session.written, session.expected, pressed=note.midi + offset)
        where, _, what = words.partition(": ")
        found.append((where, what))
    return max(found, key=lambda pair: len(pair[1]))
