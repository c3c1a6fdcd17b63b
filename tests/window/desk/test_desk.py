"""The Desk's search line, and what is advised after next to nothing was played."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from types import SimpleNamespace

import pygame
import pytest

from tests.journal.played import play
from tests.window.rounds.test_coached import stand_of
from tools import staging
from trainer.coaching.path.cells import cells, learn
from trainer.coaching.singers import setlist
from trainer.coaching.today.schedule import SET_WORK, Suggestion
from trainer.coaching.work import assignments
from trainer.following.marks import Settled
from trainer.following.timing import Timing
from trainer.hands.keyboard import Compass
from trainer.journal.store import Journal
from trainer.journal.unlearned import noted
from trainer.journal.values import FINISHED, KeptTake
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import BOTH, RIGHT
from trainer.music.transpose import plan, transposed
from trainer.scores.composing.patterns import pattern
from trainer.scores.reading import read
from trainer.scores.shelf.library import Entry, Shelf, find
from trainer.session import Summary
from trainer.window.copy.advice import advise
from trainer.window.copy.copy import Copy
from trainer.window.desk import deskview, deskwork
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.singer.singer import SingerScreen
from trainer.window.stand.stand import Stand
from trainer.window.strings import say
from trainer.window.wish import Wish
from trainer.window.workroom import pieces


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        made.show(made.screen_of(Desk))
        made.draw()
        yield made
        made.close()


def struck(house: House, key: int, letter: str = "") -> None:
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0, unicode=letter, scancode=0))
    if letter:
        house.handle(pygame.event.Event(pygame.TEXTINPUT, text=letter))
    house.draw()


def test_after_enter_letters_are_the_screens_keys_again(house: House) -> None:
    desk = house.screen_of(Desk)
    struck(house, pygame.K_SLASH, "/")
    for letter in "lightly":
        struck(house, ord(letter), letter)
    assert desk.find == "lightly"
    struck(house, pygame.K_RETURN)
    house.go("desk")
    house.draw()
    struck(house, pygame.K_k, "k")
    assert desk.find == "lightly"


def test_enter_after_typing_leads_to_what_was_found_and_its_key_is_chosen_before_it_is_played(house: House) -> None:
    desk = house.screen_of(Desk)
    struck(house, pygame.K_SLASH, "/")
    for letter in "lightly":
        struck(house, ord(letter), letter)
    struck(house, pygame.K_RETURN)
    assert (house.screen, house.console.focused("desk")) == (desk, "shelf")
    struck(house, pygame.K_RIGHT)
    struck(house, pygame.K_RETURN)
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    assert stand.practice.wish.plan.interval.semitones == 1


def test_a_row_clicked_twice_is_the_same_row(house: House) -> None:
    house.go("desk")
    house.draw()
    desk = house.screen
    assert isinstance(desk, Desk)
    assert house.console.controls is not None
    shelf = house.console.controls.named("shelf")
    assert shelf is not None
    point = (shelf.rect.centerx, round(shelf.rect.top + 0.9 * shelf.rect.height))
    chosen = []
    for _ in range(2):
        house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=point))
        chosen.append(desk.chosen)
        house.draw()
    assert chosen[0] == chosen[1] > 4
    assert isinstance(house.screen, Stand)


def test_what_is_typed_finds_without_accents_and_replaces_what_stood_there(house: House) -> None:
    desk = house.screen_of(Desk)
    everything = len(desk.shown)
    for word, title in (("frere", "Frère Jacques (Canon)"), ("lightly", "Lightly Row (Hänschen klein)")):
        struck(house, pygame.K_SLASH, "/")
        for letter in word:
            struck(house, ord(letter), letter)
        assert desk.find == word
        assert [entry.title for entry in desk.shown] == [title]
        struck(house, pygame.K_RETURN)
        house.go("desk")
        house.draw()
    struck(house, pygame.K_SLASH, "/")
    assert house.canvas is not None
    assert any(box.name == "find.selected" for box in house.canvas.boxes)
    struck(house, pygame.K_BACKSPACE)
    assert desk.find == ""
    for letter in "row":
        struck(house, ord(letter), letter)
    assert desk.find == "row", "only the first letter replaces"
    struck(house, pygame.K_ESCAPE)
    assert (desk.find, len(desk.shown)) == ("", everything)


def test_while_typing_the_arrows_choose_among_what_is_found(house: House) -> None:
    desk = house.screen_of(Desk)
    struck(house, pygame.K_SLASH, "/")
    for letter in "clair":
        struck(house, ord(letter), letter)
    found = [entry.title for entry in desk.shown]
    assert found == ["Au clair de la lune (first strain)", "Au clair de la lune"]
    struck(house, pygame.K_DOWN)
    struck(house, pygame.K_DOWN)
    assert desk.entry is not None
    assert (desk.entry.title, desk.find) == (found[1], "clair")
    struck(house, pygame.K_UP)
    assert desk.entry.title == found[0]


@pytest.mark.parametrize(
    ("find", "by", "about"),
    [
        ("schwesterlein", "Traditional · duet", "written in A minor · duet · both hands"),
        ("day comes up", "Keyfarer · choir", "written in D major · choir · both hands"),
        ("five lamps", "Keyfarer", "written in F minor · both hands"),
    ],
)
def test_what_is_sung_is_told_in_the_list_and_of_the_chosen_piece(house: House, find: str, by: str, about: str) -> None:
    desk = house.screen_of(Desk)
    desk.search(find)
    house.draw()
    assert house.canvas is not None
    texts = {box.name: box.text for box in house.canvas.boxes}
    assert texts["shelf.0.by"] == by
    assert any(text.startswith(about) for name, text in texts.items() if name.startswith("card."))


def test_no_piece_answers_to_the_ending_of_its_file(house: House) -> None:
    desk = house.screen_of(Desk)
    desk.search("five l")
    assert [entry.title for entry in desk.shown] == ["Five Lamps"]
    desk.search("musicxml")
    assert desk.shown == []


def test_where_nothing_matches_it_says_so_and_escape_clears_it(house: House) -> None:
    desk = house.screen_of(Desk)
    desk.search("zzz")
    house.draw()
    assert "No piece matches “zzz”: esc clears it." in said(house)
    desk.filter("mode", 2)
    house.draw()
    assert "No piece matches “zzz” and these filters" in said(house)
    struck(house, pygame.K_ESCAPE)
    assert desk.find == ""
    assert desk.shown


def cut_off(house: House, notes: int | None = 8) -> int:
    """A take begun on the Stand and never ended, as after a crash, when so many notes were played; its number."""
    piece = read(find("lightly-row"))
    desk = house.screen_of(Desk)
    wish = Wish(piece, plan(piece.key, "D"))
    desk.play(wish)
    for at, note in enumerate(wish.expected.notes[:notes]):
        house.hear(Press(now() + at, note.midi, 60), now())
    assert house.journal is not None
    house.journal.close()
    house.open_journal()
    house.screen = None
    house.show(desk)
    house.draw()
    assert house.journal is not None
    (row,) = house.journal.unfinished()
    return row.id


def said(house: House) -> str:
    assert house.canvas is not None
    return " ".join(box.text for box in house.canvas.boxes)


def test_a_take_cut_off_is_offered_marked_and_shown(house: House) -> None:
    number = cut_off(house)
    assert "in D major, begun today at" in said(house)
    struck(house, pygame.K_f, "f")
    assert house.journal is not None
    row = house.journal.row(number)
    assert row.state == "finished"
    assert row.right == 8
    assert house.journal.unfinished() == []
    assert house.screen is not None
    assert house.screen.name == "copy"
    house.go("desk")
    house.draw()
    assert "was cut off" not in said(house)


def test_what_a_take_cut_off_moves_on_the_path_is_said(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    cut_off(house)
    monkeypatch.setattr(house.rounds, "learn_from", lambda row: f"{row.title} has moved.")
    struck(house, pygame.K_f, "f")
    assert house.notice is not None
    assert house.notice.words == "Lightly Row (Hänschen klein) has moved."


def test_a_take_cut_off_gets_its_own_marks_though_another_player_sat_down_meanwhile(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = cut_off(house)
    marked = pieces.marked_again

    def marked_slowly(kept: KeptTake, compass: Compass) -> tuple[Settled, Summary, Timing | None]:
        house.change(player="Ben")
        house.go("desk")
        return marked(kept, compass)

    monkeypatch.setattr(pieces, "marked_again", marked_slowly)
    struck(house, pygame.K_f, "f")
    assert house.journal is not None
    assert house.journal.row(number).right == 8
    assert house.screen is not None
    assert house.screen.name == "desk", "Ben has not asked for it"


def test_a_take_cut_off_and_marked_is_learned_from_though_the_program_ended_before(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = cut_off(house, None)
    monkeypatch.setattr(house.rounds, "learn_from", lambda row: "")
    struck(house, pygame.K_f, "f")
    assert house.journal is not None
    assert house.journal.row(number).state == FINISHED
    assert noted(house.journal) == [number]
    house.journal.close()
    house.open_journal()
    house.rounds.catch_up()
    assert house.journal is not None
    assert noted(house.journal) == []
    assert cells(house.journal, house.player)


def test_who_plays_while_a_take_cut_off_is_being_marked_stays_on_the_stand(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = cut_off(house)
    marked = pieces.marked_again

    def marked_slowly(kept: KeptTake, compass: Compass) -> tuple[Settled, Summary, Timing | None]:
        staging.stand_of(house, "ode-to-joy", "D")
        house.hear(Press(now(), 66, 64), now())
        return marked(kept, compass)

    monkeypatch.setattr(pieces, "marked_again", marked_slowly)
    struck(house, pygame.K_f, "f")
    assert house.screen is not None
    assert house.screen.name == "stand"
    assert house.notice is not None
    assert house.notice.words.startswith(say("cut.marked"))
    assert house.rounds.last is None, "what was just played is what enter shows"
    assert house.journal is not None
    assert house.journal.row(number).right == 8


def test_a_take_that_another_window_marked_meanwhile_is_learned_from_once(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = cut_off(house, notes=-1)
    marked = pieces.marked_again

    def marked_twice(kept: KeptTake, compass: Compass) -> tuple[Settled, Summary, Timing | None]:
        found = marked(kept, compass)
        assert house.journal is not None
        with Journal(house.journal.path) as other:
            other.settle(number, *found)
            assert learn(other, number) is not None
        return found

    monkeypatch.setattr(pieces, "marked_again", marked_twice)
    struck(house, pygame.K_f, "f")
    assert house.journal is not None
    assert [len(cell.recent) for cell in cells(house.journal, house.player).values()] == [1]
    assert house.screen is not None
    assert house.screen.name == "copy"


def test_a_take_cut_off_can_stay_unmarked_and_is_not_offered_again(house: House) -> None:
    number = cut_off(house)
    struck(house, pygame.K_u, "u")
    assert house.journal is not None
    assert house.journal.row(number).state == "kept"
    assert "was cut off" not in said(house)
    assert say("desk.take.cut") in said(house)


def test_the_take_of_another_player_is_not_offered(house: House) -> None:
    cut_off(house)
    house.change(player="Ada")
    house.go("desk")
    house.draw()
    assert "was cut off" not in said(house)


def test_next_to_nothing_played_is_not_praised(house: House) -> None:
    piece = read(find("lightly-row"))
    desk = house.screen_of(Desk)
    desk.play(Wish(piece, plan(piece.key, "D")))
    stand = stand_of(house)
    first = transposed(piece, plan(piece.key, "D").interval).notes[0].midi
    for at, pitch in enumerate((first, 100, 100, 100)):
        house.hear(Press(now() + at, pitch, 60), now())
    stand.stop()
    take = house.rounds.last
    assert take is not None
    assert [one.words for one in advise(take, "english")] == [say("advice.too-little")]


def lit(house: House) -> list[str]:
    """The rows and rings that show where the focus is."""
    assert house.canvas is not None
    return [box.name for box in house.canvas.boxes if box.name.endswith((".chosen", ".ring"))]


def test_one_row_is_lit_at_a_time(house: House) -> None:
    cut_off(house)
    struck(house, pygame.K_u, "u")
    assert lit(house) == ["shelf.chosen"]
    places = set()
    for _ in range(30):
        struck(house, pygame.K_TAB)
        shown = lit(house)
        owners = {name.rpartition(".")[0] for name in shown}
        assert len(owners) == 1, f"the focus is shown at {sorted(owners)}"
        places |= owners
    assert {"shelf", "recent", "key", "start"} <= places


def test_a_click_in_another_list_chooses_before_it_acts(house: House) -> None:
    cut_off(house)
    struck(house, pygame.K_u, "u")
    assert house.console.controls is not None
    recent = house.console.controls.named("recent")
    assert recent is not None
    spot = (recent.rect.left + 20, recent.rect.top + 8)
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=spot))
    house.draw()
    assert house.notice is None or say("desk.no-take") not in house.notice.words
    assert lit(house) == ["recent.chosen"]
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=spot))
    house.draw()
    assert house.notice is not None
    assert house.notice.words == say("desk.no-take")


def test_when_the_minutes_are_played_the_desk_says_so(house: House) -> None:
    assert house.journal is not None
    at = datetime.now().astimezone()
    # Also soon after midnight it is a take of this day.
    began = max(at - timedelta(minutes=20), at.replace(hour=0, minute=0, second=0, microsecond=0))
    play(house.journal, "Eb", beat=70.0, began=began)
    house.go("desk")
    house.draw()
    assert "That was enough for today: of the 15 minutes" in said(house)
    house.change(minutes=60)
    house.go("desk")
    house.draw()
    assert "That was enough" not in said(house)


def test_on_the_first_evening_the_coach_offers_where_to_begin(house: House) -> None:
    desk = house.screen_of(Desk)
    house.go("desk")
    house.draw()
    kinds = [one.kind for one in desk.suggestions]
    assert kinds == ["warm-up", "as written", "new", "new", "new"]
    assert all(one.name or one.pattern for one in desk.suggestions), "nothing is composed where the shelf has a tune"
    assert "as written first, to know what transposing costs" in said(house)
    desk.entries = []
    assert desk._today() == [], "nothing is offered before the shelf is read"


def test_when_every_key_has_had_its_turns_the_desk_gives_the_minutes_back(house: House) -> None:
    """No key is asked for all evening, and no minutes are said to be played that are left."""
    assert house.journal is not None
    at = datetime.now().astimezone()
    piece = read(find("garden-gate"))
    for key in ("C", "G", "D"):
        for _ in range(12):
            take = play(house.journal, key, piece=piece, slips=dict.fromkeys(range(4), "step"), began=at)
            assert take.id is not None
            learn(house.journal, take.id)
    house.change(minutes=30)
    house.go("desk")
    house.draw()
    assert "These keys have had enough for today" in said(house)
    assert "The 27 minutes left are yours" in said(house)


@pytest.mark.parametrize(
    ("days_ago", "says"),
    [
        (1, "asks for 17 minutes, and 5 are given for a day: with more"),
        (0, "asks for 17 minutes, and 3 are left of the 5"),
    ],
)
def test_what_does_not_fit_the_minutes_is_not_called_enough(house: House, days_ago: int, says: str) -> None:
    """Neither "these keys have had enough" nor "nothing is due" where a piece only takes longer."""
    assert house.journal is not None
    piece = read(find("die-loreley"))
    day = datetime.now().astimezone() - timedelta(days=days_ago)
    for key in ("D", "Eb", "F"):
        take = play(house.journal, key, piece=piece, slips=dict.fromkeys(range(9), "step"), beat=0.15, began=day)
        assert take.id is not None
        learn(house.journal, take.id, day)
    desk = house.screen_of(Desk)
    # A long piece of the player's own.
    desk.entries = [one._replace(bars=160) for one in desk.entries if one.title == piece.title]
    house.change(minutes=5)
    desk.suggestions = desk._today()
    house.draw()
    assert desk.suggestions == []
    assert "What comes next, Die Loreley in D major" in said(house)
    assert says in said(house)


def test_the_set_list_comes_onto_todays_list(house: House) -> None:
    assert house.journal is not None
    play(house.journal, "Eb", beat=0.5)
    lists = setlist.demo(date.today())
    soon = tuple(replace(one, date=date.today() + timedelta(days=2)) for one in lists.occasions)
    setlist.save(house.journal_file.parent, replace(lists, occasions=soon))
    house.go("desk")
    desk = house.screen_of(Desk)
    assert [one.kind for one in desk.suggestions].count("set list") >= 1
    assert sum(one.minutes for one in desk.suggestions) <= house.settings.minutes


def test_work_set_on_the_desk_is_on_todays_list_and_in_the_file(house: House) -> None:
    desk = house.screen_of(Desk)
    assert SET_WORK not in [one.kind for one in desk.suggestions]
    desk.search("aura lee")
    desk.target = 8
    struck(house, pygame.K_s, "s")
    struck(house, pygame.K_RETURN)
    assert house.screen is desk
    assert house.notice is not None
    assert "Aura Lee in E♭ major is set for" in house.notice.words
    (work,) = assignments.load(house.journal_file.parent)
    assert (work.piece, work.keys, work.players, work.hands) == ("aura-lee", ("Eb",), (house.player,), "both")
    (asked,) = (one for one in desk.suggestions if one.kind == SET_WORK)
    assert (asked.title, asked.key.short) == ("Aura Lee", "Eb")
    assert asked.why.startswith("set: 90% right, by ")
    struck(house, pygame.K_s, "s")
    struck(house, pygame.K_RETURN)
    assert len(assignments.load(house.journal_file.parent)) == 1


def test_delete_on_its_row_takes_set_work_back(house: House) -> None:
    desk = house.screen_of(Desk)
    folder = house.journal_file.parent
    for names in ((house.player, "Ben"), ()):
        assignments.add(folder, assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), names))
    desk.entered()
    house.focus("today")
    desk.suggested = next(at for at, one in enumerate(desk.suggestions) if one.kind != SET_WORK)
    struck(house, pygame.K_DELETE)
    assert len(assignments.load(folder)) == 2, "only set work is taken back"
    for whom, left in ((house.player, [("Ben",), ()]), ("everyone", [("Ben",)])):
        desk.suggested = next(at for at, one in enumerate(desk.suggestions) if one.kind == SET_WORK)
        house.notice = None
        house.draw()
        assert "delete takes back the work that is chosen." in said(house)
        struck(house, pygame.K_DELETE)
        assert house.notice is not None
        assert house.notice.words == f"Aura Lee is not set for {whom} any more."
        assert [one.players for one in assignments.load(folder)] == left
    assert SET_WORK not in [one.kind for one in desk.suggestions]


def test_the_desk_says_where_enter_leads_and_only_there_stands_its_key(house: House) -> None:
    """The card may hold another piece than the row of a list that enter would play."""
    desk = house.screen_of(Desk)
    cut_off(house)
    desk.entered()
    for list_, says in (("today", "plays what is chosen"), ("recent", "opens the marked copy"), ("shelf", "")):
        house.focus(list_)
        house.notice = None
        house.draw()
        assert house.canvas is not None
        with_key = any(box.name == "start.cap" for box in house.canvas.boxes)
        assert with_key == (not says)
        assert ("enter, or a second click, " in said(house)) == bool(says)
        assert says in said(house)


def test_the_row_chosen_in_todays_list_stays_chosen_when_others_come_before_it(house: House) -> None:
    desk = house.screen_of(Desk)
    desk.suggested = 1
    chosen = desk.suggestions[1]
    assignments.add(house.journal_file.parent, assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), (house.player,)))
    desk.entered()
    assert SET_WORK in [one.kind for one in desk.suggestions[:2]]
    assert desk.suggestions[desk.suggested].title == chosen.title
    assert desk.suggestions[desk.suggested].key == chosen.key
    assert desk.suggestions[desk.suggested].hands == chosen.hands


def test_a_teachers_tune_that_is_not_here_is_said_on_its_row_and_when_it_is_wanted(house: House) -> None:
    desk = house.screen_of(Desk)
    (house.journal_file.parent / assignments.FILE).write_text(
        '[[assignment]]\npiece = "own tune"\ntitle = "Own Tune"\nkeys = ["D"]\nnote = "Sing first."\n'
    )
    desk.entered()
    (desk.suggested,) = (at for at, one in enumerate(desk.suggestions) if one.kind == SET_WORK)
    assert desk.suggestions[desk.suggested].why == "set: 90% right. Sing first. Its music is not on the shelf here"
    desk.suggest()
    assert house.notice is not None
    assert house.notice.words.startswith("Own Tune is not on the shelf: put the file your teacher gave you into ")


def test_who_has_work_to_do_can_sit_down_before_the_first_take(house: House) -> None:
    assignments.add(
        house.journal_file.parent, assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), ("Zoë O’Brien",))
    )
    desk = house.screen_of(Desk)
    desk.entered()
    house.draw()
    struck(house, pygame.K_y, "y")
    assert house.player == "Zoë O’Brien"
    assert [one.title for one in desk.suggestions if one.kind == SET_WORK] == ["Aura Lee"]


def test_tab_goes_through_the_ways_to_other_screens_from_left_to_right(house: House) -> None:
    _, controls = house.laid()
    ways = [control for control in controls.all if control.name.startswith("way.")]
    assert [way.name for way in ways] == ["way.desk", "way.keys", "way.singer", "way.setup"]
    assert [way.rect.left for way in ways] == sorted(way.rect.left for way in ways)


def test_the_button_that_sets_work_says_so(house: House) -> None:
    for size in ((1280, 800), (1920, 1080)):
        house.pane.surface = pygame.Surface(size, 0, 32)
        canvas, _ = house.laid()
        assert "Set as work" in [box.text for box in canvas.boxes if box.name == "set.label"]


def test_a_broken_file_of_work_is_told_and_the_list_goes_on(house: House) -> None:
    assert house.journal is not None
    play(house.journal, "Eb", player=house.player, began=datetime.now().astimezone() - timedelta(days=1))
    (house.journal_file.parent / assignments.FILE).write_text("[[assignment]]\n")
    desk = house.screen_of(Desk)
    desk.entered()
    assert house.notice is not None
    assert "assignment 1: piece is missing" in house.notice.words
    assert desk.suggestions


def test_players_take_turns_on_the_desk_each_with_their_own(house: House) -> None:
    assert house.journal is not None
    for name, key in (("Ada", "Eb"), ("Ben", "D"), ("Cleo", "F")):
        play(house.journal, key, player=name, began=datetime.now().astimezone() - timedelta(days=1))
    desk = house.screen_of(Desk)
    desk.entered()
    house.draw()
    seen = []
    for _ in range(4):
        struck(house, pygame.K_y, "y")
        seen.append((house.player, [take.target for take in desk.recent]))
    # Whoever gave no name and played nothing is not waited for.
    assert seen == [("Ada", ["Eb"]), ("Ben", ["D"]), ("Cleo", ["F"]), ("Ada", ["Eb"])]
    assert house.notice is not None


@pytest.mark.parametrize(
    ("name", "shown"),
    [("Ada", "Ada"), ("Zoë O’Brien-Łukaszewska", "Zoë O."), ("Wilhelmine-Alexandra Holm", "W."), ("小林 さくら", None)],
)
def test_whose_desk_it_is_can_be_read_also_when_the_name_is_long(house: House, name: str, shown: str | None) -> None:
    assert house.journal is not None
    for player in (name, "Ben"):
        play(house.journal, "Eb", player=player, began=datetime.now().astimezone() - timedelta(days=1))
    house.switch(name)
    desk = house.screen_of(Desk)
    desk.entered()
    canvas, _ = house.laid()
    assert [box.text for box in canvas.boxes if box.name == "player.label"] == [shown or name]


def test_alone_on_the_desk_there_is_nobody_to_change_places_with(house: House) -> None:
    desk = house.screen_of(Desk)
    before = house.player
    struck(house, pygame.K_y, "y")
    assert house.player == before
    assert desk.players == [before]


def test_a_long_title_gives_way_and_the_choices_keep_their_size(house: House) -> None:
    def sizes() -> dict[str, tuple[int, int]]:
        house.draw()
        assert house.canvas is not None
        return {box.name: box.extent.size for box in house.canvas.boxes if box.extent and box.name.endswith(".value")}

    before = sizes()
    desk = house.screen_of(Desk)
    title = "Variations and Fugue on a Theme from the Second Act of an Opera, Arranged by the Composer in Old Age " * 2
    desk.entries[0] = desk.entries[0]._replace(title=title[:130], composer="Johann Nepomuk von Hohenlohe-Waldenburg")
    assert sizes() == before
    assert "Variations and Fugue" in said(house)


def test_with_german_letters_a_pattern_is_named_in_them_once(house: House) -> None:
    assert house.journal is not None
    # Some hours ago: who has just played needs no warm-up.
    began = datetime.now().astimezone() - timedelta(hours=3)
    piece = pattern("pentascale", Key.parse("C"))
    play(house.journal, "C", piece=piece, player=house.player, kind="pattern", began=began)
    house.change(letters="german")
    house.go("desk")
    house.draw()
    assert house.canvas is not None
    titles = {box.name: box.text for box in house.canvas.boxes if box.name.endswith(".title")}
    assert "Five fingers in C-Dur" in titles.values()
    assert titles["recent.0.title"] == "Pentascale in C-Dur"


def test_a_piece_for_one_hand_offers_that_hand_and_keeps_the_choice_for_the_next(house: House) -> None:
    desk = house.screen_of(Desk)
    one = next(at for at, entry in enumerate(desk.shown) if entry.hands == RIGHT)
    two = next(at for at, entry in enumerate(desk.shown) if entry.hands == BOTH)

    def offered() -> tuple[str, list[str]]:
        house.draw()
        assert house.canvas is not None
        boxes = {box.name: box.text for box in house.canvas.boxes}
        return boxes["hands.value"], [way for way in "‹›" if f"hands.{way}" in boxes]

    desk.chosen = two
    assert offered() == ("both", ["‹", "›"])
    struck(house, pygame.K_h, "h")
    struck(house, pygame.K_h, "h")
    assert offered() == ("left", ["‹", "›"])
    desk.chosen = one
    assert offered() == ("right", [])
    struck(house, pygame.K_h, "h")
    assert desk.entry is not None
    assert desk.asked_hands(desk.entry) == RIGHT
    desk.chosen = two
    assert offered() == ("left", ["‹", "›"])
    # A drill is music of its own, whatever the piece is written for.
    desk.chosen, desk.practice = one, deskview.WAYS.index("clef")
    assert offered() == ("left", ["‹", "›"])


def test_a_recent_take_an_octave_off_is_not_told_to_be_all_wrong(house: House) -> None:
    stand = staging.stand_of(house, "three-bells", "C")
    assert stand.practice is not None
    for away, at in ((-12, 0.0), (0, 100.0)):
        for note in stand.practice.wish.expected.notes:
            house.hear(Press(at + float(note.onset) * 0.6, note.midi + away, 64), now())
        stand.stop()
    house.go("desk")
    house.draw()
    desk = house.screen
    assert isinstance(desk, Desk)
    assert house.canvas is not None
    texts = {box.name: box.text for box in house.canvas.boxes}
    assert (texts["recent.0.when"], texts["recent.1.when"]) == ("100% right · today", "lay elsewhere · today")
    assert house.journal is not None
    (number,) = desk.elsewhere
    with house.journal.changing(1.0) as db:
        db.execute("UPDATE playing SET verdicts = x'00' WHERE take = ?", (number,))
    assert not house.journal.shift(number), "of what is damaged nothing is told"


def test_work_set_after_a_good_take_is_still_to_be_played(house: House) -> None:
    """The take of the lesson is why it is set; it does not do the week's work."""
    assert house.journal is not None
    desk, piece = house.screen_of(Desk), read(find("aura-lee"))
    assert isinstance(desk, Desk)
    play(house.journal, "Eb", piece=piece, player=house.player)
    desk.search("aura lee")
    desk.target = 8
    for _ in range(2):
        desk.set_work()
        assert [one.times for one in assignments.load(house.journal_file.parent)] == [2]
        (asked,) = (one for one in desk.suggestions if one.kind == SET_WORK)
        assert asked.why.startswith("set: 90% right, 1 of 2 times, by ")
    play(house.journal, "Eb", piece=piece, player=house.player)
    house.journal.flush()
    house.go("desk")
    assert SET_WORK not in [one.kind for one in desk.suggestions]


