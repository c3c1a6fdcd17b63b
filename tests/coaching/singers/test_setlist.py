"""Set lists: a plain file, readiness from takes, days dealt out."""

from __future__ import annotations

import pathlib
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import pytest

from trainer.coaching.singers.accompany import suit, voice_line
from trainer.coaching.singers.setlist import (
    FILE,
    MINUTES_EACH,
    SONGS_A_DAY,
    Occasion,
    Readiness,
    SetLists,
    Singer,
    Song,
    demo,
    load,
    readiness,
    save,
    until,
    way_to,
)
from trainer.coaching.singers.voices import Span
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores import reading
from trainer.scores.shelf import library

TODAY = date(2027, 2, 6)
SONG = Song("aura-lee", "Aura Lee", "Eb", "Ida Holm")


@dataclass(frozen=True)
class Take:
    title: str = "Aura Lee"
    target: str = "Eb"
    accuracy: float | None = 1.0
    cost: float | None = 1.0
    is_most: bool = True
    days_ago: int = 0

    @property
    def began(self) -> datetime:
        return datetime(TODAY.year, TODAY.month, TODAY.day, 12, tzinfo=UTC) - timedelta(days=self.days_ago)


def test_saved_and_read_back(tmp_path: pathlib.Path) -> None:
    lists = demo(TODAY)
    save(tmp_path, lists)
    assert load(tmp_path) == lists
    assert [p.name for p in tmp_path.iterdir()] == [FILE]


def test_singers_in_a_list_in_brackets_are_kept_when_another_comes(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_text('singer = [{name = "Ada", voice = "mezzo"}]\n')
    (ada,) = load(tmp_path).singers
    ben = Singer("Ben", Span.parse("D3-D4"))
    save(tmp_path, SetLists((ada, ben)))
    assert load(tmp_path).singers == (ada, ben)


def test_no_file_is_an_empty_set_list(tmp_path: pathlib.Path) -> None:
    assert load(tmp_path) == SetLists()


BY_HAND = """# Mine, hands off the tenor.

[[singer]]
name = "Ida Holm"   # mornings only
voice = "mezzo-soprano"

[[occasion]]
name = "Chapel"
date = 2030-01-02 # Wednesday

[[occasion.song]]
piece = "aura-lee"
key = "-3"  # as last year

# the other one
[[occasion]]
name = "Hall"
date = 2030-03-02
"""


def test_what_was_written_by_hand_stays_where_it_has_not_changed(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_text(BY_HAND)
    lists = load(tmp_path)
    chapel, hall = lists.occasions
    for number in range(3):
        hall = replace(hall, name=f"Hall {number}", songs=(*hall.songs, SONG))
        lists = replace(lists, occasions=(chapel, hall))
        save(tmp_path, lists)
        assert load(tmp_path) == lists
    text = (tmp_path / FILE).read_text(encoding="utf-8")
    for said in ("# Mine, hands off the tenor.", "# mornings only", "# Wednesday", "# as last year", "# the other one"):
        assert said in text
    assert "\n\n\n" not in text
    save(tmp_path, SetLists())
    assert load(tmp_path) == SetLists()
    save(tmp_path, lists)
    assert load(tmp_path) == lists


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[occasion]]\nname = 'x'\n", "occasion 1: date is missing"),
        ("[[occasion]]\nname = 'x'\ndate = '2027-01-01'\n", "date without quotes"),
        ("[[occasion]]\nname = 3\ndate = 2027-01-01\n", "must be text in quotes"),
        ("[[singer]]\nname = 'x'\n", "say tessitura"),
        ("[[singer]]\nname = 'x'\ntessitura = 'high'\n", "not a tessitura"),
        ("singer = 3\n", r"\[\[singer\]\] blocks"),
        ("name = \n", "line 1"),
        ("[[occasion]]\nname='x'\ndate=2027-01-01\n[[occasion.song]]\npiece='p'\n", "song 1: key is missing"),
    ],
)
def test_a_wrong_entry_is_named_and_the_file_left_alone(tmp_path: pathlib.Path, text: str, says: str) -> None:
    (tmp_path / FILE).write_text(text)
    with pytest.raises(MusicError, match=says):
        load(tmp_path)
    assert (tmp_path / FILE).read_text(encoding="utf-8") == text


