"""The Singer screen: keys that suit, set list, warm-up one step after another, playing from a part."""

from __future__ import annotations

import pathlib
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pygame
import pytest
from pypdf import PdfReader

from tools import practised, staging
from trainer import folders
from trainer.coaching.singers import setlist
from trainer.coaching.singers.voices import Span, voice
from trainer.listening.press import Press, Release
from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import read
from trainer.scores.shelf.library import Shelf, find, own_folder
from trainer.window.barwords import time_words
from trainer.window.desk.desk import Desk
from trainer.window.desk.sheetpage import SheetPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.paint import staff, theme
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.signs import F_CLEF, G_CLEF
from trainer.window.settings import Settings
from trainer.window.singer.singer import SingerScreen
from trainer.window.singer.singerwords import PAGES, PART, PLAYERS, SET_LIST, WARM_UP, lay_share, pitch_of
from trainer.window.stand.stand import Stand
from trainer.window.strings import say
from trainer.window.wish import Wish
from trainer.window.workroom import singing
from trainer.window.workroom.workroom import Workroom


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture(autouse=True)
def no_set_list(own_home: None) -> Iterator[None]:
    yield
    (folders.data() / setlist.FILE).unlink(missing_ok=True)


@pytest.fixture
def house() -> Iterator[House]:
    made = house_of((1280, 800), Settings(player=practised.PLAYER))
    made.open_journal()
    made.go("singer")
    choose(made, "Aura Lee")
    yield made
    made.close()


def screen(house: House) -> SingerScreen:
    assert isinstance(house.screen, SingerScreen)
    return house.screen


def choose(house: House, title: str) -> None:
    singer = screen(house)
    singer.pick_song(next(at for at, entry in enumerate(singer.shown) if entry.title == title))


def sing(house: House, name: str) -> None:
    singer = screen(house)
    singer.pick_singer(next(at for at, (one, _, _) in enumerate(singer.singers) if one == name))


def texts(house: House) -> dict[str, str]:
    house.draw()
    assert house.canvas is not None
    return {box.name: box.text for box in house.canvas.boxes}


def turned_to(house: House, page: str) -> dict[str, str]:
    screen(house).turn_to(PAGES.index(page))
    return texts(house)


def struck(house: House, *keys: int, letters: str = "") -> None:
    for key in [*keys, *map(ord, letters)]:
        letter = chr(key) if key < 127 and chr(key).isprintable() else ""
        house.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0, unicode=letter, scancode=0))
        if letter:
            house.handle(pygame.event.Event(pygame.TEXTINPUT, text=letter))
        house.draw()


def test_a_song_is_found_its_key_chosen_and_put_on_the_stand_without_the_mouse(house: House) -> None:
    singer = screen(house)
    texts(house)
    struck(house, pygame.K_SLASH, letters="aura")
    struck(house, pygame.K_RETURN)
    assert house.screen is singer
    assert house.console.focused("singer") == "songs"
    assert singer.suited is not None
    keys = [one.key for one in singer.suited.keys]
    struck(house, pygame.K_RIGHT, pygame.K_RIGHT, pygame.K_LEFT)
    assert singer.best is not None
    assert singer.best.key == keys[1]
    struck(house, pygame.K_LEFT, pygame.K_LEFT)
    assert singer.best.key == keys[0], "no further than the first"
    struck(house, pygame.K_RIGHT, pygame.K_RETURN)
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    assert (stand.practice.wish.piece.title, stand.practice.wish.plan.target) == ("Aura Lee", keys[1])
    house.go("singer")
    assert house.console.focused("singer") == "songs"


def test_what_finds_nothing_stays_to_be_typed_anew_and_esc_leads_back_to_the_songs(house: House) -> None:
    texts(house)
    struck(house, pygame.K_SLASH, letters="zzz")
    struck(house, pygame.K_RETURN)
    assert house.console.focused("singer") == "find"
    struck(house, pygame.K_ESCAPE)
    assert (house.console.focused("singer"), screen(house).find) == ("songs", "")


def put_on_stand(house: House, name: str, to: str) -> None:
    stand = staging.stand_of(house, name, to)
    assert stand.practice is not None
    stand.begin(replace(stand.practice.wish, name=str(find(name))))


