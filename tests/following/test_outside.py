"""A scale before the beginning, and other music after the end."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.following.taking import Struck, shelf, taken
from tests.following.test_stretches import one_by_one, told
from tools import learner
from trainer.following.ground import Ground
from trainer.following.marks import AS_WRITTEN, DISPLACED, EXTRA, RIGHT, SKIPPED, WENT_BACK, WRONG, Mark, Move, Settled
from trainer.following.outside import after_the_end, bounded, false_start, is_other_music, keys_after
from trainer.listening.press import Press
from trainer.music.piece import BOTH, Piece
from trainer.music.piece import LEFT as LEFT_HAND
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.session import Session
from trainer.window.page.marking import of_notes

SCALE = [69, 71, 73, 74, 76, 78, 80, 81, 80, 78, 76, 74, 73, 71, 69]
OTHER = [62, 62, 64, 62, 67, 66, 62, 62, 64, 62, 69, 67]


def around(before: list[int], after: list[int], again: bool = False) -> Session:
    """The piece once, with keys before it and after its end, or itself again."""
    once = taken("ode-to-joy", "A")
    session = Session(once.written, once.plan)
    for number, pitch in enumerate(before):
        session.hear(Press(0.25 * number, pitch))
    start = 0.25 * len(before) + 1.5 * bool(before)
    for press in once.presses:
        session.hear(replace(press, at=press.at + start))
    end = start + once.presses[-1].at + 2.0
    for number, pitch in enumerate(after):
        session.hear(Press(end + 0.4 * number, pitch))
    for press in once.presses if again else ():
        session.hear(replace(press, at=press.at + end))
    session.finish()
    return session


def test_a_scale_before_the_beginning_is_told_once() -> None:
    session = around(SCALE, [])
    assert false_start(session.written, session.presses, session.finish()) is not None
    assert told(session) == [("before the beginning", "went-back", f"{len(SCALE)} keys, then begun again")]


def begun(before: str, after: str, goal: int = 0, kind: str = WENT_BACK) -> tuple[Settled, list[Press]]:
    """A take of single notes, ``.`` right and ``x`` a slip, in which one went back (or on) to a note after the first
    part: half a second a key.
    """
    causes = [RIGHT if one == "." else WRONG for one in before + after]
    notes = [*range(len(before)), *range(goal, goal + len(after))]
    marks = [Mark(at, note, cause) for at, (note, cause) in enumerate(zip(notes, causes, strict=True))]
    presses = [Press(0.5 * at, 60) for at in range(len(marks))]
    move = Move(kind, presses[len(before)].at, len(before) - 1, goal)
    return Settled(tuple(marks), (), (move,)), presses


@pytest.mark.parametrize(
    ("before", "after", "counted_from"),
    [
        ("xx...", "." * 10, 5),
        ("xxxx", "." * 8, 4),
        # Less than four keys are no start, and less than four slips in ten is a first try.
        ("xxx", "." * 10, 0),
        ("xx....", "." * 12, 0),
        # What follows is the take only where it is twice as long, and its own slips are two in ten at most.
        ("xx...", "." * 9, 0),
        ("xxxxx", "x.x......." * 2, 5),
        ("xxxxx", "x.x..x...." * 2, 0),
        ("xxxxx", "x.x.x" * 4, 0),
    ],
)
def test_what_is_a_false_start_and_not_in_the_figures(before: str, after: str, counted_from: int) -> None:
    piece = one_by_one(*[RIGHT_HAND] * 20)
    settled, presses = begun(before, after)
    found = false_start(piece, presses, settled)
    assert found == ((settled.moves[0], counted_from) if counted_from else None)
    assert len(bounded(piece, presses, settled).counted) == len(settled.marks) - counted_from


def test_only_a_return_to_the_very_beginning_makes_a_false_start() -> None:
    piece = one_by_one(*[RIGHT_HAND] * 30)
    for goal, kind in ((1, WENT_BACK), (0, SKIPPED)):
        settled, presses = begun("xxxxx", "." * 20, goal, kind)
        assert false_start(piece, presses, settled) is None


def ended(
    marks: list[tuple[int | None, str]],
    at: list[float],
    moves: tuple[float, ...] = (),
    piece: Piece | None = None,
    hands: str = BOTH,
    run: int = 1,
) -> int | None:
    """Where other music begins in a take of five notes: of each press its note and cause, its time in seconds, and when
    the player was thought to go back. Every press stands in a run at one interval of this length.
    """
    piece = piece or one_by_one(*[RIGHT_HAND] * 5)
    told = [Mark(number, note, cause) for number, (note, cause) in enumerate(marks)]
    presses = [Press(when, 60) for when in at]
    went = [Move(WENT_BACK, when, 4, 0) for when in moves]
    return after_the_end(Ground(piece, piece, hands), presses, told, went, [run] * len(told))


NOTES: list[tuple[int | None, str]] = [(note, RIGHT) for note in range(5)]
STRANGE: list[tuple[int | None, str]] = [(0, WRONG), (0, RIGHT), (None, EXTRA), (1, WRONG)]
EVEN = [0.5 * number for number in range(12)]


def test_other_music_begins_after_the_last_note_has_come_right() -> None:
    assert ended(NOTES + STRANGE, EVEN) == 5
    assert ended(NOTES[:3] + NOTES[4:] + STRANGE, EVEN) == 4, "a note left out before it changes nothing"
    assert ended([*NOTES[:4], (4, WRONG), NOTES[4], *STRANGE], EVEN) == 6, "a slip for it is not the end"
    assert ended(NOTES[:4] + STRANGE, EVEN) is None
    assert ended(NOTES, EVEN) is None
    assert ended(NOTES + STRANGE[:3], EVEN) is None, "three keys are few"
    assert ended([*NOTES, *STRANGE, *NOTES[:2]], EVEN) == 5, "half of it is not the piece's"
    assert ended([*NOTES, *STRANGE, *NOTES[:3]], EVEN) is None, "the piece once more"
    assert ended(NOTES + STRANGE, EVEN, run=4) == 5
    assert ended(NOTES + STRANGE, EVEN, run=5) is None, "the piece once more, elsewhere"


def test_a_chord_after_the_end_is_no_going_back_unless_it_is_rolled_slowly_or_was_none() -> None:
    chord = [2.0, 2.02, 2.04]
    times = [0.0, 0.4, 0.8, 1.2, 1.6]
    assert ended(NOTES + STRANGE[:3], times + chord, moves=(2.0,)) == 5
    assert ended(NOTES + STRANGE[:3], times + chord, moves=(0.4, 2.0)) == 5
    assert ended(NOTES + STRANGE[:3], times + chord, moves=(0.4,)) is None
    assert ended(NOTES + STRANGE[:3], [*times, 2.0, 2.02, 3.0], moves=(2.0,)) is None


def test_the_end_of_one_hand_is_where_its_own_last_note_is() -> None:
    """The right hand alone, over a left hand that has the last word or joins in the last moment."""
    alone = one_by_one(*[RIGHT_HAND] * 4, LEFT_HAND)
    assert ended(NOTES[:4] + STRANGE, EVEN, piece=alone, hands=RIGHT_HAND) == 4
    assert ended(NOTES[:4] + STRANGE, EVEN, piece=alone) is None
    other = replace(alone.notes[4], pitch=SpelledPitch.parse("E4"), onset=alone.notes[3].onset)
    together = alone.with_notes([*alone.notes[:4], other])
    assert ended(NOTES[:4] + STRANGE, EVEN, piece=together, hands=RIGHT_HAND) == 4
    assert ended(NOTES[:4] + STRANGE, EVEN, piece=together) is None


def test_other_music_after_one_hand_of_a_piece_that_the_other_ends_is_in_no_figure() -> None:
    """The left hand's last notes come after the right hand's last one."""
    piece = shelf("greensleeves")
    session = Session(piece, plan(piece.key, "b"), hands=RIGHT_HAND)
    mine = [note for note in session.expected.notes if note.hand == RIGHT_HAND]
    for note in mine:
        session.hear(Press(0.6 * float(note.onset), note.midi))
    end = 0.6 * float(mine[-1].end) + 2.0
    for number, pitch in enumerate(OTHER):
        session.hear(Press(end + 0.4 * number, pitch))
    settled = session.finish()
    assert [mark.cause for mark in settled.counted] == [RIGHT] * len(mine)
    assert settled.moves == settled.missed == ()
    assert session.summary is not None
    assert session.summary.accuracy == 1.0
    assert told(session) == [("after the end", "extra", f"{len(OTHER)} keys of no note")]


@pytest.mark.parametrize(("last", "after", "counted"), [(9, 5, 10), (9, 0, 10), (8, 5, 14), (None, 5, 10)])
def test_keys_of_no_note_are_after_the_end_once_the_last_note_was_reached(
    last: int | None, after: int, counted: int
) -> None:
    """Ten notes, of which the last is not reached (8) or nothing at all is (None), then further keys."""
    piece = one_by_one(*[RIGHT_HAND] * 10)
    notes = list(range(last + 1)) if last is not None else []
    marks = [*(Mark(note, note, RIGHT) for note in notes), *(Mark(len(notes) + n, None, EXTRA) for n in range(after))]
    settled = Settled(tuple(marks), (), ())
    presses = [Press(0.5 * at, 60) for at in range(len(marks))]
    there = keys_after(piece, presses, settled)
    assert list(there) == (list(range(10, 10 + after)) if last == 9 else [])
    assert bounded(piece, presses, settled).counted == (settled.marks if last != 9 else settled.marks[:counted])


def test_a_key_struck_with_the_last_note_is_not_after_the_end() -> None:
    """The little finger that slipped in the last chord is a slip of the piece."""
    piece = one_by_one(*[RIGHT_HAND] * 3)
    marks = (*(Mark(at, at, RIGHT) for at in range(3)), Mark(3, None, EXTRA), Mark(4, None, EXTRA))
    presses = [Press(at, 60) for at in (0.0, 0.5, 1.0, 1.2, 1.3)]
    assert list(keys_after(piece, presses, Settled(marks, (), ()))) == [4]


def test_a_first_try_is_told_slip_by_slip() -> None:
    """The first two bars with one slip in them, then from the top."""
    once = taken("ode-to-joy", "A", lambda bar, index: [1 if index == 4 else 0], bars=[0, 1, *range(16)])
    assert false_start(once.written, once.presses, once.finish()) is None
    assert any("went back" in words for _, _, words in told(once))


def test_a_first_try_as_written_tells_why_it_was_given_up() -> None:
    first = taken("ode-to-joy", "A", lambda bar, _: [-2], bars=[0, 1])
    once = taken("ode-to-joy", "A")
    session = Session(once.written, once.plan)
    for press in [*first.presses, *(replace(press, at=press.at + 7.0) for press in once.presses)]:
        session.hear(press)
    assert false_start(once.written, session.presses, session.finish()) is None
    assert [code for _, code, _ in told(session)] == ["as-written", "went-back"]


def test_a_first_try_that_lay_elsewhere_is_no_false_start() -> None:
    piece = one_by_one(*[RIGHT_HAND] * 20)
    settled, presses = begun("xxxxx", "." * 20)
    elsewhere = tuple(replace(mark, cause=DISPLACED, offset=2) for mark in settled.marks[:5])
    assert false_start(piece, presses, replace(settled, marks=elsewhere + settled.marks[5:])) is None


def test_the_piece_again_as_written_is_no_other_music() -> None:
    right, written = taken("ode-to-joy", "A"), taken("ode-to-joy", "A", lambda *_: [-2])
    session = Session(right.written, right.plan)
    end = right.presses[-1].at + 2.0
    for press in [*right.presses, *(replace(press, at=press.at + end) for press in written.presses)]:
        session.hear(press)
    later = session.finish().marks[len(right.presses) :]
    # Some keys of either key are the piece's own.
    assert sum(mark.cause == AS_WRITTEN for mark in later) > 0.5 * len(later)
    assert sum(mark.cause == EXTRA for mark in later) < 0.1 * len(later)


@pytest.mark.parametrize("after", [OTHER, [33, 45, 52, 57, 61]])
def test_other_music_after_the_end_is_no_slip_of_the_piece(after: list[int]) -> None:
    session = around([], after)
    settled = session.finish()
    here = len(settled.marks) - len(after)
    assert [mark.cause for mark in settled.marks[here:]] == [EXTRA] * len(after)
    assert all(mark.cause == RIGHT for mark in settled.marks[:here])
    assert settled.moves == ()
    assert told(session) == [("after the end", "extra", f"{len(after)} keys of no note")]


def test_a_closing_chord_is_no_beginning_anew() -> None:
    """E flat in octaves, with G and B flat: the first bar of the piece holds these keys too."""
    once = taken("aura-lee", "Eb")
    session = Session(once.written, once.plan)
    end = once.presses[-1].at + 1.5
    chord = [Press(end + 0.02 * number, pitch) for number, pitch in enumerate((39, 51, 55, 58, 63))]
    for press in [*once.presses, *chord]:
        session.hear(press)
    settled = session.finish()
    assert settled.moves == ()
    assert [mark.cause for mark in settled.marks[-5:]] == [EXTRA] * 5


@pytest.mark.parametrize(("before", "after"), [(SCALE, []), ([], OTHER), (SCALE, OTHER), ([], [33, 45, 52, 57, 61])])
def test_what_is_not_of_the_piece_is_in_no_figure(before: list[int], after: list[int]) -> None:
    whole, alone = around(before, after).summary, around([], []).summary
    assert alone is not None
    assert whole is not None
    assert (whole.seconds, whole.pulse_bpm) == pytest.approx((alone.seconds, alone.pulse_bpm))
    assert whole == replace(alone, seconds=whole.seconds, pulse_bpm=whole.pulse_bpm)
    assert (alone.right, alone.accuracy) == (alone.played, 1.0)


def test_the_piece_again_after_the_end_is_the_piece() -> None:
    settled = around([], [], again=True).finish()
    assert all(mark.cause == RIGHT for mark in settled.marks)
    assert len(settled.moves) == 1


def test_a_note_left_out_stays_left_out_though_other_music_has_its_key() -> None:
    left_out = 60
    once = taken("aura-lee", "Eb", lambda _, index: [] if index == left_out else [0])
    session = Session(once.written, once.plan)
    end = once.presses[-1].at + 2.0
    for press in [*once.presses, *(Press(end + 0.4 * number, pitch + 1) for number, pitch in enumerate(OTHER))]:
        session.hear(press)
    settled = session.finish()
    assert {mark.cause for mark in settled.marks[-len(OTHER) :]} == {EXTRA}
    assert settled.missed == once.finish().missed == (left_out,)


def keys(name: str, to: str, pitches: list[int]) -> Session:
    """A take of a piece that is nothing but these keys, evenly."""
    piece = shelf(name)
    session = Session(piece, plan(piece.key, to))
    for number, pitch in enumerate(pitches):
        session.hear(Press(0.3 * number, pitch))
    return session


@pytest.mark.parametrize(
    ("name", "to", "pitches"),
    [
        ("ode-to-joy", "Ab", OTHER),
        ("petzold-minuet-in-g-minor", "eb", [60, 62, 64, 65, 67, 65, 64, 62, 60, 67, 72, 71, 69, 67, 65, 64, 62, 60]),
        # A scale that lies, for half of its keys, as the song would in another key.
        ("aura-lee", "G", [60, 62, 64, 65, 67, 65, 64, 62, 60, 67, 72, 71, 69, 67, 65, 64, 62, 60]),
        ("greensleeves", "b", [48, 52, 55, 53, 57, 60, 55, 59, 62, 48, 52, 55]),
    ],
)
def test_scales_chords_and_other_tunes_are_other_music(name: str, to: str, pitches: list[int]) -> None:
    session = keys(name, to, pitches)
    assert is_other_music(session.written, session.so_far())


@pytest.mark.parametrize(
    "struck",
    [
        pytest.param(lambda bar, index: [0], id="as asked for"),
        pytest.param(lambda bar, index: [0 if index < 3 else (6, -4, 3)[index % 3]], id="begun, then hardly a note"),
        pytest.param(lambda bar, index: [-1], id="another key"),
        pytest.param(lambda bar, index: [12 + (index % 4 == 1)], id="another octave, with slips"),
        pytest.param(lambda bar, index: [-2 if bar < 9 else 0], id="half as written"),
        pytest.param(lambda bar, index: [] if bar < 8 else [index % 3 == 1], id="from the middle, with slips"),
    ],
)
def test_the_piece_is_no_other_music_however_it_goes(struck: Struck) -> None:
    session = taken("ode-to-joy", "A", struck)
    assert not is_other_music(session.written, session.so_far())


@pytest.mark.parametrize(("name", "to", "pitches"), [
    ("ode-to-joy", "Ab", OTHER), ("greensleeves", "b", [48, 52, 55, 53, 57, 60, 55, 59, 62, 48, 52, 55]),
    ("aura-lee", "Eb", [*range(60, 73)]), ("aura-lee", "F#", [48, 52, 55, 60, 64, 67, 72, 67, 64, 60, 55, 52, 48]),
])  # fmt: skip
def test_what_the_hands_wander_over_is_nothing_of_the_piece_though_a_take_was_asked_for(
    name: str, to: str, pitches: list[int]
) -> None:
    session = keys(name, to, pitches)
    assert is_other_music(session.written, session.so_far(), asked_for=True)


@pytest.mark.parametrize("seed", range(4))
def test_a_learner_who_misses_every_other_note_plays_the_piece(seed: int) -> None:
    piece = shelf("ode-to-joy")
    worst = replace(learner.BEGINNER, slips=0.5, missed=0.08, extra=0.05, start=0.35, stop=0.75)
    session = Session(piece, plan(piece.key, "F#"))
    for press in learner.simulate(piece, session.expected, worst, seed).presses:
        session.hear(press)
    assert not is_other_music(session.written, session.so_far(), asked_for=True)


# A third apart and a fifth over the tonic, the octave in which a pianist tries a key.
TRIED = {"chord": [(0.0, 0), (0.04, 4), (0.06, 7)], "one by one": [(0.0, 0), (0.4, 4), (0.8, 7), (1.2, 4), (1.6, 0)]}


def after_a_chord(how: str, rest: float, root: int, name: str = "petzold-minuet-in-g", to: str = "E") -> Session:
    """A piece that is played as it stands, after a major chord on a root and a rest."""
    piece = shelf(name)
    session = Session(piece, plan(piece.key, to))
    tried = TRIED[how]
    for at, over in tried:
        session.hear(Press(at, root + over, 60))
    begins = tried[-1][0] + rest
    for note in session.expected.notes:
        session.hear(Press(begins + 0.6 * float(note.onset), note.midi, 60))
    session.finish()
    return session


@pytest.mark.parametrize("how", TRIED)
@pytest.mark.parametrize(("name", "to", "root"), [
    ("petzold-minuet-in-g", "E", 64), ("petzold-minuet-in-g", "Bb", 70), ("musette-in-d", "F", 65),
])  # fmt: skip
def test_who_finds_the_key_before_the_piece_is_told_nothing_of_it(how: str, name: str, to: str, root: int) -> None:
    """The keys were the right notes an octave too high, the hand displaced, or a going back from the end."""
    session = after_a_chord(how, 1.6, root, name, to)
    settled = session.settled
    assert settled is not None
    assert settled.span == (len(TRIED[how]), len(session.presses))
    assert (told(session), settled.moves, settled.missed) == ([], (), ())
    assert {mark.cause for mark in settled.counted} == {RIGHT}
    # Nor have its keys a place on the page.
    on_page = [press for _, press in of_notes(session.written, session.presses, settled)]
    assert on_page == session.presses[len(TRIED[how]) :]


def test_a_chord_that_is_not_of_the_key_or_goes_on_at_once_is_of_the_take() -> None:
    for rest, root in ((0.5, 64), (1.6, 65)):
        settled = after_a_chord("chord", rest, root).settled
        assert settled is not None
        assert settled.span is None or settled.span[0] == 0


def test_first_notes_played_right_and_begun_again_are_told() -> None:
    """They may be of the tonic chord, too."""
    piece = shelf("three-bells")
    session = Session(piece, plan(piece.key, "D"))
    first = session.expected.notes[:3]
    for at, note in enumerate(first):
        session.hear(Press(0.6 * at, note.midi, 60))
    for note in session.expected.notes:
        session.hear(Press(4.0 + 0.6 * float(note.onset), note.midi, 60))
    settled = session.finish()
    assert settled.span is None


TRIADS = "X:1\nT:On the Triad\nM:4/4\nL:1/4\nK:C\nC E G E|C D E F|G E C D|E D C2|]\n"


def test_first_notes_of_the_tonic_chord_with_a_slip_and_a_pause_are_the_piece(tmp_path: Path) -> None:
    """What follows begins with the key of the first note, and is the second bar."""
    file = tmp_path / "triad.abc"
    file.write_text(TRIADS, encoding="utf-8")
    piece = read(file)
    session = Session(piece, plan(piece.key, "D"))
    at = 0.0
    for which, note in enumerate(session.expected.notes):
        at += 1.8 if which == 4 else 0.5
        session.hear(Press(at, note.midi + (5 if which == 2 else 0), 60))
    settled = session.finish()
    assert (settled.span, settled.missed) == (None, ())
    assert settled.marks[2].cause != RIGHT