def test_a_file_that_is_not_text_is_never_overwritten(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_bytes(b"\xff\xfe\x00junk")
    with pytest.raises(MusicError, match="UTF-8"):
        save(tmp_path, demo(TODAY))
    assert (tmp_path / FILE).read_bytes() == b"\xff\xfe\x00junk"


def test_a_folder_that_cannot_be_written_keeps_the_old_file(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(tmp_path, demo(TODAY))
    before = (tmp_path / FILE).read_text(encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(MusicError, match="No space left"):
        save(tmp_path, SetLists())
    assert (tmp_path / FILE).read_text(encoding="utf-8") == before
    assert [p.name for p in tmp_path.iterdir()] == [FILE]


def test_next_is_the_nearest_not_past() -> None:
    row = tuple(Occasion(name, TODAY + timedelta(days=off)) for name, off in (("far", 9), ("past", -1), ("near", 0)))
    found = SetLists(occasions=row).next(TODAY)
    assert found is not None
    assert found.name == "near"
    assert SetLists().next(TODAY) is None


def test_three_clean_takes_today_are_ready() -> None:
    ready = readiness(SONG, [Take(), Take(), Take()], TODAY)
    assert (ready.share, ready.takes, ready.last, ready.words) == (1.0, 3, TODAY, "ready")


def test_readiness_counts_this_piece_in_this_key_only() -> None:
    takes = [Take(title="Other"), Take(target="E"), Take(target="eb"), Take(accuracy=None)]
    assert readiness(SONG, takes, TODAY) == Readiness(SONG, 0.0, 0, None)
    flat = Song("x", "Aura Lee", "Gb")
    assert readiness(flat, [Take(target="F#")], TODAY).takes == 1  # the same keys of the piano


def test_slow_old_or_faulty_takes_make_a_song_less_ready() -> None:
    whole = readiness(SONG, [Take()], TODAY).share
    assert whole == pytest.approx(1 / 3, abs=0.001)
    assert readiness(SONG, [Take(cost=2.0)], TODAY).share == pytest.approx(whole / 2, abs=0.001)
    assert readiness(SONG, [Take(accuracy=0.6)], TODAY).share == pytest.approx(whole * 0.6, abs=0.001)
    assert readiness(SONG, [Take(days_ago=30)], TODAY).share == pytest.approx(whole / 2, abs=0.001)
    assert readiness(SONG, [Take(cost=0.5)], TODAY).share == whole


def test_a_part_of_the_song_is_not_the_song() -> None:
    assert readiness(SONG, [Take(is_most=False)] * 3, TODAY).share == 0.0


def test_only_the_newest_three_count() -> None:
    takes = [Take(days_ago=9, accuracy=0.0)] * 5 + [Take(), Take(), Take()]
    assert readiness(SONG, takes, TODAY).share == 1.0


def test_a_wish_as_an_interval_needs_the_written_key() -> None:
    song = Song("x", "Aura Lee", "-m3")
    assert readiness(song, [Take(target="E")], TODAY, Key.parse("G")).takes == 1


def test_days_give_the_least_ready_the_most_time_and_end_with_the_whole_set() -> None:
    occasion = demo(TODAY).occasions[0]
    songs = occasion.songs
    ready = [
        Readiness(songs[0], 0.95, 3, TODAY),
        Readiness(songs[1], 0.1, 1, TODAY),
        Readiness(songs[2], 0.5, 2, TODAY),
    ]
    days = until(occasion, ready, TODAY, 30)
    assert [day.date for day in days] == [TODAY + timedelta(days=n) for n in range(42)]
    assert days[-1].whole
    assert [task.song for task in days[-1].tasks] == list(songs)
    total = {song: sum(t.minutes for day in days for t in day.tasks if t.song == song) for song in songs}
    assert total[songs[1]] > total[songs[2]] > total[songs[0]] > 0
    for day in days[:-1]:
        assert sum(task.minutes for task in day.tasks) == 30
        assert len(day.tasks) <= SONGS_A_DAY
        assert all(task.minutes % MINUTES_EACH == 0 for task in day.tasks)


def test_on_the_day_itself_nothing_is_left_to_practise() -> None:
    occasion = Occasion("today", TODAY, (SONG,))
    assert until(occasion, [Readiness(SONG, 0.0, 0, None)], TODAY, 30) == ()


def test_the_invented_concert_suits_its_invented_singers() -> None:
    lists = demo(TODAY)
    for song in lists.occasions[0].songs:
        piece, singer = reading.read(library.find(song.piece)), lists.singer(song.singer)
        assert singer is not None
        fits = {s.key.short: s.fit for s in suit(voice_line(piece), singer.tessitura, singer.voice)}
        assert piece.title == song.title
        assert fits[song.key] >= 0.9 * max(fits.values())


@pytest.mark.parametrize(("move", "went"), [("", "+P4"), ("-P5", "-P5"), ("-P4", "+P4")])
def test_a_songs_own_way_counts_only_where_it_leads_to_its_key(move: str, went: str) -> None:
    """Who changes the key in the file and forgets the way hears the key."""
    assert way_to(Key.parse("G"), "C", move).interval.short == went