def test_the_piece_of_the_desk_and_of_the_stand_is_the_song_here_until_another_is_chosen(house: House) -> None:
    house.go("desk")
    desk = house.screen
    assert isinstance(desk, Desk)
    desk.search("winter, ade")
    house.go("singer")
    chosen = screen(house).entry
    assert chosen is not None
    assert chosen.title == "Winter, ade"
    choose(house, "Aura Lee")
    house.go("desk")
    house.go("singer")
    chosen = screen(house).entry
    assert chosen is not None
    assert chosen.title == "Aura Lee", "what was chosen here stays"
    put_on_stand(house, "greensleeves", "f")
    house.go("singer")
    screen(house).search("aura")
    house.go("desk")
    desk.search("winter, ade")
    house.go("singer")
    chosen = screen(house).entry
    assert chosen is not None
    assert (chosen.title, screen(house).find) == ("Winter, ade", "")


def test_a_song_that_lies_on_the_stand_and_not_on_the_shelf_is_the_song_here_too(
    house: House, tmp_path: pathlib.Path
) -> None:
    file = tmp_path / "tonight.musicxml"
    song = read(find("la-partenza"))
    file.write_text(to_musicxml(replace(song, title="Tonight")), encoding="utf-8")
    shelf = len(screen(house).entries)
    house.go("desk")
    # As a file brought where the shelf takes none.
    stand = house.screen_of(Stand)
    stand.play(Wish(read(file), plan(song.key, "-2"), name=str(file)))
    house.go("singer")
    singer = screen(house)
    assert singer.entry is not None
    assert (singer.entry.title, len(singer.entries)) == ("Tonight", shelf + 1)
    assert singer.suited is not None
    assert singer.best is not None
    house.draw()
    struck(house, letters="p")
    assert texts(house)["sheet.title"] == "Tonight"
    # The way round by the Singer screen: it is still that song.
    struck(house, pygame.K_ESCAPE)
    house.draw()
    struck(house, letters="p")
    struck(house, pygame.K_RETURN)
    assert list(folders.sheets().glob(f"Tonight - {singer.best.key.name}*.pdf"))
    # What is printed at the Desk is what is chosen there.
    struck(house, letters="p")
    assert texts(house)["sheet.title"] != "Tonight"
    house.go("singer")
    choose(house, "Aura Lee")
    house.go("desk")
    house.go("singer")
    assert singer.entry is not None
    assert (singer.entry.title, len(singer.entries)) == ("Aura Lee", shelf + 1)


def test_a_piece_put_on_the_stand_with_no_desk_before_it_is_the_song_here(house: House) -> None:
    put_on_stand(house, "greensleeves", "f")
    house.go("singer")
    chosen = screen(house).entry
    assert chosen is not None
    assert chosen.title == "Greensleeves"


def test_while_the_shelf_is_read_nothing_is_said_not_to_match(house: House) -> None:
    screen(house).entries, screen(house).find = [], "aura"
    assert texts(house)["songs.none"] == say("desk.shelf.reading")


def test_the_best_key_is_first_and_enter_plays_it(house: House) -> None:
    singer = screen(house)
    sing(house, "mezzo-soprano")
    assert singer.suited is not None
    ranks = [one.rank for one in singer.suited.keys]
    assert ranks == sorted(ranks, reverse=True)
    said = texts(house)
    assert said["ranked.0.key"] == singer.suited.keys[0].key.name
    assert "as written" in [said[name] for name in said if name.endswith(".move")]
    singer.pick_key(1)
    singer.start()
    assert isinstance(house.screen, Stand)
    assert house.screen.practice is not None
    assert house.screen.practice.wish.plan.target == singer.suited.keys[1].key


def test_at_the_first_opening_the_keys_are_those_of_the_singer_named() -> None:
    ida = setlist.Singer("Ida Holm", Span.parse("B3-D5"))
    setlist.save(folders.data(), setlist.SetLists((ida,)))
    house = house_of((1280, 800), Settings(player=practised.PLAYER))
    house.open_journal()
    house.go("singer")
    singer = screen(house)
    assert singer.who[0] == "Ida Holm"
    assert singer.entry is not None
    assert singer.suited == singing.suited(singer.entry.path, ida.tessitura, None)
    house.close()


def test_the_song_is_printed_in_the_key_that_was_found_without_seeking_it_again(house: House) -> None:
    singer = screen(house)
    singer.pick_key(2)
    assert singer.best is not None
    key = singer.best.key
    house.draw()
    struck(house, letters="p")
    page = house.screen
    assert isinstance(page, SheetPage)
    said = texts(house)
    assert said["sheet.title"] == "Aura Lee"
    assert key.name in said["sheet.about"]
    # Back where it was asked for.
    struck(house, pygame.K_ESCAPE)
    assert house.screen is singer
    struck(house, letters="p")
    struck(house, pygame.K_RETURN)
    assert list(folders.sheets().glob(f"Aura Lee - {key.name}*.pdf"))
    desk = house.screen
    assert isinstance(desk, Desk)
    assert desk.entry is not None
    assert (desk.entry.title, desk.transposition(desk.entry)) == ("Aura Lee", singer.best.transposition)
    # From the Desk itself it goes back there.
    struck(house, letters="p")
    struck(house, pygame.K_ESCAPE)
    assert house.screen is desk