def test_work_is_not_set_for_a_hand_the_piece_does_not_have(house: House) -> None:
    desk = house.screen_of(Desk)
    desk.search("hop, hop")
    desk.practice = deskview.WAYS.index(deskwork.HARMONY)  # a drill is music of its own, for any hand
    desk.choose_hands("right")
    desk.set_work()
    house.draw()
    assert house.notice is not None
    assert house.notice.words == "Hop, hop, Zehren is for the left hand alone: set it for that hand."
    assert not (house.journal_file.parent / assignments.FILE).exists()
    desk.practice = 0
    desk.set_work()
    assert [one.hands for one in assignments.load(house.journal_file.parent)] == ["left"]


def test_the_reason_for_a_new_key_names_it_by_the_letters_of_setup(house: House) -> None:
    desk = house.screen_of(Desk)
    offer = Suggestion("new", "A fresh piece", Key.parse("B"), "pentachord", "right", "a new key: in B sol too", 2.0)
    set_work = replace(offer, kind=SET_WORK, why="set: 90% right. in B too, as your teacher wrote")
    house.change(letters="german")
    house.go("desk")
    desk.suggestions = [offer, set_work]
    house.draw()
    assert house.canvas is not None
    said = [box.text for box in house.canvas.boxes if box.name.endswith(".why")]
    assert said == ["a new key: in H sol too", set_work.why]


