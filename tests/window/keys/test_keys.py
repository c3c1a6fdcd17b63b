"""The Keys screen: what it reads from the journal, how one moves on it, and what it starts."""

from __future__ import annotations

import itertools
import math
import pathlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pygame
import pypdf
import pytest
from pygame import Rect

from tests.journal.played import play
from tools import practised, staging
from trainer.coaching.progress import habits
from trainer.coaching.progress.habits import Trend
from trainer.coaching.today.schedule import SIGHT
from trainer.journal.tally import canonical
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.keys import CIRCLE_MAJOR, CIRCLE_MINOR, TWENTY_FOUR, Key
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.keys import circle, growth, keyfigures, keysview
from trainer.window.keys.growth import Growth, Point
from trainer.window.keys.keyfacts import pooled
from trainer.window.keys.keys import Keys
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.theme import DAY, NIGHT, Theme
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        practised.prepare()
        yield


@pytest.fixture
def house() -> Iterator[House]:
    made = house_of((1280, 800), Settings(player=practised.PLAYER))
    made.open_journal()
    made.go("keys")
    made.draw()
    yield made
    made.close()


def screen(house: House) -> Keys:
    assert isinstance(house.screen, Keys)
    return house.screen


def press(house: House, name: str) -> None:
    """Let the focused control, or the one of that key, act as the house would."""
    assert house.console.controls is not None
    control = house.console.controls.named("circle")
    assert control is not None
    if not house.console.by_key(name):
        house.console.arrows(control, name)
    house.draw()


def test_the_key_that_is_played_is_the_one_looked_at(house: House) -> None:
    staging.stand_of(house, "aura-lee", "Gb")
    house.go("keys")
    assert screen(house).chosen == Key.parse("F#")
    screen(house).choose(Key.parse("a"))
    house.go("singer")
    house.go("keys")
    assert screen(house).chosen == Key.parse("a"), "what was chosen here stays"


def test_arrows_go_round_the_circle_and_across_it(house: House) -> None:
    press(house, "right")
    assert screen(house).chosen == Key.parse("G")
    press(house, "left")
    press(house, "left")
    assert screen(house).chosen == Key.parse("F")
    press(house, "down")
    assert screen(house).chosen == Key.parse("d")
    press(house, "up")
    assert screen(house).chosen == Key.parse("F")


def test_every_key_is_found_under_the_pointer_where_it_is_drawn() -> None:
    rect = Rect(40, 100, 600, 600)
    for keys, share in ((CIRCLE_MAJOR, 0.8), (CIRCLE_MINOR, 0.48)):
        for at, key in enumerate(keys):
            turn = math.radians(30 * at)
            point = (
                round(rect.centerx + share * 300 * math.sin(turn)),
                round(rect.centery - share * 300 * math.cos(turn)),
            )
            assert circle.key_under(rect, point) == key
    assert circle.key_under(rect, rect.center) is None
    assert circle.key_under(rect, rect.topleft) is None


def test_a_neighbour_is_a_fifth_away_and_across_lies_the_relative() -> None:
    for key in TWENTY_FOUR:
        assert key.fifths_away(circle.neighbour(key, 1)) == 1
        assert circle.neighbour(circle.neighbour(key, 1), -1) == key
        assert circle.across(key).signature % 12 == key.signature % 12
        assert circle.across(key).is_minor != key.is_minor


def test_the_journal_is_on_the_circle(house: House) -> None:
    found = screen(house).found
    assert house.journal is not None
    states = dict(house.journal.ask("SELECT key || ' ' || level || ' ' || hands, state FROM cell"))
    assert states["C trichord both"] == found.state("C", 0)
    assert found.state("f#", 0) == circle.NEW
    assert found.cost[0].value > found.cost[-1].value, "it got cheaper"
    assert found.sight
    played = [box.text for box in house.canvas.boxes if box.name == "circle.C.words"] if house.canvas else []
    assert played
    assert "·" in played[0]