def test_both_spans_stand_on_one_staff_and_the_caution_below(house: House) -> None:
    sing(house, "soprano")
    said = texts(house)
    assert said["figure.0.above"] == "singer"
    assert said["figure.0.below"] == "F4–G5"
    assert "voice teacher" in said["quiet"]


def test_the_line_as_written_bears_its_key_above_like_every_other(house: House) -> None:
    sing(house, "bass")
    choose(house, "Greensleeves")
    singer = screen(house)
    assert singer.suited is not None
    assert all(one.transposition.interval.semitones for one in singer.suited.keys)
    said = texts(house)
    assert (said["figure.1.above"], said["figure.1.below"]) == ("a", "written")


def test_large_text_breaks_the_caution_into_lines_and_keeps_it_large() -> None:
    house = house_of((1280, 800), Settings(scale=200))
    house.go("singer")
    house.draw()
    assert house.canvas is not None
    (quiet,) = [box for box in house.canvas.boxes if box.name == "quiet"]
    assert isinstance(quiet.state, tuple)
    lines, _, pixels, _ = quiet.state
    assert len(lines) == 2
    assert pixels >= 0.6 * house.canvas.unit
    house.close()


def test_lowest_and_highest_are_taken_from_the_piano(house: House) -> None:
    singer = screen(house)
    singer.listen()
    assert "lowest" in texts(house)["quiet"]
    for at, pitch in enumerate((74, 74, 59)):
        house.hear(Press(float(at), pitch, 64), 0.0)
        house.hear(Release(at + 0.5, pitch), 0.0)
    assert not singer.listening
    assert singer.who[1] == Span.parse("B3-D5")
    assert singer.suited is not None
    singer.pick_singer(0)
    assert singer.own is None, "another singer has their own"


def test_ends_move_by_semitones_and_never_cross(house: House) -> None:
    singer = screen(house)
    sing(house, "bass")
    singer.set_end(True, 1)
    assert singer.who[1].low.midi == 46
    for _ in range(40):
        singer.set_end(True, 1)
    assert singer.who[1].low.midi == singer.who[1].high.midi - 1


def test_pitches_are_spelled_as_singers_write_them() -> None:
    assert [pitch_of(midi).name for midi in (58, 61, 66, 70)] == ["Bb3", "C#4", "F#4", "Bb4"]
    assert all(pitch_of(midi).midi == midi for midi in range(36, 89))


def test_a_bass_reads_the_bass_clef_and_a_soprano_the_treble() -> None:
    def bar(span: str) -> staff.Bar:
        found = Span.parse(span)
        return staff.Bar(found.low, found.high, "", "")

    assert staff.clef_for([bar("A2-C4"), bar("C3-E4")]) == F_CLEF
    assert staff.clef_for([bar("F4-G5"), bar("C4-A4")]) == G_CLEF


def test_a_song_goes_on_the_set_list_and_off_again(house: House) -> None:
    singer = screen(house)
    singer.turn_to(PAGES.index(SET_LIST))
    assert "set list" in texts(house)["list.empty"]
    assert singer.best is not None
    key = singer.best.key
    singer.set_list.put_down()
    kept = setlist.load(singer.set_list.folder).next(date.today())
    assert kept is not None
    assert [(song.title, Key.parse(song.key)) for song in kept.songs] == [("Aura Lee", key)]
    said = texts(house)
    assert said["listed.0"] == "Aura Lee"
    assert said["listed.0.ready"] == "to be begun"
    singer.set_list.put_down()
    assert singer.set_list.occasion is not None
    assert len(singer.set_list.occasion.songs) == 1, "the same song stands there once"
    singer.set_list.start()
    assert isinstance(house.screen, Stand)
    house.go("singer")
    singer.set_list.strike()
    assert singer.set_list.occasion is not None
    assert not singer.set_list.occasion.songs


