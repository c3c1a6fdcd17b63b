"""A scale before the beginning, and other music after the end."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.following.taking import Struck, shelf, taken
from tests.following.test_stretches import told
from trainer.following.marks import AS_WRITTEN, EXTRA, RIGHT
from trainer.following.outside import false_start, is_other_music
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.session import Session

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
    assert whole == replace(alone, seconds=pytest.approx(alone.seconds), pulse_bpm=pytest.approx(alone.pulse_bpm))
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