def test_a_key_s_history_is_that_of_the_journal(house: House) -> None:
    points = screen(house).history(Key.parse("Eb"))
    assert len(points) > 2
    assert all(point.band is not None and point.band[0] <= point.value <= point.band[1] for point in points)
    assert screen(house).history(Key.parse("f#")) == []


@pytest.mark.parametrize(("days", "says"), [(0, "due today"), (1, "due tomorrow"), (2, "due in 2 days")])
def test_when_a_key_is_due_is_said_in_words(house: House, days: int, says: str) -> None:
    keys = screen(house)
    keys.choose(Key.parse("Eb"))
    looks = keys.found.looks
    looks[keys.chosen.short] = replace(looks[keys.chosen.short], due=date.today() + timedelta(days=days))
    house.draw()
    assert house.canvas is not None
    assert any(box.text.endswith(f"· {says}") for box in house.canvas.boxes)


def test_enter_puts_a_piece_in_the_chosen_key_on_the_stand(house: House) -> None:
    keys = screen(house)
    keys.choose(Key.parse("Db"))
    keys.today = []
    entry = keys.entry_for(keys.chosen)
    assert entry is not None
    assert entry.mode == "major"
    assert Key.parse(entry.key) != keys.chosen
    press(house, "return")
    assert isinstance(house.screen, Stand)
    assert house.screen.practice is not None
    assert house.screen.practice.wish.plan.target == Key.parse("Db")
    assert house.screen.practice.wish.piece.title == entry.title


def test_what_the_desk_asks_for_in_a_key_is_what_the_main_button_plays(house: House) -> None:
    desk, keys = house.screen_of(Desk), screen(house)
    assert isinstance(desk, Desk)
    desk.entered()
    asked = [one for one in desk.suggestions if one.kind != SIGHT and not one.pattern]
    assert asked
    differs = 0
    for offer in {canonical(one.key): one for one in reversed(asked)}.values():
        house.go("keys")
        keys.choose(Key.parse(canonical(offer.key)))
        own = keys.entry_for(keys.chosen)
        differs += own is None or own.title != offer.title
        house.draw()
        assert house.canvas is not None
        assert any(offer.title.split(" (")[0] in box.text for box in house.canvas.boxes if box.name == "start.label")
        press(house, "return")
        assert isinstance(house.screen, Stand)
        assert house.screen.practice is not None
        wish = house.screen.practice.wish
        assert (wish.piece.title, canonical(wish.plan.target), wish.hands) == (
            offer.title, canonical(offer.key), offer.hands
        )  # fmt: skip
    assert differs, "of its own accord the screen would have chosen otherwise"


@pytest.mark.parametrize(("key", "title"), [("p", "Pentascale in F♯ minor"), ("c", "Cadence in F♯ minor")])
def test_patterns_are_one_key_away(house: House, key: str, title: str) -> None:
    screen(house).choose(Key.parse("f#"))
    house.draw()
    press(house, key)
    assert isinstance(house.screen, Stand)
    assert house.screen.practice is not None
    assert house.screen.practice.wish.piece.title == title


def test_without_a_journal_it_says_what_to_do_first() -> None:
    house = house_of((1280, 800))
    house.go("keys")
    house.draw()
    assert house.canvas is not None
    said = {box.name: box.text for box in house.canvas.boxes}
    assert "five-finger pattern" in said["key.state"]
    assert "prima vista" in said["sight.empty"]
    assert "written key" in said["cost.empty"]
    house.close()


def test_readings_are_pooled_over_four_weeks_with_their_band() -> None:
    day = date(2027, 1, 4)
    points = pooled([(day, 40.0), (day + timedelta(days=7), 50.0), (day + timedelta(days=60), 80.0)])
    assert [point.value for point in points] == [40.0, 45.0, 80.0]
    assert points[0].band is None, "one reading has no band"
    assert points[2].band is None, "the old ones no longer count"
    assert points[1].band is not None
    low, high = points[1].band
    # Student's t with one degree of freedom, 12.706, times the standard error 5 (any table of the distribution).
    assert (low, high) == pytest.approx((45 - 12.706 * 5, 45 + 12.706 * 5), abs=0.01)


