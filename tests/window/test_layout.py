"""Every screen in every state at every size: no text outside its box, no two boxes on each other, nothing cut."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import pytest
from pygame import Rect

from tools import pictures, staging
from trainer.window.house.house import House
from trainer.window.paint.canvas import SOLID, Box
from trainer.window.paint.controls import KEY_SIGNS
from trainer.window.settings import Settings

SCENES = {scene.name: scene for scene in pictures.SCENES}
LOOKS = {
    "least": ((960, 600), Settings()),
    "usual": ((1280, 800), Settings()),
    "large": ((1920, 1080), Settings()),
    "upright": (pictures.UPRIGHT, Settings()),
    "four-k-night": ((3840, 2160), Settings(night=True)),
    "small-text": ((1280, 800), Settings(scale=80)),
    "large-text": ((1280, 800), Settings(scale=200)),
}
# In an upright window these fill it: a player finds what there is at a size to read, not in one half.
FULL_UPRIGHT = ("singer", "singer-wide-line", "singer-set-list", "keys", "setup")
# With the largest text titles may be shortened; all else is said whole.
MAY_BE_CUT = (
    "head.title", "head.about", "head.written", "shelf.", "recent.", "today.", "card.", "copy.title", "advice.",
    "quiet", "foot.", "find.", "margin.",
)  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture(scope="module", params=list(LOOKS))
def houses(request: pytest.FixtureRequest) -> dict[str, House]:
    size, settings = LOOKS[request.param]
    names = ("desk", "stand-take", "copy")
    few = {name: SCENES[name] for name in ((*names, *FULL_UPRIGHT) if request.param == "upright" else names)}
    chosen = SCENES if request.param in ("usual", "large-text") else few
    built = {}
    for name, scene in chosen.items():
        built[name] = pictures.built(scene, size, replace(scene.settings, scale=settings.scale, night=settings.night))
    return built


def boxes(house: House) -> list[Box]:
    assert house.canvas is not None
    return house.canvas.boxes


def test_text_stays_inside_its_box_and_the_window(houses: dict[str, House]) -> None:
    for name, house in houses.items():
        assert house.canvas is not None
        window = Rect((0, 0), house.canvas.size)
        for box in boxes(house):
            if box.extent is not None and box.text.strip():
                assert box.rect.contains(box.extent), f"{name}: {box.name} {box.text!r} leaves its box"
                assert window.contains(box.extent), f"{name}: {box.name} {box.text!r} leaves the window"


def test_no_two_texts_lie_on_each_other(houses: dict[str, House]) -> None:
    for name, house in houses.items():
        solid = [box for box in boxes(house) if box.kind == SOLID and box.extent is not None and box.text.strip()]
        for one, other in itertools.combinations(solid, 2):
            assert one.extent is not None
            assert other.extent is not None
            common = one.extent.clip(other.extent)
            # Lines may touch: descenders and ascenders share a pixel or two.
            depth = min(common.width, common.height)
            allowed = 0.12 * min(one.extent.height, other.extent.height)
            assert depth <= allowed, f"{name}: {one.name} {one.text!r} lies on {other.name} {other.text!r}"


def test_names_are_unique(houses: dict[str, House]) -> None:
    for name, house in houses.items():
        names = [box.name for box in boxes(house)]
        twice = {one for one in names if names.count(one) > 1}
        assert not twice, f"{name}: {sorted(twice)[:5]}"


def test_words_are_said_whole_at_usual_sizes(houses: dict[str, House]) -> None:
    for name, house in houses.items():
        assert house.canvas is not None
        large = house.canvas.scale > 1.3
        cut = [box.text for box in boxes(house) if box.cut and not (large and box.name.startswith(MAY_BE_CUT))]
        assert not cut, f"{name}: {cut}"


def test_what_is_needed_while_playing_is_large_enough(houses: dict[str, House]) -> None:
    """Nothing a player needs while playing is smaller than a fortieth of the window's height, upright a sixtieth of
    its width."""
    needed = ("head.key", "head.place", "ribbon.", "margin.figure.0", "head.mode")
    for name, house in houses.items():
        assert house.canvas is not None
        if not name.startswith("stand"):
            continue
        wide, high = house.canvas.size
        least = (high / 40 if wide > high else wide / 60) * min(1.0, house.canvas.scale)
        for box in boxes(house):
            if box.name.startswith(needed) and box.extent is not None:
                assert box.extent.height >= least * 0.92, f"{name}: {box.name} is {box.extent.height} of {least} pixels"


def test_an_upright_window_is_filled(houses: dict[str, House]) -> None:
    """Both halves of every quarter of its height say something, its very foot aside."""
    for name, house in houses.items():
        assert house.canvas is not None
        wide, high = house.canvas.size
        if high < wide or name not in FULL_UPRIGHT:
            continue
        said = [box.rect if box.extent is None else box.extent for box in boxes(house) if box.name != "head.rule"]
        for row, column in itertools.product(range(4), range(2)):
            part = Rect(column * wide // 2, row * high // 4, wide // 2, high // 4)
            assert any(one.colliderect(part) for one in said), f"{name}: nothing stands in {part}"


# Keys said in words where they are of use: what was printed is shown, hearing begins a bar earlier, and a teacher who
# is alone so far is told how students come.
IN_WORDS = {"sheet": "e", "page": "e", "keys.page": "e", "hear.back": "up", "studio": "u"}


def test_every_key_stands_on_the_screen(houses: dict[str, House]) -> None:
    """Of every screen but the Stand, whose card says all of them."""
    for name, house in houses.items():
        if name.startswith("stand") or house.settings.scale > 130:
            continue
        house.notice = None
        canvas, controls = house.laid()
        caps = {box.text for box in canvas.boxes if box.name.endswith(".cap.text")}
        keys = [(one.name, one.key) for one in controls.all if one.key and IN_WORDS.get(one.name) != one.key]
        unsaid = [one for one in keys if KEY_SIGNS.get(one[1], one[1]) not in caps]
        assert not unsaid, f"{name}: {unsaid}"