def test_a_reason_of_two_lines_makes_its_own_row_high_and_no_other(house: House) -> None:
    desk = house.screen_of(Desk)
    short = Suggestion("due", "Grey Rain", Key.parse("B"), "trichord", "right", "opening, due today", 2.0)
    long = replace(
        short, kind=SET_WORK, why="set: 90% right, at 60 or faster, 1 of 2 times. " + "Slowly at first. " * 2
    )
    desk.suggestions = [short, long, *[short] * 12]

    def tops() -> dict[int, int]:
        house.draw()
        assert house.canvas is not None
        titles = {f"today.{at}.title": at for at in range(14)}
        return {titles[box.name]: box.rect.top for box in house.canvas.boxes if box.name in titles}

    found = tops()
    assert found[2] - found[1] > 1.3 * (found[3] - found[2])
    assert abs(found[3] - found[2] - (found[4] - found[3])) <= 2, "but for rounding"
    assert list(found) == list(range(8)), "with two lines for each only five fit"
    desk.suggested = 13
    assert 13 in tops(), "the chosen one is in sight"
    desk.suggested = 0
    found = tops()
    assert house.canvas is not None
    x = next(box.rect.left for box in house.canvas.boxes if box.name == "today.3.title")
    for at in (2, 3, 1):
        where = (x + 5, found[at] + 5)
        house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, pos=where, button=1))
        assert desk.suggested == at
        found = tops()


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080)])
def test_tab_goes_through_the_card_from_left_to_right(house: House, size: tuple[int, int]) -> None:
    house.pane.surface = pygame.Surface(size, 0, 32)
    _, controls = house.laid()
    names = [control.name for control in controls.all]
    card = [names.index(name) for name in ("key", "octave", "practice", "hands", "set", "print", "start")]
    assert card == sorted(card)