def test_a_scale_holds_every_value_and_bands_only_as_far_as_they_mean_something() -> None:
    day = date(2027, 1, 4)
    points = [Point(day, 10.0, (-500.0, 600.0)), Point(day + timedelta(days=7), 14.0, (12.0, 16.0))]
    low, high = growth._scale(Growth("", "", points, growth.whole_number, floor=0.0, least_span=5.0))
    assert low <= 10.0
    assert high >= 16.0
    assert high < 100.0
    assert low >= 0.0


@pytest.mark.parametrize("theme", [DAY, NIGHT])
def test_of_one_week_every_cause_has_its_whole_point(theme: Theme) -> None:
    canvas = Canvas((1280, 800), theme, 1.0, {})
    day = date(2027, 3, 1)
    keyfigures.lay_causes(canvas, Rect(40, 40, 400, 300), [("step", [Point(day, 9.0)]), ("octave", [Point(day, 0.0)])])
    for at in range(2):
        box = next(box for box in canvas.boxes if box.name == f"causes.{at}.line")
        paper = (1, 2, 3)
        surface = pygame.Surface((1280, 800))
        surface.fill(paper)
        box.paint(surface)
        shown = surface.subsurface(box.rect)
        places = itertools.product(range(shown.get_width()), range(shown.get_height()))
        inked = [place for place in places if shown.get_at(place)[:3] != paper]
        wide, high = (max(one) - min(one) + 1 for one in zip(*inked, strict=True))
        assert wide == pytest.approx(high, abs=1), "a round point, not a part of one"
        middle = tuple(sum(one) // len(one) for one in zip(*inked, strict=True))
        assert shown.get_at(middle)[:3] == theme["ink"]


def test_a_take_that_opened_no_key_is_not_denied() -> None:
    house = house_of((1280, 800))
    house.open_journal()
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes[:12]:
        house.hear(Press(float(note.onset), note.midi + 6, 64), now())
    stand.stop()
    house.go("keys")
    house.draw()
    assert house.canvas is not None
    said = " ".join(box.text for box in house.canvas.boxes if box.name.startswith("circle."))
    assert "opened yet" in said
    assert "played yet" not in said
    house.close()


def printed(house: House, key: str) -> list[str]:
    """Press a key of the Keys screen that prints; the text of each page."""
    _, controls = house.laid()
    next(control for control in controls.all if control.key == key).act()
    assert house.notice is not None
    assert house.notice.words.endswith(("e shows it.", "e shows them."))
    desk = house.screen_of(Desk)
    assert pathlib.Path(desk.sheet).name in house.notice.words
    return [page.extract_text() for page in pypdf.PdfReader(desk.sheet).pages]


def test_the_page_for_the_lesson_is_printed_from_here_without_a_command(house: House) -> None:
    (page,) = printed(house, "l")
    assert page.startswith(practised.PLAYER)
    assert "For the week" in page
    screen(house).several = False
    _, controls = house.laid()
    assert not any(control.key == "a" for control in controls.all), "nobody else plays here"


def test_where_several_play_everybodys_pages_come_behind_the_studios(house: House) -> None:
    assert house.journal is not None
    play(house.journal, "Eb", player="Ben Frost")
    house.go("keys")
    pages = printed(house, "a")
    assert pages[0].startswith("The studio")
    assert {page.split("\n")[0][:9] for page in pages[1:]} >= {practised.PLAYER[:9], "Ben Frost"}


def test_before_anything_is_printed_the_key_that_shows_it_says_what_to_do(house: House) -> None:
    desk = house.screen_of(Desk)
    desk.sheet = ""
    screen(house).show_page()
    assert house.notice is not None
    assert house.notice.words == "No page is printed yet: l prints the one for the lesson."


@pytest.mark.parametrize("size", [(960, 600), (1080, 1920), (1280, 720)])
def test_where_the_line_is_full_its_keys_print_all_the_same(house: House, size: tuple[int, int]) -> None:
    screen(house).several = True
    made = house_of(size, Settings(player=practised.PLAYER, scale=160))
    made.open_journal()
    made.go("keys")
    screen(made).several = True
    _, controls = made.laid()
    assert {"l", "a", "e", "t"} <= {control.key for control in controls.all}
    made.close()


def test_in_an_upright_window_the_circle_stands_over_the_key_and_no_curve_is_a_tower() -> None:
    made = house_of((1080, 1920), Settings(player=practised.PLAYER))
    made.open_journal()
    made.go("keys")
    canvas, controls = made.laid()
    ring = controls.named("circle")
    assert ring is not None
    assert ring.rect.width > 0.75 * 1080
    name = next(box for box in canvas.boxes if box.name == "key.name")
    assert name.rect.top > ring.rect.bottom
    curve = next(box for box in canvas.boxes if box.name == "past.curve")
    assert curve.rect.height < curve.rect.width
    made.close()


@pytest.mark.parametrize(("size", "scale"), [((1080, 1920), 150), ((1080, 1920), 200), ((768, 1024), 130),
                                             ((800, 800), 100), ((960, 600), 200)])  # fmt: skip
def test_a_circle_that_stands_alone_stays_in_the_window_and_off_the_words(size: tuple[int, int], scale: int) -> None:
    made = house_of(size, Settings(player=practised.PLAYER, scale=scale))
    made.open_journal()
    made.go("keys")
    canvas, controls = made.laid()
    ring = controls.named("circle")
    assert ring is not None
    assert Rect((0, 0), size).contains(ring.rect)
    words = [box for box in canvas.boxes if box.name.startswith(("key.", "legend.")) and box.extent is not None]
    assert {"key.name", "key.state", "legend.due.word"} <= {box.name for box in words}
    for box in words:
        assert box.extent is not None
        assert Rect((0, 0), size).contains(box.extent), box.name
        assert not ring.rect.colliderect(box.extent), box.name
    made.close()


def test_what_may_be_chance_is_not_told_as_something_that_moved(monkeypatch: pytest.MonkeyPatch) -> None:
    def found(*_: object) -> list[Trend]:
        return [Trend("accuracy", 0.8, 0.9, 0.05, 0.15, "Accuracy rose."), Trend("cost", 1, 1.1, -0.1, 0.2, "Chance.")]

    monkeypatch.setattr(habits, "trends", found)
    house = house_of((1280, 800), Settings(player=practised.PLAYER))
    house.open_journal()
    house.go("keys")
    assert screen(house).found.trends == ("Accuracy rose.",)
    house.close()


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 800), (1366, 768)])
def test_the_lines_of_the_habits_stand_evenly(size: tuple[int, int]) -> None:
    house = house_of(size, Settings(player=practised.PLAYER))
    house.open_journal()
    house.go("keys")
    screen(house).turn_to(keysview.VIEWS.index(keysview.HABITS))
    house.draw()
    assert house.canvas
    lines = [box.rect.top for box in house.canvas.boxes if box.name.startswith("habits.")]
    gaps = {below - above for above, below in itertools.pairwise(lines)}
    assert len(lines) > 3
    assert max(gaps) - min(gaps) <= 1
    house.close()


@pytest.mark.parametrize(
    ("size", "scale"),
    [((1280, 800), 100), ((1024, 768), 100), ((1366, 768), 110), ((960, 600), 100), ((1080, 1920), 100),
     ((1280, 800), 150)],
)  # fmt: skip
@pytest.mark.parametrize("several", [True, False])
def test_all_that_can_be_done_here_stands_on_the_screen_with_its_key(
    house: House, size: tuple[int, int], scale: int, several: bool
) -> None:
    house.pane.surface = pygame.Surface(size, 0, 32)
    house.settings = replace(house.settings, scale=scale)
    screen(house).several = several
    house.notice = None
    canvas, _ = house.laid()
    caps = [box.text for box in canvas.boxes if box.name.endswith(".cap.text")]
    wanted = ["l", "u", "i", "y", "a"] if several else ["l", "i"]
    assert [key for key in wanted if caps.count(key) != 1] == []
    (quiet,) = [box for box in canvas.boxes if box.name == "quiet"]
    assert quiet.text.startswith("← → ↑ ↓ choose a key")
    assert not quiet.cut