def test_the_songs_of_the_set_list_are_printed_each_in_its_key_in_their_order(house: House) -> None:
    singer = screen(house)
    day = date.today() + timedelta(days=9)
    songs = (setlist.Song("three-bells", "Three Bells", "D", "Mrs Halloran"), setlist.Song("gone", "Gone", "C"),
             setlist.Song("aura-lee", "Aura Lee", "Eb"))  # fmt: skip
    setlist.save(singer.set_list.folder, setlist.SetLists((), (setlist.Occasion("Vespers", day, songs),)))
    singer.read()
    turned_to(house, SET_LIST)
    struck(house, letters="p")
    assert house.notice is not None
    assert "Vespers" in house.notice.words
    assert "There is no piece 'gone'" in house.notice.words
    (path,) = folders.sheets().glob("Vespers*.pdf")
    first, second = (" ".join(page.extract_text().split()) for page in PdfReader(path).pages)
    assert "Three Bells" in first
    assert "in D major, for Mrs Halloran" in first
    assert "Aura Lee" in second
    assert "in E♭ major" in second
    # Where none of them is there nothing is printed, and that is said.
    path.unlink()
    setlist.save(singer.set_list.folder, setlist.SetLists((), (setlist.Occasion("Vespers", day, songs[1:2]),)))
    singer.read()
    turned_to(house, SET_LIST)
    struck(house, letters="p")
    assert "There is no piece 'gone'" in house.notice.words
    assert not list(folders.sheets().glob("Vespers*.pdf"))


def test_a_song_from_the_set_list_lies_in_the_octave_that_was_chosen(house: House) -> None:
    singer = screen(house)
    singer.own = Span.parse("A3-A4")
    singer.consider()
    assert singer.suited is not None
    far = next(at for at, one in enumerate(singer.suited.keys) if abs(one.transposition.interval.semitones) > 6)
    singer.pick_key(far)
    assert singer.best is not None
    chosen = singer.best.transposition.interval
    singer.set_list.put_down()
    singer.set_list.start()
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    assert stand.practice.wish.plan.interval == chosen


def test_two_singers_may_sing_one_song_and_another_of_its_title_stays(house: House) -> None:
    singer = screen(house)
    entry = singer.entry
    assert entry is not None
    setlist.save(folders.data(), setlist.demo(date.today()))
    singer.read()
    before = singer.set_list.occasion
    assert before is not None
    other = replace(before.songs[0], piece="another-air", title=entry.title, singer="")
    both = replace(before, songs=(*before.songs, other))
    setlist.save(folders.data(), replace(singer.set_list.lists, occasions=(both,)))
    singer.read()
    sing(house, "mezzo-soprano")
    singer.set_list.put_down()
    assert singer.set_list.occasion is not None
    songs = singer.set_list.occasion.songs
    assert songs[:-1] == (*before.songs, other)
    assert (songs[-1].title, songs[-1].singer) == (entry.title, "")


@pytest.mark.parametrize(
    ("minutes", "said"), [(60, "Aura Lee, 30 min"), (15, "Aura Lee, 5 min"), (5, "Aura Lee, 5 min")]
)
def test_until_the_occasion_no_more_is_asked_than_the_minutes_of_a_day(house: House, minutes: int, said: str) -> None:
    house.change(minutes=minutes)
    singer = screen(house)
    singer.set_list.put_down()
    assert turned_to(house, SET_LIST)["days.0"] == said


@pytest.mark.parametrize(("name", "called"), [("mezzo-soprano", "the mezzo-soprano"), ("Ida Holm", "Ida Holm")])
def test_a_voice_is_named_with_its_article_and_a_singer_without(house: House, name: str, called: str) -> None:
    setlist.save(folders.data(), setlist.demo(date.today()))
    house.go("singer")
    sing(house, name)
    assert f"Where {called} sings in" in turned_to(house, PART)["part.3"]


def test_a_song_that_cannot_be_found_is_said_in_a_sentence(house: House) -> None:
    singer = screen(house)
    gone = setlist.Song("no-such-song", "No such song", "G")
    setlist.save(singer.set_list.folder, setlist.SetLists((), (setlist.Occasion("Evening", date.today(), (gone,)),)))
    singer.read()
    singer.set_list.start()
    assert house.screen is singer
    assert house.notice is not None
    assert house.notice.words.endswith((".", "?"))


