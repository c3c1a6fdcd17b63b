"""The Marked copy: figures, advice with its practice, play-backs, a take out of the journal."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pygame
import pytest

from tools import staging
from trainer.following import marks
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.piece import LEFT, RIGHT
from trainer.music.transpose import plan, transposed
from trainer.session import A_TEMPO
from trainer.window.copy import advice, legend
from trainer.window.copy.copy import Copy, paged
from trainer.window.copy.finished import Finished, of_kept
from trainer.window.desk.sightpage import SightPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.page import pencil
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand
from trainer.window.strings import say


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


def finished(house: House, wrong: dict[int, int], name: str = "ode-to-joy", to: str = "Ab") -> Finished:
    """A take with these notes played so many semitones off."""
    stand = staging.stand_of(house, name, to)
    assert stand.practice is not None
    for index, note in enumerate(stand.practice.wish.expected.notes):
        house.hear(Press(float(note.onset) * 0.7, note.midi + wrong.get(index, 0), 64), now())
    stand.stop()
    assert house.rounds.last is not None
    return house.rounds.last


def test_a_clean_take_moves_on() -> None:
    house = house_of((1280, 800))
    take = finished(house, {})
    found = advice.advise(take, "english")
    assert len(found) == advice.MOST
    onward = found[0].wish
    assert onward.piece is take.piece
    assert onward.plan.target != take.plan.target
    assert onward.plan.target.fifths_away(take.plan.target) == 1


@pytest.mark.parametrize(
    ("away", "says", "pattern"),
    [
        (12, "All of it lay an octave too high: find the first notes once more.", ""),
        (-24, "All of it lay 2 octaves too low: find the first notes once more.", ""),
        (-3, "All sounded in F-Dur: set the piano’s transpose (-3) to 0, or find As-Dur first.", "pentascale"),
        (-1, "All of it was played as written, in G-Dur: the five fingers of As-Dur first.", "pentascale"),
    ],
)
def test_a_take_that_lay_elsewhere_is_told_so_and_nothing_else(away: int, says: str, pattern: str) -> None:
    house = house_of((1280, 800))
    take = finished(house, dict.fromkeys(range(500), away))
    (only,) = advice.advise(take, "german")
    assert (only.words, only.pattern) == (says, pattern)


def test_a_take_that_was_clean_but_elsewhere_has_nothing_else_to_mark() -> None:
    house = house_of((1280, 800))
    finished(house, dict.fromkeys(range(500), -12))
    house.go("copy")
    assert said_of_notes(house) == "Nothing else to mark: as it lay, every note was right."


@pytest.mark.parametrize(
    ("away", "says"),
    [
        (12, "an octave too high throughout"),
        (-24, "2 octaves too low throughout"),
        (-3, "a minor third too low throughout"),
        (-1, "as written throughout"),
    ],
)
def test_what_is_true_of_every_note_stands_once_over_the_page(away: int, says: str) -> None:
    """Only what is wrong besides has a mark of its own, at the Stand and on the Marked copy."""
    house = house_of((1280, 800))
    take = finished(house, {**dict.fromkeys(range(500), away), 10: away + 6})
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.page.marking is not None
    assert sum(len(strokes) for strokes in stand.page.marking.strokes) == 1
    margin = [box.text for box in house.laid()[0].boxes if box.name.startswith("margin.figure")]
    house.go("copy")
    canvas, _ = house.laid()
    texts = {box.name: box.text for box in canvas.boxes}
    assert texts["copy.throughout"] == says
    # Nor is it counted note by note.
    notes = len(take.presses)
    assert (texts["copy.figure.0.label"], texts["copy.figure.0"]) == ("right as it lay", f"{(notes - 1) / notes:.0%}")
    assert [text for name, text in texts.items() if name.endswith(".count")] == ["1", "1", "1"]
    assert say("margin.right.lay", right=f"{notes - 1} of {notes}") in margin
    assert isinstance(house.screen, Copy)
    assert house.screen.marking is not None
    assert sum(len(strokes) for strokes in house.screen.marking.strokes) == 1
    assert sum(mark.cause != marks.RIGHT for mark in take.settled.marks) == len(take.presses)


def test_what_is_true_of_the_whole_take_is_said_at_the_stand() -> None:
    """A piano that transposes by itself is not a hundred slips of the hand."""
    house = house_of((1280, 800))
    take = finished(house, dict.fromkeys(range(500), 3))
    assert house.notice is not None
    assert advice.of_all(take.settled.findings, take.plan, "english") in house.notice.words
    assert "set the piano’s transpose (+3) to 0" in house.notice.words


@pytest.mark.parametrize(("away", "says"), [(0, ""), (3, "transpose (+3) to 0"), (-12, "an octave too low")])
def test_a_piano_that_transposes_is_told_by_the_first_notes(away: int, says: str) -> None:
    """Nobody need play the whole piece first."""
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes[:12]:
        house.hear(Press(float(note.onset) * 0.7, note.midi + away, 64), now())
    said = house.notice.words if house.notice is not None else ""
    assert said == stand.practice.elsewhere
    assert says in said
    assert bool(said) == bool(away)


@pytest.mark.parametrize(("away", "slip", "says"), [
    (-12, 1, ("bar 3, right hand", "do is A flat here; you played A natural")),
    (-1, -1, ("bar 3, right hand", "do, G: a step too low, F sharp")),
])  # fmt: skip
def test_once_all_of_it_is_told_to_lie_elsewhere_slips_are_told_from_there(
    away: int, slip: int, says: tuple[str, str]
) -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    house.draw()
    assert stand.practice is not None
    notes = stand.practice.wish.expected.notes

    def play(first: int, last: int, away: int, slip: int = 0, at: float = 0.0) -> None:
        for index in range(first, last):
            off = away + slip * (index == 12)
            house.hear(Press(at + float(notes[index].onset) * 0.7, notes[index].midi + off, 64), now())

    def strokes() -> int:
        assert stand.page.marking is not None
        return sum(len(strokes) for strokes in stand.page.marking.strokes)

    play(0, 7, away)
    assert strokes()
    play(7, 14, away, slip)
    assert (stand.slips, strokes()) == ([says], 1)
    margin = [box.text for box in house.laid()[0].boxes if box.name.startswith("margin.figure")]
    assert say("margin.right.lay", right="13 of 14") in margin
    # Found once more from the beginning, it is followed at home.
    play(0, 12, 0, at=20.0)
    assert {mark.cause for mark in stand.practice.marks[-8:]} == {marks.RIGHT}
    assert len(stand.slips) <= 5, "a few keys may pass before it is known"
    # The next take is told so anew.
    stand.again()
    house.notice = None
    play(0, 12, away, at=60.0)
    assert house.notice is not None
    assert house.notice.words == stand.practice.elsewhere != ""


def test_what_is_said_of_the_slips_adds_up_to_those_listed() -> None:
    """A key that is not in the piece is a slip here and there."""
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    for index, note in enumerate(stand.practice.wish.expected.notes):
        house.hear(Press(float(note.onset) * 0.7, note.midi + (1 if index in (4, 5, 6, 7) else 0), 64), now())
        if index in (20, 40):
            house.hear(Press(float(note.onset) * 0.7 + 0.05, 30, 64), now())
    stand.stop()
    take = house.rounds.last
    assert take is not None
    assert advice.unplaced(take) == 2
    house.go("copy")
    house.draw()
    house.draw()
    assert house.canvas is not None
    listed = [
        box.text
        for box in house.canvas.boxes
        if box.name.startswith(f"tally.{say('copy.causes')}") and box.name.endswith(".count")
    ]
    total = sum(int(count) for count in listed)
    assert total == len(advice.slips(take)) + 2
    said = [one.words for one in advice.advise(take, "english") if "slips" in one.words]
    assert any(f"of {total}" in words for words in said), said


def test_four_clean_bars_of_sixteen_are_no_clean_piece() -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    wish = stand.practice.wish
    for note in wish.expected.notes:
        if wish.piece.bar_index(note.onset) < 4:
            house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    said = f"bars 1 to 4 of {wish.piece.bars[-1].number}"
    assert house.notice is not None
    assert said in house.notice.words
    take = house.rounds.last
    assert take is not None
    found = advice.advise(take, "english")
    assert said in found[0].words
    assert found[0].wish.plan == take.plan
    assert not any("Clean enough" in one.words for one in found)
    house.go("copy")
    house.draw()
    house.draw()
    assert house.canvas is not None
    texts = {box.name: box.text for box in house.canvas.boxes}
    assert said in texts["copy.key"]
    assert texts["copy.clean"] == f"Nothing to mark in {said}; the rest was not played."


def test_of_one_hand_alone_where_both_were_asked_for_it_is_said_that_the_other_was_silent() -> None:
    for played, silent in ((RIGHT, LEFT), (LEFT, RIGHT)):
        house = house_of((1280, 800))
        stand = staging.stand_of(house, "aura-lee", "Eb")
        assert stand.practice is not None
        for note in stand.practice.wish.expected.notes:
            if note.hand == played:
                house.hear(Press(float(note.onset) * 0.5, note.midi, 64), now())
        stand.stop()
        assert said_of_notes(house) == f"Every note as it should be; the {silent} hand silent."


def rounds(house: House, begun: list[range], name: str = "ode-to-joy", to: str = "Ab") -> Finished:
    """A take of right notes alone, these bars one stretch after the other, a second of silence between them."""
    stand = staging.stand_of(house, name, to)
    assert stand.practice is not None
    wish, at = stand.practice.wish, 0.0
    for stretch in begun:
        notes = [note for note in wish.expected.notes if wish.piece.bar_index(note.onset) in stretch]
        for note in notes:
            house.hear(Press(at + float(note.onset - notes[0].onset) * 0.7, note.midi, 64), now())
        at += float(notes[-1].onset - notes[0].onset) * 0.7 + 1.0
    stand.stop()
    assert house.rounds.last is not None
    return house.rounds.last


def said_of_notes(house: House) -> str:
    house.go("copy")
    house.draw()
    house.draw()
    assert house.canvas is not None
    return next(box.text for box in house.canvas.boxes if box.name == "copy.clean")


def test_beginning_again_is_said_and_practised_across_though_every_note_was_right() -> None:
    house = house_of((1280, 800))
    take = rounds(house, [range(5), range(5), range(16)])
    assert [move.kind for move in take.settled.moves] == [marks.WENT_BACK] * 2
    assert said_of_notes(house) == "Every note as it should be; gone back twice."
    first, *others = advice.advise(take, "english")
    assert first.words == "You went back twice from bar 5: play across it, bars 4 to 6 alone."
    assert first.wish.loop == (3, 5)
    assert not any("Clean enough" in one.words for one in others)


def test_going_back_from_everywhere_is_a_habit_of_the_whole_piece() -> None:
    house = house_of((1280, 800))
    take = rounds(house, [range(2), range(6), range(4, 9), range(6, 12), range(16)])
    words = [one.words for one in advice.advise(take, "english")]
    count = sum(move.kind == marks.WENT_BACK for move in take.settled.moves)
    assert count >= 3
    assert f"You went back {count} times: go on past a slip, to the end." in words
    assert said_of_notes(house).startswith(f"Every note as it should be; gone back {count} times")


def test_a_take_without_a_stop_has_nothing_to_mark() -> None:
    house = house_of((1280, 800))
    take = rounds(house, [range(16)])
    assert said_of_notes(house) == "Nothing to mark: every note as it should be."
    assert not any("back" in one.words for one in advice.advise(take, "english"))


def test_a_part_with_a_return_says_both() -> None:
    house = house_of((1280, 800))
    rounds(house, [range(3), range(4)])
    assert said_of_notes(house) == "Every note right in bars 1 to 4 of 16, the rest not played; gone back once."


def test_neighbouring_keys_brushed_all_over_are_no_matter_of_two_bars() -> None:
    """Two of nine slips say nothing of the bars they fall into; that all nine were brushed says how to practise."""
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "two-friends", "Db")
    assert stand.practice is not None
    for index, note in enumerate(stand.practice.wish.expected.notes):
        at = float(note.onset) * 0.4
        house.hear(Press(at, note.midi, 64), now())
        if index % 9 == 4:
            house.hear(Press(at + 0.03, note.midi + 1, 40), now())
    stand.stop()
    take = house.rounds.last
    assert take is not None
    assert {cause for _, cause in advice.slips(take)} == {marks.BRUSHED}
    first, *others = advice.advise(take, "english")
    brushed = len(advice.slips(take))
    assert first.words == f"{brushed} neighbouring keys were brushed: slower, each finger in the middle of its key."
    assert first.wish.tempo < take.wish.tempo
    assert not any("slips" in one.words for one in others), "no two bars held a quarter of them"


def test_notes_left_out_often_are_to_be_played_slower() -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    expected = stand.practice.wish.expected
    left_out = [at for at, note in enumerate(expected.notes) if note.hand == "left"][3::4][:5]
    for index, note in enumerate(expected.notes):
        if index not in left_out:
            house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    assert house.rounds.last is not None
    assert len(house.rounds.last.settled.missed) == len(left_out)
    words = [one.words for one in advice.advise(house.rounds.last, "english")]
    assert f"{len(left_out)} notes were left out: slower, until every note sounds." in words


def test_all_but_the_upbeat_is_not_called_all_with_a_rest() -> None:
    house = house_of((1280, 800))
    take = rounds(house, [range(1, 17)], "greensleeves", "f#")
    assert not take.piece.bars[0].number
    said = "Nothing to mark in bars 1 to 16 without the upbeat; the rest was not played."
    assert said_of_notes(house) == said


@pytest.mark.parametrize(
    ("off", "said"),
    [
        (-0.6, "It lay 0.6 s before the click: hear the count-in to its end, then come in with it."),
        (0.3, "It lay 0.3 s behind the click: at {tempo}, each key prepared before its beat."),
        (0.05, ""),
    ],
)
def test_who_is_not_with_the_click_is_sent_there_before_anywhere_else(off: float, said: str) -> None:
    house = house_of((1280, 800))
    take = finished(house, {})
    take = replace(take, mode=A_TEMPO, tempo=96.0, timing=replace(take.timing, against_click_s=off))
    found = advice.advise(take, "english")
    words = [one.words for one in found]
    assert any(one.startswith("A little faster") for one in words) == (not said)
    if said:
        assert words[0] == said.format(tempo=f"{found[0].wish.tempo:.0f}")
        assert found[0].wish.mode == A_TEMPO
        assert (found[0].wish.tempo < 96) == (off > 0)
    else:
        assert not any("click:" in one for one in words)


@pytest.mark.parametrize(("every", "said"), [(1, "At all {met} places"), (2, "At {count} of {met} places")])
def test_hands_that_never_meet_are_said_to_come_apart_everywhere(every: int, said: str) -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "two-friends", "Db")
    assert stand.practice is not None
    struck = [
        (float(note.onset) * 0.5 + (0.07 if note.hand == "right" and note.onset // 1 % every == 0 else 0.0), note.midi)
        for note in stand.practice.wish.expected.notes
    ]
    for at, midi in sorted(struck):
        house.hear(Press(at, midi, 64), now())
    stand.stop()
    take = house.rounds.last
    assert take is not None
    told = said.format(count=len(take.timing.hands_apart), met=take.timing.hands_met)
    words = [one.words for one in advice.advise(take, "english")]
    assert f"{told} the left hand came first: slower, both at once." in words


def test_slips_in_two_bars_are_to_be_played_alone() -> None:
    house = house_of((1280, 800))
    piece = finished(house, {}).piece
    here = [i for i, note in enumerate(piece.notes) if piece.bar_index(note.onset) in (5, 6) and note.hand == "right"]
    take = finished(house, dict.fromkeys(here[:4], 6))
    found = advice.advise(take, "english")
    loops = [one.wish for one in found if one.wish.loop is not None]
    assert loops
    first, last = loops[0].loop or (0, 0)
    assert first <= 5 <= last or first <= 6 <= last


@pytest.mark.parametrize(("elsewhere", "most"), [(2, True), (4, False)])
def test_most_of_the_slips_is_more_than_half(elsewhere: int, most: bool) -> None:
    house = house_of((1280, 800))
    piece = finished(house, {}).piece
    right = [(piece.bar_index(note.onset), at) for at, note in enumerate(piece.notes) if note.hand == "right"]
    here = [at for bar, at in right if bar == 5][:3]
    # One slip in every other bar, so that no two bars hold as many.
    there = [next(at for bar, at in right if bar == far) for far in (0, 2, 8, 10, 12, 14)[:elsewhere]]
    words = [one.words for one in advice.advise(finished(house, dict.fromkeys([*here, *there], 6)), "english")]
    wrong = len(here) + len(there)
    said = f"Most of the slips (3 of {wrong}) were in bar 6" if most else f"3 of {wrong} slips were in bar 6"
    assert any(one.startswith(said) for one in words), words


@pytest.mark.parametrize(("letter", "away", "told"), [("C", -1, True), ("E", 1, False)])
def test_a_signature_is_forgotten_only_where_there_is_a_sign(letter: str, away: int, told: bool) -> None:
    """In A major C sharp played C natural; E played E sharp, which neither key has, is another matter."""
    house = house_of((1280, 800))
    piece = finished(house, {}, to="A").piece
    expected = transposed(piece, plan(piece.key, "A").interval)
    amiss = [at for at, note in enumerate(expected.notes) if note.pitch.letter == letter and note.hand == "right"][2:5]
    take = finished(house, dict.fromkeys(amiss, away), to="A")
    cause = "signature" if told else "wrong"
    assert [mark.cause for mark in take.settled.marks if mark.cause != "right"] == [cause] * 3
    words = [one.words for one in advice.advise(take, "english")]
    assert any("The signature of A major was forgotten 3 times" in one for one in words) == told
    assert [one for _, one in advice.slips(take)] == [cause] * 3


@pytest.mark.parametrize(("to", "letter", "away", "sign"), [("Db", "D", 1, "♭"), ("A", "C", -1, "♯")])
def test_the_legend_has_the_sign_that_was_forgotten(
    to: str, letter: str, away: int, sign: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    house = house_of((1280, 800))
    piece = finished(house, {}, to=to).piece
    notes = transposed(piece, plan(piece.key, to).interval).notes
    amiss = [at for at, note in enumerate(notes) if note.pitch.letter == letter and note.hand == "right"][2:5]
    take = finished(house, dict.fromkeys(amiss, away), to=to)
    assert {cause for _, cause in advice.slips(take)} == {marks.SIGNATURE}
    drawn: list[str] = []
    real = pencil.accidental

    def accidental(*given: Any) -> Any:
        drawn.append({1: "♯", 0: "♮", -1: "♭"}[given[3]])
        return real(*given)

    monkeypatch.setattr(pencil, "accidental", accidental)
    house.go("copy")
    house.draw()
    house.draw()
    assert set(drawn) == {sign}, "on the page and beside it"
    assert len(drawn) > len(amiss)


def test_no_signature_of_c_major_is_forgotten() -> None:
    """B flat for B, out of the written F major."""
    house = house_of((1280, 800))
    name = "au-clair-de-la-lune"
    piece = finished(house, {}, name, "C").piece
    notes = transposed(piece, plan(piece.key, "C").interval).notes
    take = finished(house, {at: -1 for at, note in enumerate(notes) if note.pitch.letter == "B"}, name, "C")
    words = [one.words for one in advice.advise(take, "english")]
    count = sum(cause == "signature" for _, cause in advice.slips(take))
    assert count > 2
    assert f"Signs of F major came along {count} times: say the notes of C major, then slower." in words


def test_a_signature_forgotten_twice_is_said_as_that() -> None:
    house = house_of((1280, 800))
    piece = finished(house, {}, to="A").piece
    notes = transposed(piece, plan(piece.key, "A").interval).notes
    amiss = [at for at, note in enumerate(notes) if note.pitch.letter == "C" and note.hand == "right"][2:4]
    words = [one.words for one in advice.advise(finished(house, dict.fromkeys(amiss, -1), to="A"), "english")]
    assert "The signature of A major was forgotten twice: play its five-finger pattern first." in words


def test_a_hand_that_lay_displaced_is_to_find_its_five_keys_first() -> None:
    house = house_of((1280, 800))
    right = [index for index, note in enumerate(finished(house, {}).piece.notes) if note.hand == "right"]
    found = advice.advise(finished(house, dict.fromkeys(right[20:32], -3)), "english")
    told = {one.words: (one.pattern, one.wish.hands) for one in found}
    words = "The right hand lay a minor third too low for 12 notes: find its five keys first."
    assert told[words] == ("pentascale", "right")


def test_notes_a_step_off_are_to_be_said_before_they_are_played() -> None:
    house = house_of((1280, 800))
    scale = [(8 + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)]  # A flat major
    notes = finished(house, {}).expected.notes
    higher = {
        index: next(up for up in (1, 2) if (notes[index].midi + up) % 12 in scale) for index in (5, 16, 27, 38, 49)
    }
    words = [one.words for one in advice.advise(finished(house, higher), "english")]
    assert "5 notes were a step off: say each syllable before its key, slower." in words


def test_enter_pressed_twice_at_the_end_of_a_take_shows_it_and_starts_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    house = house_of((1280, 800))
    finished(house, {4: 1, 5: 1, 6: -1, 7: 6})
    house.draw()

    def enter() -> None:
        house.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, scancode=40, unicode=""))
        house.draw()

    for _ in range(3):
        enter()
        assert isinstance(house.screen, Copy)
    assert house.notice is not None
    assert house.notice.words == say("copy.enter")
    # Once it has been seen it is the main button's again.
    monkeypatch.setattr(house.screen, "_came", now() - 2.0)
    enter()
    assert isinstance(house.screen, Stand)


def test_following_advice_puts_it_on_the_stand() -> None:
    house = house_of((1280, 800))
    finished(house, {4: 1, 5: 1, 6: -1, 7: 6})
    house.go("copy")
    house.draw()
    copy = house.screen
    assert isinstance(copy, Copy)
    wish = copy.advice[0].wish
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_1, mod=0, scancode=30, unicode="1"))
    assert isinstance(house.screen, Stand)
    assert house.screen.practice is not None
    if not copy.advice[0].pattern:
        assert house.screen.practice.wish.loop == wish.loop
        assert house.screen.practice.wish.hands == wish.hands


@pytest.mark.parametrize(
    ("waits", "said"),
    [
        # Seven times a long wait; and no beat as long as the one before.
        ([2.4, *[0.4] * 10], "You waited 7 times: in time at 84"),
        ([0.65, 0.5, 0.375, 0.5, 0.65, 0.375, 0.375], "The pulse wavered: once more at "),
    ],
)
def test_who_waits_and_whose_pulse_wavers_are_to_play_in_time(waits: list[float], said: str) -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    at = 0.0
    for index, note in enumerate(stand.practice.wish.expected.notes):
        at += waits[index % len(waits)] if index else 0.4
        house.hear(Press(at, note.midi, 64), now())
    stand.stop()
    assert house.rounds.last is not None
    found = [one for one in advice.advise(house.rounds.last, "english") if one.words.startswith(said)]
    assert [one.wish.mode for one in found] == [A_TEMPO]


def test_hands_that_fall_apart_are_to_be_brought_together() -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    notes = stand.practice.wish.expected.notes
    at = {index: float(note.onset) * 0.7 - 0.1 * (note.hand == "left") + 1.0 for index, note in enumerate(notes)}
    for index in sorted(at, key=at.__getitem__):
        house.hear(Press(at[index], notes[index].midi, 64), now())
    stand.stop()
    take = house.rounds.last
    assert take is not None
    met = take.timing.hands_met
    assert met > 8
    told = {one.words: one.wish.tempo for one in advice.advise(take, "english")}
    said = f"At all {met} places the left hand came first: slower, both at once."
    assert told[said] < stand.practice.wish.tempo


def test_slips_count_notes_left_out() -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    for index, note in enumerate(stand.practice.wish.expected.notes):
        if index != 12:
            house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    assert house.rounds.last is not None
    assert (12, marks.MISSED) in advice.slips(house.rounds.last)


def test_a_take_out_of_the_journal_looks_the_same() -> None:
    house = house_of((1280, 800))
    house.open_journal()
    take = finished(house, {3: 1, 9: 6})
    assert house.journal is not None
    house.journal.flush()
    kept = of_kept(house.journal.take(house.journal.takes()[0].id))
    assert kept is not None
    assert [mark.cause for mark in kept.settled.marks] == [mark.cause for mark in take.settled.marks]
    assert (kept.right, kept.plan.target) == (take.right, take.plan.target)
    house.close()


def test_systems_are_shared_out_over_pages_in_order() -> None:
    assert paged([100, 100, 100], 250) == [[0, 1], [2]]
    assert paged([400], 250) == [[0]]
    assert paged([], 250) == [[]]


@pytest.mark.parametrize("size", [(960, 600), (1280, 800), (1920, 1080)])
def test_few_slips_by_degree_and_by_hand_stand_together_and_a_short_piece_on_one_page(size: tuple[int, int]) -> None:
    house = house_of(size)
    finished(house, {3: 1, 9: -1, 20: 6}, "aura-lee", "Eb")
    house.go("copy")
    for _ in range(12):
        house.draw()
    assert house.canvas is not None
    texts = {box.name: box.extent for box in house.canvas.boxes if box.extent is not None}
    degrees = [place for name, place in texts.items() if name.startswith(f"tally.{say('copy.degrees')}.")]
    hands = texts[f"tally.{say('copy.hands')}"]
    assert 0 < hands.top - max(place.bottom for place in degrees) < 2 * house.canvas.unit
    assert isinstance(house.screen, Copy)
    assert house.screen.score is not None
    assert "turn" not in texts, "one page"
    last = texts["tally." + say("copy.hands") + ".0"]
    assert last.bottom < texts["advice.head"].top


@pytest.mark.parametrize("size", [(960, 600), (1280, 720), (1280, 800), (1920, 1080)])
@pytest.mark.parametrize("name", ["aura-lee", "au-clair-de-la-lune"])
def test_a_short_piece_is_set_so_large_that_it_fills_its_page(size: tuple[int, int], name: str) -> None:
    house = house_of(size)
    finished(house, {3: 1}, name, "Eb")
    house.go("copy")
    for _ in range(2):
        house.draw()
    copy = house.screen
    assert isinstance(copy, Copy)
    assert copy.score is not None
    assert house.canvas is not None
    boxes = {box.name: box.rect for box in house.canvas.boxes}
    systems = [boxes[f"music.{at}"] for at in range(len(copy.score.systems))]
    head, foot = boxes["copy.title"], min(rect.top for name, rect in boxes.items() if name.startswith("hear."))
    assert sum(rect.height for rect in systems) > 0.8 * (foot - head.bottom)
    # Of a system's height at its top and foot is air, into which its neighbour may move.
    for upper, lower in itertools.pairwise(systems):
        assert upper.bottom - lower.top <= 0.07 * lower.height
    lines = copy.score.systems[-1].staves[-1]
    assert systems[-1].top + lines.bottom < foot


@pytest.mark.parametrize("size", [(960, 600), (1280, 800), (1920, 1080)])
def test_what_the_test_at_sight_is_and_its_buttons_stand_together_on_the_page(size: tuple[int, int]) -> None:
    house = house_of(size)
    house.show(house.screen_of(SightPage))
    house.draw()
    assert house.canvas is not None
    told = [box.extent for box in house.canvas.boxes if box.name.startswith(("sight.about", "sight.leave"))]
    buttons = [box.rect for box in house.canvas.boxes if box.name == "sight.two.ground"]
    words = [place for place in told if place is not None]
    top, low = min(place.top for place in words), max(place.bottom for place in words)
    assert 0 < buttons[0].top - low < 3 * house.canvas.unit
    # The free room is shared out over and under it.
    over, under = top - 4 * house.canvas.unit, size[1] - buttons[0].bottom
    assert 0.4 < over / under < 1.0


def test_each_cause_that_is_counted_stands_with_its_mark_on_the_page() -> None:
    house = house_of((1280, 800))
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    for index, note in enumerate(stand.practice.wish.expected.notes):
        # One note is left out, one struck an octave off, and one struck twice.
        if index == 10:
            continue
        house.hear(Press(float(note.onset) * 0.7, note.midi + (12 if index == 20 else 0), 64), now())
        if index == 30:
            house.hear(Press(float(note.onset) * 0.7 + 0.2, note.midi, 64), now())
    stand.stop()
    take = house.rounds.last
    assert take is not None
    causes = {cause for _, cause in advice.slips(take)}
    assert {marks.MISSED, marks.OCTAVE} <= causes
    house.go("copy")
    house.draw()
    house.draw()
    assert house.canvas is not None
    found = {box.name: box for box in house.canvas.boxes}
    shown = [box for name, box in found.items() if name.startswith("tally.mark.")]
    assert len(shown) == len(causes)
    assert len({box.state for box in shown}) == len(causes)
    for at, box in enumerate(shown):
        words = found[f"tally.{say('copy.causes')}.{at}"].extent
        assert words is not None
        assert box.rect.right <= words.left
        assert words.top - 3 <= box.rect.centery <= words.bottom + 3


@pytest.mark.parametrize("cause", [*marks.CAUSES[1:], marks.MISSED])
def test_every_mark_of_the_legend_fits_its_cell(cause: str) -> None:
    stroke, (x, y) = legend.drawn(cause, "#2c5a8c", 10.0)
    wide = legend.WIDE / legend.SPACE * 10.0
    if cause != marks.AS_WRITTEN:
        assert stroke.rect.width <= wide
    assert stroke.rect.collidepoint(x, y)


def test_a_single_advice_has_a_panel_of_its_own_height() -> None:
    def panel(away: int) -> tuple[int, int]:
        house = house_of((1280, 800))
        finished(house, dict.fromkeys(range(200), away))
        house.go("copy")
        house.draw()
        house.draw()
        assert house.canvas is not None
        assert isinstance(house.screen, Copy)
        (box,) = [box for box in house.canvas.boxes if box.name == "advice.ground"]
        return len(house.screen.advice), box.rect.height

    (three, high), (one, low) = panel(0), panel(-3)
    assert (three, one) == (advice.MOST, 1)
    assert low < 0.7 * high


@pytest.mark.parametrize(("syllables", "named"), [("la", "do"), ("do", "me"), ("numbers", "3"), ("letters", "3")])
def test_slips_by_degree_are_named_as_the_page_names_them(syllables: str, named: str) -> None:
    house = house_of((1280, 800), Settings(syllables=syllables))
    take = finished(house, {}, "grey-rain", "e")
    third = [at for at, note in enumerate(take.piece.notes) if note.pitch.letter == "F"]
    finished(house, {third[0]: 6}, "grey-rain", "e")
    house.go("copy")
    canvas, _ = house.laid()
    (told,) = [box.text for box in canvas.boxes if box.name == f"tally.{say('copy.degrees')}.0"]
    assert told == named
