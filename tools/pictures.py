"""A picture of every screen in every state, at several sizes: ``python tools/pictures.py FOLDER [--only NAME]``.

Drawn by the screens' own code without a display. Tests lay the same scenes and look for text outside its box and boxes
that overlap.
"""

# ruff: noqa: E402 (the project's folder and the drivers must be known before its rooms are imported)
from __future__ import annotations

import argparse
import os
import pathlib
import random
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
os.environ["SDL_VIDEODRIVER"] = os.environ["SDL_AUDIODRIVER"] = "dummy"

from tools import handingscenes, practised, standscenes, studio
from tools.staging import first_desk, home, play, slips, stand_of
from tools.standscenes import KEY, PIECE
from trainer.coaching.sight.sight import Rating
from trainer.coaching.sight.sighttest import Result
from trainer.following.marks import SIGNATURE
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.desk.desk import Desk
from trainer.window.desk.workpage import WorkPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.keys.keys import Keys
from trainer.window.keys.keysview import HABITS, VIEWS, WEEKS
from trainer.window.settings import Settings
from trainer.window.setup.setup import Setup
from trainer.window.singer.singer import SingerScreen
from trainer.window.singer.singerview import BEFORE_PAGES

SIZES = ((960, 600), (1280, 800), (1920, 1080))
LARGEST = (3840, 2160)
UPRIGHT = (1080, 1920)


@dataclass(frozen=True)
class Scene:
    """One screen in one state: what sets it up in a house, and settings it needs."""

    name: str
    build: Callable[[House], None]
    settings: Settings = field(default_factory=Settings)


_TUNES = tuple(
    f"X:1\nT:{title}\nM:4/4\nL:1/4\nK:G\nG A B c|d2 {last}2|\n"
    for title, last in (("Evening at the Weir", "B"), ("The Lamplighter Walks Home", "A"), ("Low Tide", "c"))
)


def _desk(house: House) -> None:
    house.show(house.screen_of(Desk))


def _desk_with_takes(house: House) -> None:
    house.open_journal()
    for name, to, share in (("aura-lee", "Eb", 1.0), (PIECE, KEY, 1.0), ("ode-to-joy", "F", 0.5)):
        stand = stand_of(house, name, to)
        if name == PIECE:
            play(house, share)
        else:
            slips(house, stand)
        stand.stop()
    house.notice = None
    _desk(house)


def _desk_of_several(house: House) -> None:
    """A Desk that several share, with work set for whoever sits there."""
    _desk_with_takes(house)
    assert house.journal is not None
    studio.play(house.journal, "Ada Winter", read(find("aura-lee")), plan(Key.parse("G"), "Eb"), random.Random(1), 0.1,
                SIGNATURE, datetime.now().astimezone() - timedelta(days=1))  # fmt: skip
    desk = house.screen
    assert isinstance(desk, Desk)
    for title, to in (("greensleeves", 8), ("lightly row", 3)):
        desk.search(title)
        desk.target = to
        desk.set_work()
    desk.search("")
    desk.entered()
    house.notice = None


def _desk_cut_off(house: House) -> None:
    """A journal with takes, the last of them cut off."""
    _desk_with_takes(house)
    slips(house, stand_of(house, "lightly-row", "Eb"))
    assert house.journal is not None
    house.journal.close()
    house.open_journal()
    house.screen = None
    _desk(house)


def _desk_erasing(house: House) -> None:
    """A Desk that asks whether to erase a take."""
    _desk_with_takes(house)
    desk = house.screen
    assert isinstance(desk, Desk)
    house.focus("recent")
    desk.erasing.ask()


def _desk_own(house: House) -> None:
    """A Desk with music of one's own, of which one was taken off the shelf."""
    _desk_brought(house)
    desk = house.screen
    assert isinstance(desk, Desk)
    desk.shelving.put_away()
    desk.shelving.take_off()
    house.notice = None


def _desk_brought(house: House) -> None:
    """A Desk where files have just come, some of which are not music."""
    _desk_with_takes(house)
    with tempfile.TemporaryDirectory() as folder:
        names = ("weir.abc", "lamplighter.abc", "tide.abc", "holiday.jpg", "torn.musicxml")
        files = [pathlib.Path(folder, name) for name in names]
        for file, text in zip(files, (*_TUNES, "JFIF", "<?xml version='1.0'?><score-partwise>"), strict=True):
            file.write_text(text)
        house.open_files([str(file) for file in files])
    desk = house.screen
    assert isinstance(desk, Desk)
    house.notice = None
    desk.search("yours")