def test_a_song_whose_file_is_no_longer_on_the_shelf_says_so_in_the_list(house: House, tmp_path: pathlib.Path) -> None:
    mine = tmp_path / "mine.musicxml"
    mine.write_bytes(pathlib.Path(screen(house).entries[0].path).read_bytes())
    songs = setlist.Song(str(mine), "Mine", "G"), setlist.Song("aura-lee", "Aura Lee", "Eb")
    evening = setlist.Occasion("Evening", date.today() + timedelta(days=9), songs)
    setlist.save(screen(house).set_list.folder, setlist.SetLists((), (evening,)))
    house.go("desk")
    house.go("singer")
    said = turned_to(house, SET_LIST)
    assert "listed.0.gone" not in said
    assert "Mine" in said["days.0"]
    mine.unlink()
    house.go("desk")
    house.go("singer")
    said = turned_to(house, SET_LIST)
    assert said["listed.0.gone"] == "no longer on the shelf"
    assert "listed.1.gone" not in said
    assert said["listed.1.ready"] == "to be begun"
    assert "Mine" not in said["days.0"], "nobody practises what is not there"


def test_a_set_list_that_is_no_toml_does_not_stop_the_screen(house: House) -> None:
    (screen(house).set_list.folder / setlist.FILE).write_text("[[occasion", encoding="utf-8")
    screen(house).read()
    assert house.notice is not None
    assert "setlist.toml" in house.notice.words
    assert texts(house)["keys.title"] == "Aura Lee"


def test_the_warm_up_goes_on_step_by_step(house: House) -> None:
    singer = screen(house)
    singer.set_list.invent()
    singer.turn_to(PAGES.index(WARM_UP))
    assert singer.warm_up.steps
    assert singer.warm_up.steps[0].kind == "pentascale"
    assert texts(house)["steps.0"] == singer.warm_up.steps[0].words
    singer.warm_up.pick(1)
    singer.warm_up.start()
    stand = house.screen
    assert isinstance(stand, Stand)
    for step in singer.warm_up.steps[1:4]:
        assert stand.practice is not None
        assert stand.practice.wish.piece is step.piece
        assert house.notice is not None
        assert house.notice.words == f"{step.words} · {time_words(step.minutes)}"
        stand.next()
    assert house.notice is not None
    house.go("keys")
    assert house.notice is None, "the line of a step is said on the Stand only"
    house.rounds.play_pattern("cadence", Key.parse("C"), "both")
    assert house.rounds.row == [], "another piece ends the warm-up"


def test_with_german_letters_the_warm_up_names_its_keys_in_them(house: House) -> None:
    house.change(letters="german")
    sing(house, "mezzo-soprano")
    said = turned_to(house, WARM_UP)
    steps = " ".join(said[name] for name in said if name.startswith("steps."))
    assert "-Dur" in steps
    assert "major" not in steps