def tabbed_to(house: House, name: str) -> None:
    for _ in range(40):
        if house.console.focused("desk") == name:
            return
        struck(house, pygame.K_TAB)
    raise AssertionError(f"tab never came to {name}")


def test_enter_acts_on_the_row_that_is_lit(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = house.screen_of(Desk)
    asked: list[str] = []
    monkeypatch.setattr(desk, "suggest", lambda: asked.append("today"))
    monkeypatch.setattr(desk, "start", lambda: asked.append("shelf"))
    tabbed_to(house, "today")
    struck(house, pygame.K_RETURN)
    tabbed_to(house, "shelf")
    struck(house, pygame.K_RETURN)
    assert asked == ["today", "shelf"]


def test_enter_presses_the_button_in_the_ring_and_else_goes_to_the_stand(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = house.screen_of(Desk)
    asked: list[str] = []
    for order in ("start", "choose_work", "choose_sheet"):
        monkeypatch.setattr(desk, order, lambda order=order: asked.append(order))
    for name in ("set", "print", "start"):
        tabbed_to(house, name)
        struck(house, pygame.K_RETURN)
    assert asked == ["choose_work", "choose_sheet", "start"]
    # A choice made by its letter takes the ring with it; one stepped to by tab leaves enter as it was.
    tabbed_to(house, "print")
    struck(house, pygame.K_k, "k")
    assert house.console.focused("desk") == "key"
    struck(house, pygame.K_RETURN)
    assert asked[3:] == ["start"]
    # After a click nothing is ringed, and enter is the screen's own.
    assert house.console.controls is not None
    button = house.console.controls.named("print")
    assert button is not None
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=button.rect.center))
    house.draw()
    struck(house, pygame.K_RETURN)
    assert asked[4:] == ["choose_sheet", "start"]


