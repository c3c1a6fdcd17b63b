"""How far a take went is filed with it: what the lists, set work, the set list and the cost of transposing go by."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.following.taking import shelf
from trainer.coaching.work.assignments import Assignment
from trainer.coaching.work.work import work_of
from trainer.journal.store import Journal
from trainer.journal.values import TakeRow
from trainer.listening.press import Press
from trainer.music.piece import LEFT, Piece
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.session import Session

MELODY_ABC = """X:1
T:Stairs
M:4/4
L:1/4
K:C
|: C D E F | G F E D | E D C D | E2 C2 :|
|: G A B c | B A G F | E F G F | E4 :|
"""


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        yield kept


def played(journal: Journal, piece: Piece, to: str, notes: list[int], beat: float = 0.5, slips: int = 0) -> TakeRow:
    """A take of these notes of a piece, one after the other as long as each lasts, asked for with both hands; the first
    few of them a tone too high.
    """
    record = journal.begin(piece, plan(piece.key, to), player="Ada")
    session = Session(piece, record.about.plan, record=record)
    at, before = 0.0, session.expected.notes[notes[0]].onset
    for number, index in enumerate(notes):
        note = session.expected.notes[index]
        # A repeat that is left out takes no time.
        at += beat * min(float(note.onset - before), 4.0)
        before = note.onset
        session.hear(Press(at, note.midi + 2 * (number < slips), 64))
    session.finish()
    journal.flush()
    (row,) = journal.takes("Ada", 1)
    return row


def test_a_melody_alone_is_no_piece_for_both_hands_and_costs_nothing(journal: Journal) -> None:
    """Of a lullaby with 24 of 28 notes in the right hand: set work was done, and a song ready, without the left."""
    piece = shelf("lure-lure-laempken")
    every = list(range(len(piece.notes)))
    played(journal, piece, piece.key.short, every)
    right = [at for at in every if piece.notes[at].hand != LEFT]
    assert len(right) > 0.8 * len(every)
    row = played(journal, piece, "G", right)
    assert (row.right, row.played, row.missed) == (len(right), len(right), 0)
    assert not row.is_most
    assert row.cost is None, "one hand is not measured by two"
    work = (Assignment(piece.title, piece.title, ("G",)),)
    (found,) = work_of(journal, "Ada", work, row.began.date())
    assert [(one.tried, one.reached) for one in found.keys] == [(1, 0)]
    whole = played(journal, piece, "G", every)
    assert whole.is_most
    assert whole.cost is not None


def stairs(folder: Path) -> tuple[Piece, list[int]]:
    """A piece with repeats, and its notes without them."""
    path = folder / "stairs.abc"
    path.write_text(MELODY_ABC, encoding="utf-8")
    piece = read(path)
    once: dict[str, int] = {}
    for at, note in enumerate(piece.notes):
        once.setdefault(note.id, at)
    return piece, sorted(once.values())


def test_a_piece_without_its_repeats_is_the_whole_piece(journal: Journal, tmp_path: Path) -> None:
    """It was told as a part of itself, and set work with repeats was never done by who left them out."""
    piece, notes = stairs(tmp_path)
    assert len(piece.notes) == 2 * len(notes)
    row = played(journal, piece, "D", notes)
    assert row.missed == 0
    assert row.is_most
    half = played(journal, piece, "D", notes[: len(notes) // 2])
    assert not half.is_most


def test_a_piece_without_its_repeats_has_a_cost_though_not_every_note_is_right(
    journal: Journal, tmp_path: Path
) -> None:
    """One slip left it less than half of what the repeats unfold to."""
    piece, notes = stairs(tmp_path)
    played(journal, piece, piece.key.short, notes, slips=2)
    row = played(journal, piece, "D", notes, beat=0.75, slips=2)
    assert row.right is not None
    assert 2 * row.right < row.notes
    assert row.cost == pytest.approx(1.5)
    # Half of the page is not enough with slips.
    assert played(journal, piece, "D", notes[: len(notes) // 2 + 1], slips=2).cost is None