def test_a_step_says_when_its_minutes_are_over(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    singer = screen(house)
    singer.turn_to(PAGES.index(WARM_UP))
    now = [100.0]
    monkeypatch.setattr("trainer.window.rounds.rounds.time.monotonic", lambda: now[0])
    singer.warm_up.pick(len(singer.warm_up.steps) - 2)
    singer.warm_up.start()
    last_but_one, last = singer.warm_up.steps[-2:]
    now[0] += last_but_one.minutes * 60 - 1
    assert "marked copy" in house.rounds.ended_line()[0]
    now[0] += 1
    assert house.rounds.ended_line()[0] == "This step has had its minutes; next leads on."
    assert "marked copy" in house.rounds.ended_line()[0], "said once"
    house.rounds.next_of_row()
    now[0] += last.minutes * 60
    assert "warm-up has had its minutes" in house.rounds.ended_line()[0]


def test_the_highest_key_leads_to_the_next_step(house: House) -> None:
    singer = screen(house)
    singer.turn_to(PAGES.index(WARM_UP))
    singer.warm_up.start()
    stand = house.screen
    assert isinstance(stand, Stand)
    house.hear(Press(10.0, house.outer_keys[1], 64), 0.0)
    assert stand.practice is not None
    assert stand.practice.wish.piece is singer.warm_up.steps[1].piece


def test_a_part_for_clarinet_is_played_a_tone_lower(house: House) -> None:
    """Clarinet in B flat sounds a major second lower (any handbook of orchestration)."""
    singer = screen(house)
    assert singer.from_part is not None
    assert singer.from_part.target == Key.parse("F"), "Aura Lee stands in G"
    assert "D4–C5 (written) sounds C4–B♭4 (concert)" in turned_to(house, PART)["part.2"]
    singer.start_part()
    assert isinstance(house.screen, Stand)
    assert house.screen.practice is not None
    assert house.screen.practice.wish.plan.interval.words == "down a major second"


def test_keys_are_weighed_in_the_other_process() -> None:
    """What goes there and comes back can be sent between processes."""
    found: list[singing.Suited] = []
    trouble: list[Exception] = []
    room = Workroom(lambda: None)
    room.ask(singing.suited, str(find("aura-lee")), Span.parse("D4-D5"), voice("mezzo"), then=found.append,
             failed=trouble.append)  # fmt: skip
    end = time.monotonic() + 60
    while not found and not trouble and time.monotonic() < end:
        time.sleep(0.02)
        room.collect()
    room.close()
    assert not trouble
    assert found[0].line.low == SpelledPitch.parse("D4")
    assert found[0].keys


def test_while_one_question_is_out_only_the_last_one_is_kept(house: House) -> None:
    asked: list[tuple[object, ...]] = []
    answers = []

    class Slow:
        def ask(self, job, *given, then, failed):  # type: ignore[no-untyped-def]
            asked.append(given)
            answers.append(lambda: then(job(*given)))

    singer = screen(house)
    house.workroom = Slow()  # type: ignore[assignment]
    for title in ("Greensleeves", "Winter, ade", "Fog Bell"):
        choose(house, title)
    assert len(asked) == 1
    answers[0]()
    assert singer.suited is None, "it was asked for a song chosen before"
    assert len(asked) == 2
    answers[1]()
    assert singer.suited is not None
    assert singer.suited.piece.title == "Fog Bell"
    house.workroom = Workroom(house.wake, here=True)


@pytest.mark.parametrize("changed", [False, True])
@pytest.mark.parametrize("key", [pygame.K_RETURN, pygame.K_a])
def test_what_is_ordered_while_the_keys_are_weighed_is_done_when_they_are(
    house: House, key: int, changed: bool
) -> None:
    answers = []

    class Slow:
        def ask(self, job, *given, then, failed):  # type: ignore[no-untyped-def]
            answers.append(lambda: then(job(*given)))

    singer = screen(house)
    house.focus("songs")
    house.workroom = Slow()  # type: ignore[assignment]
    choose(house, "Greensleeves")
    house.draw()
    struck(house, key)
    assert (house.screen, singer.set_list.occasion) == (singer, None)
    if changed:
        choose(house, "Winter, ade")
    while answers:
        answers.pop(0)()
        house.workroom = Workroom(house.wake, here=True)
    put = singer.set_list.occasion
    done = house.screen is not singer if key == pygame.K_RETURN else put is not None
    assert done is not changed


def test_a_piece_put_on_the_shelf_later_is_among_the_songs_and_the_chosen_one_stays(house: House) -> None:
    singer = screen(house)
    assert singer.entry is not None
    chosen = singer.entry.title
    own = own_folder() / "a-new-song.musicxml"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text(find("aura-lee").read_text(encoding="utf-8").replace("Aura Lee", "A new song"), encoding="utf-8")
    try:
        Shelf().refresh()
        house.go("desk")
        house.go("singer")
        assert "A new song" in [entry.title for entry in singer.shown]
        assert singer.entry.title == chosen
    finally:
        own.unlink()


def test_a_song_is_found_without_accents_and_escape_clears_what_was_typed(house: House) -> None:
    singer = screen(house)
    singer.search("frere")
    assert [entry.title for entry in singer.shown] == ["Frère Jacques (Canon)"]
    singer.search("zzz")
    said = texts(house)
    assert said["songs.none"] == "No piece matches “zzz”: esc clears it."
    assert "any" not in said["keys.waiting"]
    press(house, pygame.K_ESCAPE)
    assert house.screen is singer
    assert singer.find == ""
    assert singer.suited is not None


def press(house: House, key: int, name: str = "") -> None:
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0, unicode=name, scancode=0))
    house.draw()


def test_a_tessitura_set_by_hand_is_no_longer_called_by_the_voice_type(house: House) -> None:
    singer = screen(house)
    sing(house, "soprano")
    assert texts(house)["who.value"] == "soprano"
    singer.set_end(False, 2)
    assert texts(house)["who.value"] == "set by hand"
    singer.set_end(False, -2)
    assert texts(house)["who.value"] == "soprano", "set back to what it was"
    assert singer.own is None
    singer.set_list.keep_singer(setlist.Singer("Mo Lind", Span.parse("A3-C5"), None))
    singer.pick_singer(0)
    assert texts(house)["who.value"] == "Mo Lind"
    singer.set_end(True, 1)
    assert texts(house)["who.value"] == "Mo Lind, set by hand"


def write(house: House, text: str) -> None:
    for letter in text:
        press(house, ord(letter.lower()), letter)
        house.handle(pygame.event.Event(pygame.TEXTINPUT, text=letter))
        house.draw()


