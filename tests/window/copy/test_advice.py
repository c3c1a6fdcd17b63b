"""What is said after takes that are no single slip: true, said once, and what a teacher would ask for next."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from fractions import Fraction
from math import floor

import pytest

from tests.counting import growth
from tests.following.taking import QUARTER_S, as_it_stands, even, shelf, taken
from tests.following.test_outside import OTHER, SCALE, around
from trainer.following.marks import RIGHT, WENT_BACK, Mark, Move
from trainer.following.stretches import gone_past, stretches
from trainer.following.timing import Click, timing
from trainer.following.words import say_stretch
from trainer.listening.press import Press
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.music.piece import Note
from trainer.session import A_TEMPO, SENZA_MISURA, Session
from trainer.window.copy.advice import advise
from trainer.window.copy.advised import Advice
from trainer.window.copy.copy import Copy
from trainer.window.copy.finished import Finished, finished
from trainer.window.house.still import house_of
from trainer.window.practice import Practice

ODE, MINUET = "ode-to-joy", "petzold-minuet-in-g"
Struck = Callable[[int, int], Collection[int]]


def take_of(session: Session, mode: str = SENZA_MISURA, tempo: float = 72.0) -> Finished:
    settled, summary, measured = session.finish(), session.summary, session.timing
    assert summary is not None
    assert measured is not None
    presses = tuple(session.presses)
    if session.click is not None:
        measured = timing(session.written, presses, settled.marks, session.click)
    return Finished(
        session.written, session.plan, session.hands, mode, tempo, presses, presses, settled, measured,
        summary.right, summary.seconds,
    )  # fmt: skip


def advice_of(
    session: Session, mode: str = SENZA_MISURA, tempo: float = 72.0, letters: str = "english"
) -> list[Advice]:
    return advise(take_of(session, mode, tempo), letters)


def after(
    name: str,
    to: str,
    struck: Struck = as_it_stands,
    bars: Iterable[int] | None = None,
    when: Callable[[float, Note], float] = even,
    tempo: float = 72.0,
) -> list[Advice]:
    return advice_of(taken(name, to, struck, bars, when), tempo=tempo)


def words(found: list[Advice]) -> str:
    return " ".join(one.words for one in found)


def test_who_stops_at_every_bar_is_to_go_slowly_enough_to_read_on() -> None:
    first, *others = after(ODE, "A", when=lambda at, _: even(at, _) + 1.2 * floor(at / 4))
    assert first.words == f"You waited 15 times: in time at {first.wish.tempo:.0f}, slow enough to read on."
    assert first.wish.mode == A_TEMPO
    assert 50 < first.wish.tempo < 75, "four beats in 3.6 s"
    assert not any(word in words(others) for word in ("Clean", "wavered", "click at"))


def test_two_long_waits_are_two_places() -> None:
    first, *_ = after(ODE, "A", when=lambda at, _: even(at, _) + 3.0 * (at >= 16) + 4.0 * (at >= 32))
    assert first.words == "You waited twice, longest before bar 9: play across it, bars 8 to 9 alone."
    assert first.wish.loop == (7, 8)


def test_a_wait_in_the_middle_of_a_bar_is_not_before_it() -> None:
    first, *_ = after(ODE, "A", when=lambda at, _: even(at, _) + 3.0 * (at >= 16) + 4.0 * (at >= 34))
    assert first.words == "You waited twice, longest in bar 9: play across it, bars 8 to 9 alone."
    assert first.wish.loop == (7, 8)


@pytest.mark.parametrize("bars", [[*range(16), *range(16)], [*range(16), *range(16), *range(16, 32), *range(16, 32)]])
def test_the_piece_again_and_a_repeat_in_time_are_no_stumbling(bars: list[int]) -> None:
    session = taken(ODE if max(bars) < 16 else MINUET, "F", bars=bars)
    assert session.finish().moves
    found = advice_of(session)
    assert "went back" not in words(found)
    assert found[0].words.startswith("Clean enough")


def test_bars_gone_past_are_a_skip_and_not_notes_left_out() -> None:
    first, *others = after(ODE, "D", bars=[*range(8), *range(12, 16)])
    assert first.words == "You skipped from bar 8 to bar 13: play across it, bars 8 to 13 alone."
    assert first.wish.loop == (7, 12)
    assert not any("left out" in one.words or "slips" in one.words for one in others)


def test_bars_played_as_written_are_to_be_played_alone() -> None:
    first, *others = after(MINUET, "Eb", lambda bar, _: [4 if 8 <= bar < 16 else 0])
    assert first.words == "Bars 9 to 16 were played as written: alone, slower, every syllable named."
    assert first.wish.loop == (8, 15)
    assert not any("slips" in one.words or "as written" in one.words for one in others)


def test_one_hand_that_played_as_written_is_named() -> None:
    notes = shelf(ODE).notes
    first, *others = after(ODE, "A", lambda _, index: [-2 if notes[index].hand == "left" else 0])
    assert first.words == "The left hand played bars 1 to 16 as written: it alone, every syllable named."
    assert first.wish.hands == "left"
    assert "slips" not in words(others)


def test_one_bar_and_an_upbeat_were_played_as_written_in_the_singular() -> None:
    first, *_ = after(MINUET, "Eb", lambda bar, _: [4 if bar == 8 else 0])
    assert first.words == "Bar 9 was played as written: alone, slower, every syllable named."
    first, *_ = after("der-kuckuck-und-der-esel", "Eb", lambda bar, _: [-1 if bar < 4 else 0])
    assert first.words == "The upbeat to bar 3 was played as written: alone, slower, every syllable named."


def test_a_hand_played_by_itself_is_not_told_to_be_played_by_itself() -> None:
    notes = shelf(MINUET).notes
    take = taken(MINUET, "Eb", lambda bar, index: [] if notes[index].hand == "left" else [4 if 8 <= bar < 16 else 0])
    alone = Session(take.written, take.plan, hands="right")
    for press in take.presses:
        alone.hear(press)
    first, *_ = advice_of(alone)
    assert first.words == "Bars 9 to 16 were played as written: alone, slower, every syllable named."
    assert first.wish.hands == "right"


def test_a_hand_displaced_longer_does_not_hide_what_the_other_played_as_written() -> None:
    notes = shelf(MINUET).notes

    def struck(bar: int, index: int) -> list[int]:
        if notes[index].hand == "left":
            return [-1 if bar >= 12 else 0]
        return [4 if bar in (4, 5) else 0]

    said = words(after(MINUET, "Eb", struck))
    assert "The left hand lay a semitone too low" in said
    assert "The right hand played bars 5 to 6 as written" in said


@pytest.mark.parametrize(
    ("to", "away", "says"),
    [
        ("A", -4, "All of it went down from the page, into F major: it goes up, into A major."),
        ("E", 6, "All of it went up from the page, into B♭ major: it goes down, into E major."),
    ],
)
def test_who_went_the_other_way_from_the_page_is_sent_the_right_way(to: str, away: int, says: str) -> None:
    assert after(MINUET, to, lambda bar, _: [away])[0].words == says


@pytest.mark.parametrize("away", [2, 12])
def test_what_began_elsewhere_is_practised_across_its_end(away: int) -> None:
    first, *_ = after(MINUET, "Eb", lambda bar, _: [away if bar < 6 else 0])
    assert first.words.endswith("play across the change, bars 5 to 7 alone.")
    assert first.wish.loop == (4, 6)


def test_notes_gone_past_within_a_bar_are_left_out_and_no_skip_to_the_same_bar() -> None:
    piece = shelf("musette-in-d")
    here = sorted({note.onset for note in piece.notes if piece.bar_index(note.onset) == 4})
    gap = float(here[-1] - here[1])

    def struck(_: int, index: int) -> list[int]:
        return [] if here[0] < piece.notes[index].onset < here[-1] else [0]

    def when(at: float, note: Note) -> float:
        return (at - gap * (note.onset >= here[-1])) * QUARTER_S

    session = taken(piece, "F", struck, when=when)
    ((move, notes),) = gone_past(piece, session.finish())
    assert {piece.bar_index(piece.notes[end].onset) for end in (move.origin, move.goal)} == {4}
    found = words(advice_of(session))
    assert f"All {len(notes)} slips were in bar 5" in found
    assert "You skipped" not in found


def test_a_long_take_with_many_beginnings_anew_is_looked_through_once() -> None:
    """Every tenth note is gone back from: four times as long a take takes about four times as much, not sixteen."""
    once = taken(MINUET, "F")
    settled, piece, summary = once.finish(), once.written, once.summary
    assert summary is not None
    last = piece.bars[-1]

    def advising(count: int) -> Callable[[], object]:
        notes = [replace(piece.notes[0], id=f"n{at}", onset=Fraction(at), length=Fraction(1)) for at in range(count)]
        bars = [replace(last, number=at + 1, onset=at * last.length) for at in range(count // 3 + 1)]
        long = replace(piece.with_notes(notes), bars=tuple(bars))
        moves = tuple(Move(WENT_BACK, 0.6 * at, at, at - 4, 0.6) for at in range(10, count, 10))
        found = tuple(Mark(at, at, RIGHT) for at in range(count))
        presses = [Press(0.6 * at, 72) for at in range(count)]
        again = Session(long, once.plan)
        again.presses, again.settled = presses, replace(settled, marks=found, moves=moves)
        again.timing = timing(long, presses, found)
        again.summary = replace(summary, right=count)
        take = take_of(again)
        assert f"You went back {len(moves)} times: go on past a slip, to the end." in words(advise(take, "english"))
        return lambda: advise(take, "english")

    assert growth(advising, 1000) < 5


@pytest.mark.parametrize(("away", "says"), [(2, "lay in F major"), (12, "lay in another octave")])
def test_a_piece_that_slid_elsewhere_is_practised_across_the_change(away: int, says: str) -> None:
    first, *others = after(MINUET, "Eb", lambda bar, _: [away if bar >= 12 else 0])
    assert first.words == f"Bars 13 to 32 {says}: play across the change, bars 12 to 14 alone."
    assert first.wish.loop == (11, 13)
    assert "hand" not in words(others)


@pytest.mark.parametrize(
    ("away", "says", "told"),
    [
        (-36, "lay in another octave", "3 octaves too low"),
        (36, "lay in another octave", "3 octaves too high"),
        (-25, "lay in A♭ major", "25 semitones too low, in A♭ major"),
    ],
)
def test_so_is_one_of_which_a_part_lay_further_off_than_a_key_can_be_asked_for(away: int, says: str, told: str) -> None:
    take = take_of(taken(ODE, "A", lambda bar, _: [away if 8 <= bar < 16 else 0]))
    first, *_ = advise(take, "english")
    assert f"{says}: play across the change" in first.words
    (lay,) = stretches(take.piece, take.settled)
    assert say_stretch(lay, take.piece, take.expected).endswith(told)


def test_keys_struck_twice_have_advice() -> None:
    session = taken(ODE, "A")
    again = Session(session.written, session.plan)
    for number, press in enumerate(session.presses):
        again.hear(press)
        if number % 9 == 4:
            again.hear(replace(press, at=press.at + 0.12))
    again.finish()
    first, *_ = advice_of(again)
    count = sum(mark.cause == "repeated" for mark in again.finish().marks)
    assert count > 5
    assert first.words == f"{count} keys were struck twice: slower, each key once and held."


def test_a_melody_in_octaves_and_keys_not_written_are_two_things() -> None:
    notes = shelf("aura-lee").notes
    doubled = after("aura-lee", "Bb", lambda _, index: [0, 12] if notes[index].hand == "right" else [0])
    assert doubled[0].words == "48 notes were doubled at the octave: once more, each as it stands."
    assert "not written" not in words(doubled)
    low = after(MINUET, "F", lambda _, index: [0, -33] if index % 20 == 7 else [0])
    assert "keys struck are not written: slower, only what stands there." in low[0].words
    assert "octave" not in words(low)


def test_accidentals_that_were_missed_are_said_as_that() -> None:
    piece = shelf(MINUET)
    signs = [index for index, note in enumerate(piece.notes) if (note.pitch.letter, note.pitch.alteration) == ("C", 1)]
    first, *others = after(MINUET, "Eb", lambda _, index: [-1 if index in signs else 0])
    assert first.words == f"Accidentals were missed {len(signs)} times: name each as it is in E♭ major, then play."
    assert not any("hand held" in one.words for one in others)


@pytest.mark.parametrize(
    ("letter", "away", "said"),
    [
        ("C", 1, "D was played as D♯ {count} times: say its name before each."),
        ("B", -1, ""),  # C sharp without its sign is the signature's matter
    ],
)
def test_the_same_wrong_key_for_the_same_note_is_named(letter: str, away: int, said: str) -> None:
    notes = shelf(ODE).notes
    amiss = [index for index, note in enumerate(notes) if note.pitch.letter == letter and note.hand == "right"]
    found = after(ODE, "A", lambda _, index: [away if index in amiss else 0])
    if said:
        assert found[0].words == said.format(count=len(amiss))
    else:
        assert "was played as" not in words(found)
    assert "The right hand held" not in words(found)


def test_the_third_of_the_other_mode_is_named_as_that() -> None:
    notes = shelf("aura-lee").notes
    lowered = {index for index, note in enumerate(notes) if note.pitch.letter == "B" and note.hand == "right"}
    first, *_ = after("aura-lee", "Eb", lambda _, index: [-1 if index in lowered else 0])
    said = f"G was played as G♭ {len(lowered)} times, as in E♭ minor: the five fingers of E♭ major first."
    assert (first.words, first.pattern) == (said, "pentascale")


def test_who_played_one_hand_alone_is_not_told_that_it_held_all_slips() -> None:
    notes = shelf(MINUET).notes

    def struck(_: int, index: int) -> list[int]:
        return [] if notes[index].hand == "left" else [6 if index % 40 == 5 else 0]

    found = after(MINUET, "Eb", struck)
    assert "hand held" not in words(found)
    assert "One hand was silent: now both together." in words(found)


def test_a_hand_that_was_simplified_is_told_once() -> None:
    piece = shelf("greensleeves")

    def struck(bar: int, index: int) -> list[int]:
        note = piece.notes[index]
        return [] if note.hand == "left" and note.onset > piece.bars[bar].onset else [0]

    first, *others = after("greensleeves", "b", struck)
    assert first.words.startswith("The left hand left out ")
    assert first.wish.hands == "left"
    assert "left out" not in words(others)


def test_another_rhythm_is_not_called_a_wavering_pulse() -> None:
    def swung(at: float, _: Note) -> float:
        return (floor(at) + (0.67 if abs(at - floor(at) - 0.5) < 1e-6 else at - floor(at))) * QUARTER_S

    first, *others = after(MINUET, "F", when=swung)
    assert first.words.startswith("Even notes came long and short: each as long as the other, at ")
    assert not any(word in words(others) for word in ("wavered", "Clean", "faster"))


def test_a_pulse_that_grew_is_brought_back_to_where_it_began() -> None:
    first, *others = after(MINUET, "Eb", when=lambda at, _: at * 0.9 - at * at * 0.0026)
    assert first.words.startswith("It sped up from ")
    assert first.words.endswith(f": with the click, at {first.wish.tempo:.0f}.")
    assert first.wish.tempo < 90
    assert not any(word in words(others) for word in ("wavered", "Clean", "faster"))


def test_slower_is_slower_than_it_was_played() -> None:
    """Without a click the tempo on the Stand may be far above what the player took."""
    notes = shelf(ODE).notes
    steps = [index for index, note in enumerate(notes) if note.hand == "right"][5:50:9]
    found = after(ODE, "C", lambda _, index: [2 if index in steps else 0], when=lambda at, _: at * 1.5, tempo=120.0)
    (one,) = [one for one in found if "slower" in one.words]
    assert one.wish.tempo < 40


def test_where_the_metronome_has_no_slower_step_nobody_is_hurried_by_it() -> None:
    """At 20 to the minute the slowest click, at 30, would be half as fast again."""
    notes = shelf(ODE).notes
    steps = [index for index, note in enumerate(notes) if note.hand == "right"][5:50:9]

    def when(at: float, _: Note) -> float:
        return at * 3.0 + 6.0 * floor(at / 4)

    found = after(ODE, "C", lambda _, index: [2 if index in steps else 0], when=when)
    assert not any(one.wish.mode == A_TEMPO and one.wish.tempo > 20 for one in found), words(found)
    assert "longest before bar" in words(found)
    assert "slower" in words(found)


def test_keys_at_random_are_no_matter_of_two_bars() -> None:
    found = after(ODE, "E", lambda bar, index: [(index * 37 + bar * 11) % 23 - 11 if index % 5 else 0])
    assert [one.words for one in found] == [
        "Too little was right to advise on: once more from the beginning, as slowly as you like."
    ]


@pytest.mark.parametrize("late", [0.0, 0.2])
def test_who_is_behind_the_click_is_not_sent_on_to_the_next_key(late: float) -> None:
    session = taken(ODE, "F")
    session.click = Click(session.presses[0].at - late, 100.0)
    found = advice_of(session, A_TEMPO, 100.0)
    assert ("Clean enough" in words(found)) == (not late)
    assert ("behind the click" in words(found)) == bool(late)


@pytest.mark.parametrize(("away_from", "said"), [(4, "It was in another bar"), (50, "Some of it was in another bar")])
def test_who_comes_in_far_from_the_click_is_told_so_once_and_nothing_of_late(away_from: float, said: str) -> None:
    session = taken(ODE, "F", when=lambda at, note: even(at, note) + 12.0 * (at >= away_from))
    session.click = Click(session.presses[0].at, 60.0 / QUARTER_S)
    found = advice_of(session, A_TEMPO, 60.0 / QUARTER_S)
    assert words(found).count("than the click") == 1
    assert said in words(found)
    assert "behind the click" not in words(found)
    assert "Clean enough" not in words(found)


def test_all_slips_are_not_called_most_of_them() -> None:
    first, *_ = after(ODE, "Ab", lambda bar, index: [6 if bar == 5 and index % 2 else 0])
    assert first.words.startswith("All ")
    assert " slips were in bar 6: play only that bar, " in first.words


def test_the_only_slip_of_a_take_is_practised_where_it_was_and_in_time_is_asked_for_once() -> None:
    found = after("three-bells", "C", lambda bar, index: [2] if bar == 3 and shelf("three-bells").notes[index].hand ==
                  RIGHT_HAND else [0])  # fmt: skip
    assert found[1].words == "The one slip was in bar 4: play across it, bars 3 to 5 alone."
    assert found[1].wish.loop == (2, 4)
    assert sum(one.wish.mode == A_TEMPO for one in found) == 1
    assert "Calmly" not in words(found)


def test_two_slips_in_a_bar_are_both_of_them() -> None:
    piece = shelf(ODE)
    right = [at for at, note in enumerate(piece.notes) if note.hand == RIGHT_HAND]
    here = [at for at in right if piece.bar_index(piece.notes[at].onset) == 5]
    first, *_ = after(ODE, "Ab", lambda _, index: [6 if index in here[:2] else 0])
    assert first.words == "Both slips were in bar 6: play only that bar, right hand alone."
    assert (first.wish.loop, first.wish.hands) == ((5, 5), RIGHT_HAND)


def test_who_goes_back_again_and_again_is_not_sent_on() -> None:
    """Every note is right, and the music stood still twice."""
    found = advice_of(taken(ODE, "A", bars=[0, 1, 2, 1, 2, 3, 4, 5, 6, 7, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15]))
    assert found[0].words.startswith("You went back twice")
    assert not any(word in words(found) for word in ("Clean", "faster"))


@pytest.mark.parametrize("loop", [None, (5, 5)])
def test_bars_played_alone_just_now_are_not_asked_for_once_more(loop: tuple[int, int] | None) -> None:
    session = taken(ODE, "Ab", lambda bar, index: [6 if bar == 5 and index % 2 else 0])
    found = advise(replace(take_of(session), loop=loop), "english")
    assert ("play only that bar" in words(found)) == (loop is None)


@pytest.mark.parametrize(("before", "afterwards"), [(SCALE, []), ([], OTHER)])
def test_what_was_played_around_a_clean_take_is_not_to_be_practised(before: list[int], afterwards: list[int]) -> None:
    first, *others = advice_of(around(before, afterwards))
    assert first.words.startswith("Clean enough to move on")
    assert not any(word in words(others) for word in ("slips", "hand lay", "not written", "as written", "went back"))


@pytest.mark.parametrize("afterwards", [[], OTHER])
def test_other_music_after_the_end_has_no_place_on_the_page(afterwards: list[int]) -> None:
    session = around([], afterwards)
    house = house_of((1280, 800))
    house.rounds.last = finished(Practice.of(session))
    house.go("copy")
    house.draw()
    house.draw()
    copy = house.screen
    assert isinstance(copy, Copy)
    assert copy.marking is not None
    assert sum(len(strokes) for strokes in copy.marking.strokes) == 0
    house.close()


def test_notes_in_another_octave_and_rolled_chords_have_advice() -> None:
    piece = shelf("arabesque")
    middle = {moment.notes[1] for moment in piece.moments if len(moment.notes) == 3}
    first, *others = after("arabesque", "b", lambda _, index: [12 if index in middle else 0])
    assert "notes came in another octave: once more, each where it stands." in first.words
    assert "hand held" not in words(others)

    def rolled(at: float, note: Note) -> float:
        chord = next(moment.notes for moment in piece.moments if moment.onset == note.onset)
        names = [piece.notes[index].id for index in chord]
        return even(at, note) + 0.06 * names.index(note.id) * (len(names) == 3)

    assert "chords were rolled: slower, all fingers down at once." in words(after("arabesque", "b", when=rolled))


def test_a_hand_that_lay_off_its_keys_counts_all_the_notes_that_did() -> None:
    """Here and there a displaced note is a step off too."""
    notes = shelf("aura-lee").notes
    bars = shelf("aura-lee").bars

    def struck(bar: int, index: int) -> list[int]:
        return [2 if notes[index].hand == "right" and 4 <= bar < 8 else 0]

    count = sum(n.hand == "right" and bars[4].onset <= n.onset < bars[8].onset for n in notes)
    found = after("aura-lee", "Eb", struck)
    said = f"The right hand lay a whole tone too high for {count} notes: find its five keys first."
    assert found[0].words == said


def test_who_hurried_without_a_click_is_not_asked_to_do_so_with_one() -> None:
    """Two wrong notes at 240 to the minute: in time then means the tempo asked for, not the quickest click there is."""
    found = after(ODE, "C", lambda _, index: [1 if index in (9, 40) else 0], when=lambda at, _: at * 0.25, tempo=96.0)
    assert any(one.words == "Now in time, with the click at 96." for one in found), words(found)


def test_one_long_wait_is_a_place_to_play_across_and_nothing_to_move_on_from() -> None:
    first, *others = after(ODE, "A", when=lambda at, _: even(at, _) + 20.0 * (at >= 16))
    assert first.words == "You waited 20 s before bar 5: play across it, bars 4 to 5 alone."
    assert first.wish.loop == (3, 4)
    assert "Clean" not in words(others)
    first, *_ = after(ODE, "A", when=lambda at, _: even(at, _) + 4.0 * (at >= 17))
    assert first.words == "You waited 4 s in bar 5: play across it, bars 4 to 5 alone."
    first, *_ = after(ODE, "A", when=lambda at, _: even(at, _) + 1.5 * (at >= 16))
    assert "Clean enough" in first.words, "a breath"


@pytest.mark.parametrize(
    ("heard_at", "said"),
    [
        (lambda due: due - 0.2, "It lay 0.2 s before the click: hear the count-in to its end, then come in with it."),
        (lambda due: 0.97 * due, "It hurried ahead of the click, by 0.8 s: at 72, each beat waited for."),
        (lambda due: due + 0.2, "It lay 0.2 s behind the click: at 66, each key prepared before its beat."),
        # Who stopped and did not catch the click up again is to play across that place, and prepares no key in vain.
        (lambda due: due + 3.2 * (due >= 20), "You waited 3 s before bar 7: play across it, bars 6 to 7 alone."),
    ],
)
def test_what_lies_off_the_click_is_told_by_why(heard_at: Callable[[float], float], said: str) -> None:
    session = taken(ODE, "A", when=lambda at, _: heard_at(at * 60 / 72))
    again = Session(session.written, session.plan)
    begun = session.presses[0].at
    for press in session.presses:
        again.hear(replace(press, at=press.at - begun))
    again.click = Click(-begun, 72.0)
    first, *others = advice_of(again, A_TEMPO)
    assert first.words == said
    assert "click" not in words(others)


def test_who_stops_before_the_end_is_to_play_to_it_before_anything_else() -> None:
    first, *others = after(ODE, "A", bars=range(14))
    assert first.words == "That was bars 1 to 14 of 16: now the whole piece."
    assert "Clean enough" not in words(others)
    session = taken(ODE, "A", bars=range(14))
    assert "faster" not in words(advice_of(session, A_TEMPO))