def _desk_nothing_found(house: House) -> None:
    _desk(house)
    desk = house.screen
    assert isinstance(desk, Desk)
    desk.find = "no such piece"


def _sheet(house: House) -> None:
    first_desk(house)
    house.draw()
    house.go("sheet")


def _work(house: House) -> None:
    first_desk(house)
    house.draw()
    house.go("work")
    page = house.screen
    assert isinstance(page, WorkPage)
    page.change(note="Left hand alone first, saying the syllables; then both, without looking down.")


def _sight(house: House) -> None:
    house.open_journal()
    house.go("sight")


def _sight_result(house: House) -> None:
    before = Rating()
    result = Result(41.3, 0.914, 1.62, Rating(1.38, 0.31), before)
    house.rounds.sight_result = (house.player, result)
    _sight(house)


def _copy(house: House) -> None:
    stand = stand_of(house, PIECE, KEY)
    play(house)
    stand.stop()
    # On to the marked copy, as the player goes.
    stand.stop()


def _copy_short(house: House) -> None:
    standscenes.ended(house)
    house.go("copy")


def _copy_transposing(house: House) -> None:
    stand = stand_of(house, "ode-to-joy", "Ab")
    for note in [] if stand.practice is None else stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.6, note.midi + 3, 64), now())
    stand.stop()
    house.go("copy")


def _copy_as_written(house: House) -> None:
    stand = stand_of(house, PIECE, KEY)
    for note in [] if stand.practice is None else stand.practice.wish.piece.notes:
        house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    stand.stop()
    house.go("copy")


def _copy_none(house: House) -> None:
    house.go("copy")


def _keys(house: House) -> None:
    practised.prepare()
    house.open_journal()
    house.go("keys")
    keys = house.screen
    assert isinstance(keys, Keys)
    keys.choose(Key.parse(KEY))


def _keys_weeks(house: House) -> None:
    _keys(house)
    keys = house.screen
    assert isinstance(keys, Keys)
    keys.choose(Key.parse("f#"))
    keys.turn_to(VIEWS.index(WEEKS))


def _keys_habits(house: House) -> None:
    _keys(house)
    keys = house.screen
    assert isinstance(keys, Keys)
    keys.turn_to(VIEWS.index(HABITS))


def _keys_empty(house: House) -> None:
    house.go("keys")


def _singer(house: House, page: int = 0, song: str = "Aura Lee") -> None:
    practised.prepare()
    house.open_journal()
    house.go("singer")
    singer = house.screen
    assert isinstance(singer, SingerScreen)
    singer.pick_song(next(at for at, entry in enumerate(singer.shown) if entry.title == song))
    singer.to_part(page + BEFORE_PAGES)


def _singer_wide(house: House) -> None:
    _singer(house, song="Greensleeves")
    singer = house.screen
    assert isinstance(singer, SingerScreen)
    singer.pick_singer(1)
    singer.to_part(2)


def _singer_empty(house: House) -> None:
    house.go("singer")
    singer = house.screen
    assert isinstance(singer, SingerScreen)
    singer.search("no such song")


def _setup_of(house: House, part: int = 0) -> Setup:
    practised.prepare()
    house.open_journal()
    house.go("setup")
    setup = house.screen
    assert isinstance(setup, Setup)
    setup.part = part
    setup.heard(Press(now(), 63, 58))
    return setup


def _setup(house: House, part: int = 0) -> None:
    _setup_of(house, part)


def _setup_erase(house: House) -> None:
    setup = _setup_of(house, 3)
    setup.type_name("Ada")
    setup.ask_erase()