def test_enter_on_the_way_to_another_screen_goes_there(house: House) -> None:
    tabbed_to(house, "way.singer")
    struck(house, pygame.K_RETURN)
    assert house.screen is not None
    assert house.screen.name == "singer"


def test_enter_presses_the_main_button_where_nothing_else_takes_it(house: House) -> None:
    house.go("sight")
    house.draw()
    struck(house, pygame.K_RETURN)
    assert house.rounds.sighting is not None, "the short test did not begin"
    stand = staging.stand_of(house, "aura-lee", "Eb")
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    struck(house, pygame.K_RETURN)
    copy = house.screen
    assert isinstance(copy, Copy)
    asked = copy.advice[0].wish
    # Seen for a while: who presses enter twice wants to see it.
    copy._came -= 2.0
    struck(house, pygame.K_RETURN)
    assert house.screen is stand
    assert (stand.practice.wish.mode, stand.practice.wish.loop) == (asked.mode, asked.loop)


def test_before_the_journal_is_open_nothing_is_denied() -> None:
    with staging.home():
        made = house_of((1280, 800))
        made.ready = False
        made.show(made.screen_of(Desk))
        canvas, _ = made.laid()
        shown = " ".join(box.text for box in canvas.boxes)
        made.close()
    for words in ("desk.today.empty", "desk.recent.empty", "desk.no-piano"):
        assert say(words) not in shown
    assert say("desk.today.opening") in shown
    assert say("desk.piano.looking") in shown