def test_a_singer_is_named_and_kept_with_the_tessitura_set_here(house: House) -> None:
    singer = screen(house)
    singer.listen()
    for at, pitch in enumerate((57, 72)):
        house.hear(Press(float(at), pitch, 64), 0.0)
    house.draw()
    press(house, ord("k"))
    house.handle(pygame.event.Event(pygame.TEXTINPUT, text="k"))
    assert texts(house)["quiet"] == say("singer.naming")
    press(house, pygame.K_RETURN)
    assert house.notice is not None
    assert house.notice.words == say("singer.name.needed")
    house.notice = None
    write(house, "Mo Lind")
    press(house, pygame.K_RETURN)
    assert house.screen is singer, "enter keeps the name and starts nothing"
    assert singer.who == ("Mo Lind", Span.parse("A3-C5"), None)
    assert setlist.load(singer.set_list.folder).singer("Mo Lind") is not None
    singer.set_end(True, 2)
    singer.name_singer()
    house.draw()
    press(house, pygame.K_RETURN)
    assert [one.name for one in singer.set_list.lists.singers] == ["Mo Lind"], "a known singer is kept anew"
    assert singer.who[1] == Span.parse("B3-C5")


def test_naming_is_left_by_escape(house: House) -> None:
    singer = screen(house)
    singer.set_end(True, 1)
    singer.name_singer()
    house.draw()
    write(house, "Mo")
    press(house, pygame.K_ESCAPE)
    assert house.screen is singer
    assert not singer.set_list.lists.singers
    assert "who.value" in texts(house)


def test_an_occasion_gets_its_name_its_day_and_its_order(house: House) -> None:
    singer = screen(house)
    page = singer.set_list
    page.invent()
    singer.turn_to(PAGES.index(SET_LIST))
    house.draw()
    assert page.occasion is not None
    day, titles = page.occasion.date, [song.title for song in page.occasion.songs]
    press(house, ord("o"))
    house.handle(pygame.event.Event(pygame.TEXTINPUT, text="o"))
    write(house, "!")
    press(house, pygame.K_RETURN)
    assert house.screen is singer
    page.put_off(-7)
    singer.turn_to(PAGES.index(SET_LIST))
    house.draw()
    press(house, pygame.K_RIGHT)
    kept = setlist.load(page.folder).next(date.today())
    assert kept is not None
    assert kept.name == "Evening of songs, Mill Lane hall!"
    assert kept.date == day - timedelta(days=7)
    assert [song.title for song in kept.songs] == [titles[1], titles[0], titles[2]]
    assert page.song == kept.songs[1], "the moved song stays chosen"
    page.put_off(-1000)
    assert page.occasion is not None
    assert page.occasion.date == date.today(), "never past"


def test_a_voice_whose_tessitura_was_set_is_the_singer(house: House) -> None:
    sing(house, "mezzo-soprano")
    screen(house).set_end(True, -2)
    assert turned_to(house, PART)["part.3"].startswith("Where the singer sings in")


def test_a_file_that_says_how_its_part_sounds_is_not_moved_once_more(house: House) -> None:
    own = own_folder() / "a-call.abc"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text("X:1\nT:A call\nM:4/4\nL:1/4\nK:C transpose=-7\nG c e g|c4|\n", encoding="utf-8")
    try:
        Shelf().refresh()
        house.go("desk")
        house.go("singer")
        choose(house, "A call")
        singer = screen(house)
        singer.pick_instrument(next(at for at, one in enumerate(PLAYERS) if one.name == "horn in F"))
        said = turned_to(house, PART)
        assert "the horn in F reads C major, the page here stands in F major (concert)" in said["part.1"]
        assert singer.from_part is not None
        assert singer.from_part.interval.semitones == 0
    finally:
        own.unlink()


def test_songs_of_one_title_are_told_apart_by_composer_or_file(house: House) -> None:
    tune = "X:1\nT:Evening hymn\n{by}M:4/4\nL:1/4\nK:C\nC D E F|G4|\n"
    names = {"one.abc": "C:A. Rowe\n", "two.abc": "C:B. Hale\n", "three.abc": "C:B. Hale\n", "four.abc": ""}
    folder = own_folder()
    folder.mkdir(parents=True, exist_ok=True)
    for name, by in names.items():
        (folder / name).write_text(tune.format(by=by), encoding="utf-8")
    try:
        Shelf().refresh()
        house.go("desk")
        house.go("singer")
        singer = screen(house)
        singer.search("evening hymn")
        said = texts(house)
        assert {said[f"songs.{at}.by"] for at in range(4)} == {"A. Rowe", "two.abc", "three.abc", "four.abc"}
        singer.search("aura lee")
        assert "songs.0.by" not in texts(house)
    finally:
        for name in names:
            (folder / name).unlink()


