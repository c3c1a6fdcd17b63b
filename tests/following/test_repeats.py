"""Takes without the repeats, or with other ones than the page has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from tests.following.taking import taken
from trainer.following import marks as m
from trainer.following.reach import reach
from trainer.following.words import say_move
from trainer.music.piece import BOTH, Piece
from trainer.scores.reading import read
from trainer.session import Session

STRAINS = """X:1
T:Three Strains
M:4/4
L:1/4
Q:1/4=90
K:Bb
V:1
|: B c d e | f2 d B | g f e c | d4 :|: d e f g | f2 e d | e d c B | c4 :|: b2 a g | f e d c | d c B A | B4 :|
V:2 clef=bass
|: B,2 F,2 | D2 B,2 | E2 C2 | F,4 :|: B,2 D2 | D2 B,2 | C2 G,2 | F,4 :|: B,2 E2 | D2 F,2 | E2 F,2 | B,,4 :|
"""
ENDINGS = """X:1
T:Hay Wain
M:4/4
L:1/4
Q:1/4=90
K:Bb
V:1
|: B c d e | f2 d B |1 g f e c | d4 :|2 g f A c | B4 |: d e f g | f2 e d | c B A c | B4 :|
V:2 clef=bass
|: B,2 F,2 | D2 B,2 |1 E2 C2 | F,4 :|2 E2 F,2 | B,,4 |: B,2 D2 | D2 B,2 | E2 F,2 | B,,4 :|
"""
# Bars of each strain, the first and the second time.
A, A2, B, B2, C, C2 = (list(range(at, at + 4)) for at in range(0, 24, 4))


@pytest.fixture(scope="module")
def strains(tmp_path_factory: pytest.TempPathFactory) -> Piece:
    return _read(tmp_path_factory.mktemp("strains"), STRAINS)


@pytest.fixture(scope="module")
def endings(tmp_path_factory: pytest.TempPathFactory) -> Piece:
    return _read(tmp_path_factory.mktemp("endings"), ENDINGS)


def _read(folder: Path, tune: str) -> Piece:
    place = folder / "tune.abc"
    place.write_text(tune)
    return read(place)


def moves(session: Session) -> list[str]:
    return [say_move(move, session.written) for move in session.finish().moves if move.kind != m.HESITATED]


def left_out(session: Session) -> list[int]:
    """The bars printed of which notes were left out, each note once."""
    piece = session.written
    return [piece.bar_at(piece.notes[note].onset).number for note in session.finish().missed]


@pytest.mark.parametrize(
    "bars", [A + B + C, A + B + B2 + C + C2, A + A2 + B + C + C2, A + B + C + C2], ids=["none", "BC", "AC", "C"]
)
def test_a_repeat_not_taken_is_no_skip_and_leaves_nothing_out(strains: Piece, bars: list[int]) -> None:
    session = taken(strains, "F", bars=bars)
    settled, summary = session.finish(), session.summary
    assert {mark.cause for mark in settled.marks} == {m.RIGHT}
    assert (settled.missed, moves(session)) == ((), [])
    assert summary is not None
    assert summary.accuracy == 1.0
    found = reach(strains, session.plan, BOTH, settled)
    assert found is not None
    assert found.is_whole


def test_bars_played_once_are_those_of_the_first_time(strains: Piece) -> None:
    def step_off(_: int, note: int) -> list[int]:
        return [2] if strains.notes[note].hand == "right" and strains.notes[note].onset in (6, 38) else [0]

    session = taken(strains, "F", step_off, bars=A + B + C)
    slips = [mark for mark in session.finish().marks if mark.cause != m.RIGHT]
    assert [session.words(mark).split(",")[0] for mark in slips] == ["bar 2", "bar 6"]
    twice = taken(strains, "F", lambda bar, _: [2] if bar == 5 else [0], bars=A + A2 + B + C)
    slips = [mark for mark in twice.finish().marks if mark.cause != m.RIGHT]
    assert {twice.words(mark).split(",")[0] for mark in slips} == {"bar 2 (second time)"}


def test_who_begins_in_the_middle_and_takes_the_repeat_plays_it_the_second_time(strains: Piece) -> None:
    session = taken(strains, "F", bars=[2, 3, *A2, *B])
    played = [strains.bar_index(strains.notes[mark.note].onset) for mark in session.finish().marks if mark.note]
    assert sorted(set(played)) == [2, 3, *A2, *B]


def test_what_was_skipped_on_the_page_is_left_out_once(strains: Piece) -> None:
    session = taken(strains, "F", bars=[0, 1, 2, 9, 10, 11, *C])
    assert moves(session) == ["skipped from bar 3, beat 4 to bar 6, beat 1"]
    assert sorted(set(left_out(session))) == [4, 5]
    assert len(left_out(session)) == len(printed(strains, (4, 5)))
    # Within one time round a bar is left out, whatever the other time has of it.
    again = taken(strains, "F", bars=[*A, *A2, 8, 10, 11, *B2, *C])
    assert sorted(set(left_out(again))) == [6]


def printed(piece: Piece, bars: Iterable[int]) -> set[str]:
    return {note.id for note in piece.notes if piece.bar_at(note.onset).number in bars}


def test_a_first_ending_taken_twice_leaves_out_the_second_alone(endings: Piece) -> None:
    session = taken(endings, "G", bars=[0, 1, 2, 3, 0, 1, 2, 3, 8, 9, 10, 11])
    assert set(left_out(session)) == {5, 6}
    straight_on = taken(endings, "G", bars=[0, 1, 6, 7, 8, 9, 10, 11])
    assert (left_out(straight_on), moves(straight_on)) == ([], [])


def test_a_slip_where_the_first_ending_is_taken_twice_is_not_left_out_as_well(endings: Piece) -> None:
    """What was struck amiss in one of the two times was told left out besides."""
    (slipped,) = [at for at, note in enumerate(endings.notes) if note.hand == "right" and note.onset == 1]
    for times in ([[2], [0]], [[0], [2]]):
        played = iter(times)

        def struck(_: int, note: int, played: Iterator[list[int]] = played) -> list[int]:
            return next(played) if note == slipped else [0]

        session = taken(endings, "G", struck, bars=[0, 1, 2, 3, 0, 1, 2, 3, 8, 9, 10, 11])
        assert [mark.note for mark in session.finish().marks if mark.cause != m.RIGHT] == [slipped]
        assert set(left_out(session)) == {5, 6}


def test_a_note_put_right_the_first_time_and_left_out_the_second_is_left_out(endings: Piece) -> None:
    (slipped,) = [at for at, note in enumerate(endings.notes) if note.hand == "right" and note.onset == 1]
    played = iter([[2], [0], []])
    session = taken(
        endings,
        "G",
        lambda _, note: next(played) if note == slipped else [0],
        bars=[0, 0, 1, 2, 3, 0, 1, 2, 3, 8, 9, 10, 11],
    )
    assert left_out(session).count(1) == 1


def test_a_repeat_taken_once_too_often_is_a_going_back(strains: Piece) -> None:
    session = taken(strains, "F", bars=A + A2 + B + B2 + B2 + C + C2)
    assert [one.startswith("went back from bar 8") for one in moves(session)] == [True]


def test_da_capo_the_first_part_alone_is_not_the_whole(tmp_path: Path) -> None:
    """It begins and ends as the piece does, and yet the middle was never played."""
    middle = "G A G F | E4 !D.C.alfine!"
    first = "C D E F | G F E D | E D C E | F E D F | G A G F | E F E D | E D E D | !fine! C4"
    piece = _read(tmp_path, f"X:1\nT:Mill Pond\nM:4/4\nL:1/4\nQ:1/4=90\nK:C\n{first} | {middle} |]\n")
    found = [
        reach(piece, session.plan, BOTH, session.finish())
        for session in (taken(piece, "D", bars=range(bars)) for bars in (8, 18))
    ]
    assert [(one.is_whole, one.is_most) for one in found if one is not None] == [
        (False, True), (True, True),
    ]  # fmt: skip


def test_short_strains_without_their_repeats_have_the_pulse_they_were_played_in(tmp_path: Path) -> None:
    """Bars of one note, each repeated: the time of what was left out was counted as played in none."""
    strains = "|: C4 :|: D4 :|: E F G2 :|: c4 :|"
    piece = _read(tmp_path, f"X:1\nT:Hen House\nM:4/4\nL:1/4\nQ:1/4=90\nK:C\n{strains}\n")
    found = [taken(piece, "D", bars=bars).timing for bars in (range(0, 8, 2), range(8))]
    assert [round(one.pulse_bpm or 0) for one in found if one is not None] == [100, 100]
