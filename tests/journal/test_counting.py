"""Counting takes: many at once as one by one, and both as a plain reading of the definitions."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from statistics import median

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.journal.played import SCALE, play
from trainer.coaching.path.cells import cells, learn, played_of
from trainer.following.marks import CAUSES, MISSED, RIGHT, Mark, Settled
from trainer.hands.keyboard import ANY
from trainer.journal import rescue
from trainer.journal.columns import columns_of
from trainer.journal.counting import Counting, facts
from trainer.journal.erasing import erase_takes
from trainer.journal.store import Journal
from trainer.journal.summary import by_facet, by_key, whole
from trainer.journal.tally import LONGEST_LATE, PieceLabels
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import LEFT, Note, sorted_notes
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan
from trainer.session import Session, Summary, summarise

calm = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LABELS = PieceLabels(SCALE)
WRITTEN, TARGET = Key.parse("C"), Key.parse("Eb")
notes = st.integers(0, len(SCALE.notes) - 1)
# Playing on is likelier than chance, so that there are ways to be timed.
struck = [st.just(note) | notes | st.none() for note in range(len(SCALE.notes))]
causes = st.just(RIGHT) | st.sampled_from(CAUSES)
offsets = st.integers(-12, 12)


@st.composite
def takes(draw: st.DrawFn) -> tuple[list[Press], Settled]:
    count = draw(st.integers(0, 40))
    waits = draw(st.lists(st.floats(0, 3), min_size=count, max_size=count))
    presses, at = [], 0.0
    for wait in waits:
        at += wait
        presses.append(Press(at, 60))
    marks = []
    for press in range(count):
        note = draw(struck[min(press, len(SCALE.notes) - 1)])
        cause = draw(causes) if note is not None else "extra"
        marks.append(Mark(press, note, cause, 1.0, (), 0 if cause == RIGHT else draw(offsets)))
    return presses, Settled(tuple(marks), tuple(sorted(draw(st.sets(notes, max_size=5)))), ())


def plainly(presses: list[Press], settled: Settled) -> dict[tuple[str, str], list[float]]:
    """The definitions in `trainer.journal.tally`, read press by press."""
    found: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0, 0, 0, 0.0])
    ways, last_at, last_onset = {}, 0.0, None
    for press, mark in zip(presses, settled.marks, strict=True):
        if mark.cause != RIGHT or mark.note is None or SCALE.notes[mark.note].onset == last_onset:
            continue
        onset = SCALE.notes[mark.note].onset
        if last_onset is not None and onset > last_onset and press.at > last_at:
            ways[mark.press] = (press.at - last_at) / float(onset - last_onset)
        last_at, last_onset = press.at, onset
    usual = median(ways.values()) if len(ways) >= 3 else None

    def add(facet: str, value: str, right: bool, late: float | None) -> None:
        if value:
            count = found[facet, value]
            count[0] += 1
            count[1] += right
            if late is not None:
                count[2] += 1
                count[3] += late

    for mark in settled.marks:
        late = None
        if usual is not None and mark.press in ways:
            late = math.log(min(max(ways[mark.press] / usual, 1 / LONGEST_LATE), LONGEST_LATE))
        right = mark.cause == RIGHT
        add("cause", mark.cause, right, late)
        if mark.note is not None:
            add("degree", LABELS.degrees[mark.note], right, late)
            add("interval", LABELS.intervals[mark.note], right, late)
            add("hand", "right", right, late)
            add("distance", "3", right, late)
            if not right:
                add("habit", f"{LABELS.degrees[mark.note]}|{mark.cause}|{mark.offset:+d}", False, None)
    for missed in settled.missed:
        add("cause", MISSED, False, None)
        add("degree", LABELS.degrees[missed], False, None)
        add("interval", LABELS.intervals[missed], False, None)
        add("hand", "right", False, None)
        add("distance", "3", False, None)
        add("habit", f"{LABELS.degrees[missed]}|{MISSED}|+0", False, None)
    return dict(found)


@calm
@given(takes())
def test_a_take_is_counted_as_defined(take: tuple[list[Press], Settled]) -> None:
    meant = plainly(*take)
    counts = facts(LABELS, WRITTEN, TARGET, columns_of(*take)).counts
    assert counts.keys() == meant.keys()
    for place, count in counts.items():
        assert [count.n, count.right, count.timed] == meant[place][:3], place
        assert count.late == pytest.approx(meant[place][3], abs=1e-9)


@calm
@given(st.lists(st.tuples(st.integers(0, 2), takes()), max_size=6))
def test_many_takes_at_once_count_as_one_by_one(played: list[tuple[int, tuple[list[Press], Settled]]]) -> None:
    counting = Counting()
    meant: dict[tuple[int, str, str], list[float]] = defaultdict(lambda: [0, 0, 0, 0.0])
    for group, take in played:
        # Labels of its own each time: takes of several pieces come together.
        counting.add(group, PieceLabels(SCALE), 3, columns_of(*take))
        for (facet, value), count in facts(LABELS, WRITTEN, TARGET, columns_of(*take)).counts.items():
            sums = meant[group, facet, value]
            for at, more in enumerate((count.n, count.right, count.timed, count.late)):
                sums[at] += more
    rows = list(counting.rows())
    assert len({row[:3] for row in rows}) == len(rows)
    assert {row[:3] for row in rows} == meant.keys()
    for group, facet, value, *sums in rows:
        assert sums == pytest.approx(meant[group, facet, value], abs=1e-9)


def elsewhere(journal: Journal) -> None:
    """A take that lay an octave higher from the first note to the last, marked by the session itself."""
    wish = plan(SCALE.key, "Eb")
    session = Session(SCALE, wish, record=journal.begin(SCALE, wish, player="Ada"))
    for number, note in enumerate(session.expected.notes):
        session.hear(Press(0.5 * number, note.midi + 12))
    assert session.finish().shift == 12


def test_a_take_all_of_it_in_another_octave_says_nothing_of_its_key(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        elsewhere(journal)
        assert learn(journal, 1) is None
        assert cells(journal, "Ada") == {}


def test_the_cost_of_a_take_is_in_the_sums_of_its_day_and_goes_with_it(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        play(journal, "C", player="Ada")
        play(journal, "Eb", player="Ada", beat=0.75)
        cost = journal.row(2).cost
        assert cost is not None
        assert cost == pytest.approx(1.5)
        sums = "SELECT costs, cost_log, cost_square FROM daily WHERE key = 'Eb'"
        assert journal.ask(sums) == [(1, pytest.approx(math.log(cost)), pytest.approx(math.log(cost) ** 2))]
        # Marked anew, it is one cost still.
        settled = journal.take(2).settled
        assert settled is not None
        journal.settle(2, settled, Summary(16, 16, 16, 1.0, 80.0, 11.25))
        assert journal.ask(sums) == [(1, pytest.approx(math.log(cost)), pytest.approx(math.log(cost) ** 2))]
        erase_takes(journal, [2])
        assert journal.ask(sums) == []


def test_a_take_all_of_it_in_another_octave_is_practice_but_no_heap_of_slips(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        elsewhere(journal)
        assert journal.ask("SELECT * FROM tally") == []
        assert journal.ask("SELECT takes, right, played, missed FROM daily") == [(1, 0, 0, 0)]
        assert whole(journal, "Ada").minutes > 0
        play(journal, "Eb", player="Ada")
        assert whole(journal, "Ada").accuracy == 1.0
        # Nor do its seconds make the notes of the others slower: 16 of them in 7.5 s.
        assert by_key(journal, "Ada")["Eb"].per_minute == pytest.approx(128)
        assert [one.value for one in by_facet(journal, "Ada", "cause")] == [RIGHT]
        with Journal(tmp_path / "other.sqlite") as other:
            assert rescue.merge(other.db, journal.path) == 2
            assert other.ask("SELECT * FROM daily") == journal.ask("SELECT * FROM daily")
            assert other.ask("SELECT * FROM tally") == journal.ask("SELECT * FROM tally")
        erase_takes(journal, [1, 2])
        assert journal.ask("SELECT * FROM daily") == []


def test_a_journal_that_counted_such_takes_is_counted_anew_once(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        elsewhere(journal)
        play(journal, "G", player="Ada")
        sums = (
            "SELECT facet, value, n, right, timed FROM tally ORDER BY 1, 2",
            "SELECT takes, right, played, aside > 0 FROM daily",
        )
        wanted = [journal.ask(one) for one in sums]
        # As an earlier program left it.
        with journal.changing() as db:
            db.execute("DELETE FROM fact")
            db.execute("UPDATE daily SET played = played + 16, aside = 0 WHERE key = 'Eb'")
            db.execute("INSERT INTO tally SELECT player, facet, week, 'Eb', 'octave', 16, 0, 0, 0 FROM tally "
                       "WHERE facet = 'cause'")  # fmt: skip
        assert [journal.ask(one) for one in sums] != wanted
    with Journal(journal.path) as again:
        assert [again.ask(one) for one in sums] == wanted
        again.ask("UPDATE daily SET takes = 7")
    with Journal(journal.path) as third:
        assert third.ask("SELECT DISTINCT takes FROM daily") == [(7,)]


def bells(journal: Journal) -> None:
    """A left hand alone, a note a bar under four of the right, at two seconds a bar."""
    under = tuple(Note(f"l{bar}", SpelledPitch("C", 0, 3), Fraction(4 * bar), Fraction(4), LEFT) for bar in range(4))
    piece = replace(SCALE, notes=tuple(sorted_notes([*SCALE.notes, *under])))
    wish = plan(piece.key, "Eb")
    take = journal.begin(piece, wish, player="Ada", hands=LEFT)
    left = [at for at, note in enumerate(piece.notes) if note.hand == LEFT]
    marks = tuple(Mark(press, note, RIGHT) for press, note in enumerate(left))
    for mark in marks:
        take.press(Press(2.0 * mark.press, 51), mark)
    take.finish(Settled(marks, (), ()), Summary(4, 4, 4, 1.0, 120.0, 6.0))


def test_the_pace_of_a_hand_alone_is_that_of_its_own_notes(tmp_path: Path) -> None:
    """What the other hand has between its notes is waited out: three bars of four in six seconds are 120 a minute."""
    with Journal(tmp_path / "journal.sqlite") as journal:
        bells(journal)
        assert journal.row(1).pace == pytest.approx(120)
        assert journal.ask("SELECT quarters FROM daily") == [(12,)]


def test_a_journal_of_paces_by_both_hands_is_put_right_once(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        bells(journal)
        play(journal, "G", player="Ada")
        wanted = "SELECT quarters, pace FROM take ORDER BY id", "SELECT quarters FROM daily ORDER BY key"
        right = [journal.ask(one) for one in wanted]
        # As an earlier program left it.
        with journal.changing() as db:
            db.execute("DELETE FROM fact WHERE name LIKE 'pace%'")
            db.execute("UPDATE take SET quarters = 3, pace = 30 WHERE hands = 'left'")
            db.execute("UPDATE daily SET quarters = quarters - 9 WHERE key = 'Eb'")
    with Journal(journal.path) as again:
        assert [again.ask(one) for one in wanted] == right
        again.ask("UPDATE take SET pace = 7 WHERE hands = 'left'")
    with Journal(journal.path) as third:
        assert third.row(1).pace == 7


def test_a_cell_remembers_how_often_the_player_stopped_to_think(tmp_path: Path) -> None:
    """Two waits in all the bars of the tune; a journal that timed nothing knows of none."""
    with Journal(tmp_path / "journal.sqlite") as journal:
        play(journal, "D", player="Ada")
        kept = journal.take(1)
        assert played_of(kept).waits == 0.0
        twice = replace(kept, row=replace(kept.row, hesitations=2))
        assert played_of(twice).waits == pytest.approx(2 / len(SCALE.bars))


def around_the_piece(journal: Journal, told: bool) -> None:
    """A take with three keys of no note before it and four after, and one note left out; told apart or not."""
    take = journal.begin(SCALE, plan(SCALE.key, "C"), player="Ada")
    pitches = [48, 50, 52, *(note.midi for note in SCALE.notes[:-1]), 72, 74, 76, 77]
    end = len(pitches) - 4
    marks = [Mark(at, at - 3, RIGHT) if 3 <= at < end else Mark(at, None, "extra") for at in range(len(pitches))]
    settled = Settled(tuple(marks), (15,), (), span=(3, end) if told else None)
    presses = [Press(0.5 * at, pitch) for at, pitch in enumerate(pitches)]
    for press, mark in zip(presses, marks, strict=True):
        take.press(press, mark)
    take.finish(settled, summarise(SCALE, "both", ANY, presses, settled, 120.0))
    journal.flush()


def test_the_journal_counts_what_was_played_of_the_piece(tmp_path: Path) -> None:
    with Journal(tmp_path / "here.sqlite") as journal:
        around_the_piece(journal, told=True)
        (row,) = journal.takes()
        assert (row.right, row.played, row.missed, row.accuracy) == (15, 15, 1, 15 / 16)
        assert row.seconds == pytest.approx(7.0)
        assert row.pace == pytest.approx(120.0)
        assert {one.value: one.n for one in by_facet(journal, "Ada", "cause")} == {RIGHT: 15, MISSED: 1}
        # Whoever reads years of takes counts them alike.
        with Journal(tmp_path / "there.sqlite") as other:
            assert rescue.merge(other.db, journal.path) == 1
            assert other.ask("SELECT * FROM tally") == journal.ask("SELECT * FROM tally")
            assert other.ask("SELECT * FROM daily") == journal.ask("SELECT * FROM daily")
        kept = journal.take(row.id).settled
        assert kept is not None
        assert kept.span == (3, 18)
        erase_takes(journal, [row.id])
        assert not journal.ask("SELECT * FROM tally")
        assert not journal.ask("SELECT * FROM daily")


def test_a_take_of_before_stays_as_it_was_counted(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        around_the_piece(journal, told=False)
        (row,) = journal.takes()
        assert (row.right, row.played) == (15, 22)
        assert {one.value: one.n for one in by_facet(journal, "Ada", "cause")} == {RIGHT: 15, MISSED: 1, "extra": 7}
        erase_takes(journal, [row.id])
        assert not journal.ask("SELECT * FROM tally")