def test_while_the_shelf_is_read_for_the_first_time_nobody_is_told_that_nothing_is_due(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    waiting: list[Callable[[list[Entry]], None]] = []
    monkeypatch.setattr("trainer.window.desk.desk.shelve", lambda _, then: waiting.append(then))
    monkeypatch.setattr("trainer.window.desk.desk.Shelf", lambda: SimpleNamespace(entries=[]))
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        made.show(made.screen_of(Desk))
        before = {box.text for box in made.laid()[0].boxes}
        shelf = Shelf()
        shelf.refresh()
        waiting[-1](shelf.entries)
        desk = made.screen_of(Desk)
        after = {box.text for box in made.laid()[0].boxes}
        made.close()
    assert say("desk.today.shelf") in before
    assert say("desk.today.empty") not in before | after
    assert desk.suggestions


def test_what_the_singer_screen_put_on_the_stand_is_chosen_at_the_desk(house: House) -> None:
    desk, singer = house.screen_of(Desk), house.screen_of(SingerScreen)
    assert isinstance(desk, Desk)
    assert isinstance(singer, SingerScreen)
    desk.search("ode")
    house.show(singer)
    singer.search("aura")
    house.draw()
    singer.pick_key(1)
    singer.start()
    asked = house.on_stand
    assert asked is not None
    assert asked.piece.title == "Aura Lee"
    house.show(desk)
    assert desk.entry is not None
    assert desk.entry.title == "Aura Lee"
    assert desk.transposition(desk.entry) == asked.plan
    # What is chosen here afterwards stays.
    desk.search("ode")
    house.go("setup")
    house.show(desk)
    assert desk.entry.title == "Ode to Joy"