DUET = (
    "X:1\nT:By the gate\nM:3/4\nL:1/4\n%%score V W {R L}\nV:V name=Soprano\nV:W name=Baritone clef=bass\nV:R\n"
    "V:L clef=bass\nK:F\n[V:V]c2A|f3|]\nw: Stay a-while\n[V:W]C,2D,|D3|]\nw: May-be I\n[V:R]F2A|c3|]\n[V:L]F,3|F,3|]\n"
)


def test_of_a_duet_the_key_is_found_for_either_singer(house: House) -> None:
    own = own_folder() / "by-the-gate.abc"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text(DUET, encoding="utf-8")
    singer = screen(house)
    try:
        Shelf().refresh()
        house.go("desk")
        house.go("singer")
        assert "line.label" not in texts(house), "one singer"
        choose(house, "By the gate")
        sing(house, "baritone")
        said = texts(house)
        assert "A4–F5" in said["keys.about"]
        assert said["line.label"] == "The second singer"
        press(house, pygame.K_v, "v")
        said = texts(house)
        assert "second singer’s line C3–D4" in said["keys.about"]
        assert said["line.label"] == "The first singer"
        assert singer.best is not None
        assert singer.best.octaves == 0, "his line stands at pitch"
        choose(house, "Aura Lee")
        said = texts(house)
        assert said["keys.about"] == "written in G major, line D4–C5"
    finally:
        own.unlink()


CHOIR = (
    "X:1\nT:At the well\nM:4/4\nL:1/4\n%%score [S A T B] {R L}\nV:S\nV:A\nV:T clef=treble-8\nV:B clef=bass\nV:R\n"
    "V:L clef=bass\nK:F\n[V:S]c2A2|f4|]\nw: Draw the well\n[V:A]F2F2|F4|]\n[V:T]c2c2|d4|]\n[V:B]F,2F,2|B,,4|]\n"
    "[V:R][FAc]4|[FBd]4|]\n[V:L]F,4|B,,4|]\n"
)


def test_of_a_choir_the_key_is_found_for_all_and_each_line_is_looked_at(house: House) -> None:
    own = own_folder() / "at-the-well.abc"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text(CHOIR, encoding="utf-8")
    singer = screen(house)
    try:
        Shelf().refresh()
        house.go("desk")
        house.go("singer")
        choose(house, "At the well")
        sing(house, "choir")
        said = texts(house)
        assert said["keys.about"] == "written in F major, soprano A4–F5"
        assert said["keys.why"] == "All parts lie where they are comfortable."
        assert "low.value" not in said, "there is no one tessitura to set"
        assert singer.suited is not None
        keys = [one.key for one in singer.suited.keys]
        singer.pick_key(keys.index(Key.parse("C")))
        assert texts(house)["keys.why"] == "At the edge: bass a semitone low."
        for line, other in (("alto F4–F4", "tenor"), ("tenor C4–D4", "bass"), ("bass B♭2–F3", "soprano")):
            press(house, pygame.K_v, "v")
            said = texts(house)
            assert said["keys.about"] == f"written in F major, {line}"
            assert said["line.label"] == f"Line of the {other}"
            assert singer.best is not None
            assert singer.best.key == Key.parse("C"), "the key stays chosen"
            assert [one.key for one in singer.suited.keys] == keys
        singer.set_list.put_down()
        assert setlist.load(folders.data()).singers == (), "a choir is nobody's name"
        choose(house, "Aura Lee")
        assert "does not tell the parts of a choir apart" in texts(house)["keys.waiting"]
        sing(house, "soprano")
        assert "keys.waiting" not in texts(house)
    finally:
        own.unlink()


def test_a_share_is_rounded_as_the_command_rounds_it() -> None:
    """0.925 is 0.93 in `keyfarer suit`."""
    canvas = Canvas((1280, 800), theme.DAY)
    lay_share(canvas, "share", pygame.Rect(100, 100, 200, 30), 0.925)
    assert {box.name: box.text for box in canvas.boxes}["share.figure"] == f"{0.925:.2f}".removeprefix("0.")


def test_what_is_sung_is_told_beside_its_title(house: House) -> None:
    singer = screen(house)
    singer.search("choir")
    said = texts(house)
    rows = {said[f"songs.{at}"]: said.get(f"songs.{at}.by") for at in range(len(singer.shown))}
    assert rows["Day Comes up the Hill"] == "choir"
    singer.search("five lamps")
    assert "songs.0.by" not in texts(house)
