"""Settings: kept in one file, each player's own apart."""

from __future__ import annotations

import pathlib
from dataclasses import replace

import pytest

from trainer import folders
from trainer.app import build
from trainer.window.house.opening import settings_of
from trainer.window.settings import OWN, Settings, forget, load, players, save


@pytest.fixture(autouse=True)
def home(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path))


def test_kept_and_read_back() -> None:
    mine = Settings(keys=61, syllables="numbers", night=True, player="Ada", click_offset_ms=12)
    save(mine)
    assert load() == mine


def test_players_are_never_mixed_up() -> None:
    ada = Settings(keys=61, player="Ada", syllables="do", help="none", scale=150)
    save(ada)
    ben = load("Ben")
    assert ben == Settings(keys=61, player="Ben")
    save(replace(ben, letters="german"))
    assert load("Ada") == ada
    assert load() == replace(ben, letters="german")


def test_what_belongs_to_the_room_is_shared() -> None:
    save(Settings(player="Ada"))
    save(replace(load("Ben"), keys=49, midi_in="Piano"))
    assert (load("Ada").keys, load("Ada").midi_in) == (49, "Piano")
    assert "keys" not in OWN


def test_the_mark_some_editors_put_before_a_text_costs_no_setting() -> None:
    save(Settings(keys=61, player="Ada", night=True))
    place = folders.settings() / "settings.json"
    place.write_text(place.read_text(encoding="utf-8"), encoding="utf-8-sig")
    assert load() == Settings(keys=61, player="Ada", night=True)


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"players": 3, "keys": 7}', '{"click_offset_ms": true}', '{"players": {"": [1]}, "scale": "x"}'],
)
def test_damage_gives_the_defaults(text: str) -> None:
    (folders.settings() / "settings.json").write_text(text)
    assert load() == Settings()
    save(Settings(player="Ada", night=True))
    assert load("Ada").night


@pytest.mark.parametrize(
    "text",
    [
        '{"piano_transposes": 500}',
        '{"piano_transposes": -13}',
        '{"click_offset_ms": 1%s}' % ("0" * 400),
        '{"player": "\\ud800", "players": {"\\udfff": {}}}',
    ],
)
def test_what_no_piano_and_no_name_can_be_gives_the_defaults(text: str) -> None:
    (folders.settings() / "settings.json").write_text(text)
    assert load() == Settings()
    assert players() == []


def test_what_setup_can_find_is_kept_to_its_ends() -> None:
    for mine in (Settings(piano_transposes=-12, click_offset_ms=250), Settings(piano_transposes=12, player="Ödön 雪")):
        save(mine)
        assert load() == mine


def test_a_size_asked_for_is_a_window_also_after_an_evening_in_full_screen() -> None:
    def asked(*words: str) -> bool:
        parser, listed = build(words)
        return settings_of(parser.parse_args(listed)).full_screen

    save(Settings(full_screen=True))
    assert asked()
    assert not asked("--size", "1366x768")
    assert asked("--size", "1366x768", "--full-screen")


def test_a_player_who_leaves_is_named_no_more_in_a_file_without_settings_of_their_own() -> None:
    place = folders.settings() / "settings.json"
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text('{"player": "Ada Winter", "keys": 61}', encoding="utf-8")
    forget("Ben Sommer")
    assert load() == Settings(player="Ada Winter", keys=61)
    forget("Ada Winter")
    assert "Ada" not in place.read_text(encoding="utf-8")
    assert load().keys == 61
