"""Desk, Setup, Keys, Marked copy and the test at sight, each part of them, at four window sizes and four text sizes."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import pygame
import pytest
from pygame import Rect

from tools import pictures, staging
from trainer.window.house.house import House
from trainer.window.keys.keysview import VIEWS
from trainer.window.paint.canvas import SOLID, Box, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.settings import Settings

SCENES = {scene.name: scene for scene in pictures.SCENES}
SCREENS = (
    "desk",
    "desk-first-minute",
    "desk-cut-off",
    "desk-own",
    "setup",
    "setup-erase",
    "keys",
    "copy",
    "sheet",
    "sight",
    "sight-result",
    "work",
)
SIZES = ((960, 600), (1280, 800), (1920, 1080), (3840, 2160))
LAPTOP = (1366, 768)
# The smallest and the largest text at every size, those between at the most usual.
LOOKS = [(size, scale) for scale in (80, 200) for size in SIZES]
LOOKS += [(size, scale) for scale in (100, 150) for size in SIZES[:2]]
LOOKS += [(LAPTOP, scale) for scale in (100, 110, 125, 150)]
LOOKS += [(SIZES[2], 125)]
# No text may be smaller than this part of a fortieth of the window's height, however much there is to say.
LEAST = 0.46
# What stands in one part or another of a screen at every size.
ALWAYS = {
    "desk": ("start.label", "print.label", "sight.label", "card.title", "card.moved", "shelf.0.title"),
    "setup": ("practice.hand", "find.label", "tap.label", "held_help.value", "setup.where", "page.keys"),
    "keys": ("key.name", "key.state", "card.words", "sight.curve", "cost.curve", "causes.0", "costs.points", "habits.0",
             "start.label", "legend.due.word"),
    "copy": ("copy.title", "copy.key", "copy.figure.2", "curve", "advice.0", "advice.2", "tally.by hand"),
    "sheet": ("sheet.title", "sheet.about", "sheet_syllables.value", "paper.value", "print.label", "back.label"),
    "work": ("work.title", "work.about", "days.value", "help.value", "note.text", "set.label", "back.label"),
    "sight": ("sight.two.label", "sight.five.label"),
}  # fmt: skip
# The circle's small words are said again, large, of the chosen key.
SMALL = ("circle.",)


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture(scope="module", params=SCREENS)
def house(request: pytest.FixtureRequest) -> Iterator[House]:
    made = pictures.built(SCENES[request.param], SIZES[1])
    yield made
    made.close()


def parts(house: House) -> Iterator[str]:
    """Turn to every part of the screen in front, one after another; the number of the one shown."""
    which = "view" if hasattr(house.screen, "view") else "part"
    for at in range(len(VIEWS) if which == "view" else 4) if hasattr(house.screen, which) else (None,):
        if at is not None:
            setattr(house.screen, which, at)
        yield f"part {at}"


@pytest.mark.parametrize(("size", "scale"), LOOKS, ids=[f"{w}x{h}-{scale}" for (w, h), scale in LOOKS])
def test_everything_is_said_whole_and_nothing_lies_on_anything(house: House, size: tuple[int, int], scale: int) -> None:
    house.pane.surface = pygame.Surface(size, 0, 32)
    house.settings = replace(house.settings, scale=scale)
    shown: set[str] = set()
    for part in parts(house):
        # The first time asks for the engraving, the second lays it.
        house.laid()
        canvas, controls = house.laid()
        assert house.screen is not None
        where = f"{house.screen.name}, {part}"
        check_words(canvas, where)
        check_controls(controls, canvas, where)
        check_quiet_line(controls, canvas, where)
        shown |= {box.name for box in canvas.boxes}
    assert house.screen is not None
    wanted = ALWAYS.get(house.screen.name, ())
    assert [name for name in wanted if name not in shown] == []


def check_words(canvas: Canvas, where: str) -> None:
    window = Rect((0, 0), canvas.size)
    said = [box for box in canvas.boxes if box.extent is not None and box.text.strip()]
    assert [box.text for box in said if box.cut] == [], where
    for box in said:
        assert box.extent is not None
        assert window.contains(box.extent), f"{where}: {box.name} {box.text!r} leaves the window"
        assert box.rect.contains(box.extent), f"{where}: {box.name} {box.text!r} leaves its box"
        if not box.name.startswith(SMALL):
            least = LEAST * canvas.size[1] / 40 * min(1.0, canvas.scale)
            assert box.extent.height >= least, f"{where}: {box.name} {box.text!r} is {box.extent.height} px high"
    for one, other in itertools.combinations([box for box in said if box.kind == SOLID], 2):
        assert depth(one, other) <= 0, f"{where}: {one.name} {one.text!r} lies on {other.name} {other.text!r}"


def depth(one: Box, other: Box) -> float:
    """How many pixels two texts share beyond what ascenders and descenders may."""
    assert one.extent is not None
    assert other.extent is not None
    common = one.extent.clip(other.extent)
    return min(common.width, common.height) - 0.12 * min(one.extent.height, other.extent.height) - 1


def check_controls(controls: Controls, canvas: Canvas, where: str) -> None:
    placed = [control for control in controls.all if control.rect.width and control.rect.height]
    window = Rect((0, 0), canvas.size)
    for control in placed:
        assert window.contains(control.rect), f"{where}: {control.name} leaves the window"
    for one, other in itertools.combinations(placed, 2):
        common = one.rect.clip(other.rect)
        assert min(common.width, common.height) <= 2, f"{where}: {one.name} lies on {other.name}"


def check_quiet_line(controls: Controls, canvas: Canvas, where: str) -> None:
    """The line at the foot lies on nothing that can be clicked."""
    for box in canvas.boxes:
        if box.name == "quiet" and box.extent is not None:
            under = [control.name for control in controls.all if depth_of(control.rect, box.extent) > 2]
            assert under == [], f"{where}: {box.text!r} lies on {under}"


def depth_of(one: Rect, other: Rect) -> int:
    common = one.clip(other)
    return min(common.width, common.height)


@pytest.mark.parametrize("scale", [100, 110, 125])
def test_larger_text_makes_nothing_in_setup_smaller(scale: int) -> None:
    made = pictures.built(SCENES["setup"], LAPTOP, Settings(scale=scale))
    sizes = []
    for _ in parts(made):
        canvas, _controls = made.laid()
        sizes += [pixels(box) for box in canvas.boxes if box.name == "practice.hand"]
    made.close()
    assert min(sizes) >= 0.85 * LAPTOP[1] / 40 * scale / 100


def laid(scene: str, scale: int = 100) -> dict[str, Box]:
    """The boxes of a scene by name."""
    made = pictures.built(SCENES[scene], SIZES[1], replace(SCENES[scene].settings, scale=scale))
    assert made.canvas is not None
    found = {box.name: box for box in made.canvas.boxes}
    made.close()
    return found


def pixels(box: Box) -> float:
    """The size a text is set in."""
    assert isinstance(box.state, tuple)
    return float(box.state[2])


@pytest.mark.parametrize("scale", [100, 150, 200])
def test_the_figures_of_a_test_at_sight_are_of_one_size_and_so_are_their_labels(scale: int) -> None:
    found = laid("sight-result", scale)
    for names in (("minute", "right", "cost"), ("minute.label", "right.label", "cost.label")):
        assert len({pixels(found[f"sight.{name}"]) for name in names}) == 1


@pytest.mark.parametrize("scale", [100, 200])
def test_what_is_said_of_a_part_is_set_smaller_all_together(scale: int) -> None:
    found = laid("singer-part", scale)
    shares = [pixels(found[f"part.{at}"]) / size for at, size in enumerate((1.05, 1.2, 1.05, 1.05))]
    assert max(shares) - min(shares) <= 0.03 * max(shares)


def test_the_sections_of_setup_stand_in_line() -> None:
    found = laid("setup")
    for left, right in (("midi_in", "syllables"), ("midi_out", "scale"), ("echo", "margin")):
        assert found[f"{left}.under"].rect.top == found[f"{right}.under"].rect.top


def test_the_names_of_parts_keep_their_places_whichever_is_shown() -> None:
    def places(scene: str) -> set[tuple[str, int]]:
        return {(name, box.rect.left) for name, box in laid(scene).items() if name.startswith("part.singer.page.")}

    assert len(places("singer")) == 4
    assert places("singer") == places("singer-set-list") == places("singer-part")


def test_titles_with_brackets_are_shortened_before_they_are_made_small() -> None:
    steps = laid("singer-warm-up")
    rows = [box for name, box in steps.items() if name.removeprefix("steps.").isdecimal()]
    assert any(box.text.startswith("Lightly Row in") for box in rows)
    assert len({pixels(box) for box in rows}) == 1
    assert {box.text for name, box in steps.items() if name.endswith(".time")} <= {"15 s", "30 s", "45 s", "1 min"}
    songs = laid("singer-wide-line")
    assert "Die Loreley" in [box.text for name, box in songs.items() if name.removeprefix("songs.").isdecimal()]