_MIRA = Settings(player=practised.PLAYER)
SCENES = (
    Scene("desk-first-minute", first_desk),
    Scene("desk", _desk_with_takes),
    Scene("desk-of-several", _desk_of_several),
    Scene("desk-cut-off", _desk_cut_off),
    Scene("desk-erasing", _desk_erasing),
    Scene("desk-own", _desk_own),
    Scene("desk-brought", _desk_brought),
    Scene("desk-nothing-found", _desk_nothing_found),
    Scene("stand-ready", standscenes.ready),
    Scene("stand-playing", standscenes.playing),
    Scene("stand-take", standscenes.take),
    Scene("stand-long", standscenes.long),
    Scene("stand-ended", standscenes.ended),
    Scene("stand-right-hand", standscenes.one_hand),
    Scene("stand-loop", standscenes.loop),
    Scene("stand-prima-vista", standscenes.sight),
    Scene("stand-a-tempo", standscenes.in_time),
    Scene("stand-glimpse", standscenes.glimpse),
    Scene("stand-all-keys", standscenes.keys),
    Scene("stand-ear-and-time", standscenes.tuning),
    Scene("stand-chords-and-clef", standscenes.rows, Settings(chords=True, clef=True)),
    Scene("stand-song", standscenes.song),
    Scene("stand-choir", standscenes.choir),
    Scene("stand-correcting", standscenes.correcting, Settings(chords=True)),
    Scene("stand-fingering", standscenes.fingering),
    Scene("stand-own-fingers", standscenes.own_fingers),
    Scene("stand-take-by-clef", standscenes.take, Settings(chords=True, clef=True)),
    Scene("stand-no-margin", standscenes.playing, Settings(margin=False)),
    Scene("stand-61-keys", standscenes.playing, Settings(keys=61, help="do")),
    Scene("stand-german-letters", standscenes.ready, Settings(syllables="letters", letters="german", help="bars")),
    Scene("stand-help-held", standscenes.held),
    Scene("stand-test-at-sight", standscenes.test),
    Scene("sheet", _sheet),
    Scene("sheet-alone", _sheet, Settings(sheet_page="alone")),
    Scene("sheet-part", _sheet, Settings(sheet_page="part")),
    Scene("work", _work),
    Scene("studio", handingscenes.everybody),
    Scene("studio-alone", handingscenes.alone),
    Scene("handing", handingscenes.come),
    Scene("handing-asking", handingscenes.asking),
    Scene("handing-taken", handingscenes.taken),
    Scene("handing-changing", handingscenes.changing),
    Scene("handing-empty", handingscenes.empty),
    Scene("sight", _sight),
    Scene("sight-result", _sight_result),
    Scene("copy", _copy),
    Scene("copy-short", _copy_short),
    Scene("copy-transposing", _copy_transposing),
    Scene("copy-as-written", _copy_as_written),
    Scene("copy-none", _copy_none),
    Scene("keys", _keys, _MIRA),
    Scene("keys-weeks", _keys_weeks, _MIRA),
    Scene("keys-habits", _keys_habits, _MIRA),
    Scene("keys-empty", _keys_empty),
    Scene("singer", _singer, _MIRA),
    Scene("singer-wide-line", _singer_wide, _MIRA),
    Scene("singer-set-list", partial(_singer, page=1), _MIRA),
    Scene("singer-warm-up", partial(_singer, page=2), _MIRA),
    Scene("singer-part", partial(_singer, page=3), _MIRA),
    Scene("singer-nothing-found", _singer_empty),
    Scene("setup", _setup, _MIRA),
    Scene("setup-page", partial(_setup, part=1), _MIRA),
    Scene("setup-practice", partial(_setup, part=2), _MIRA),
    Scene("setup-erase", _setup_erase, _MIRA),
)


def built(scene: Scene, size: tuple[int, int], settings: Settings | None = None) -> House:
    """A house showing the scene, drawn."""
    house = house_of(size, settings or scene.settings)
    scene.build(house)
    house.draw()
    house.draw()
    return house


def looks() -> Iterator[tuple[str, tuple[int, int], Callable[[Settings], Settings]]]:
    """Every way a scene is drawn: name, size, and what it does to the settings."""
    for wide, high in SIZES:
        yield f"{wide}x{high}", (wide, high), lambda settings: settings
    yield "3840x2160", LARGEST, lambda settings: settings
    yield "1080x1920", UPRIGHT, lambda settings: settings
    yield "1280x800-night", SIZES[1], lambda settings: replace(settings, night=True)
    yield "1280x800-text-200", SIZES[1], lambda settings: replace(settings, scale=200)
    yield "1280x800-text-80", SIZES[1], lambda settings: replace(settings, scale=80)


def main() -> int:
    parser = argparse.ArgumentParser(prog="pictures.py", description="Draw every screen in every state.")
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--only", default="", help="scenes whose name begins so")
    parser.add_argument("--look", default="", help="looks whose name begins so, e.g. 1280x800")
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    with home():
        for scene in SCENES:
            for name, size, changed in looks() if scene.name.startswith(args.only) else ():
                if not name.startswith(args.look):
                    continue
                house = built(scene, size, changed(scene.settings))
                house.picture(place := str(args.folder / f"{scene.name}-{name}.png"))
                house.close()
                print(place)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
