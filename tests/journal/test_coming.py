"""What is heard while the window is busy is safe at once, and in its take once."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from tests.journal.played import SCALE
from trainer.journal import coming
from trainer.journal.store import Journal
from trainer.journal.take import Take
from trainer.journal.values import FINISHED
from trainer.listening.press import Event, Press, Release
from trainer.music.transpose import plan
from trainer.session import Session, heard_again

PLAYED = [Press(100.0 + at / 4, 67 + at, 64) for at in range(4)]


def begin(journal: Journal) -> Session:
    wish = plan(SCALE.key, "G")
    return Session(SCALE, wish, record=journal.begin(SCALE, wish, player="Ada"))


def told_all(journal: Journal) -> Session:
    """A take begun, and all its presses told of before any is dealt with."""
    session = begin(journal)
    for press in PLAYED:
        journal.coming(press, press)
    return session


def test_what_an_older_program_noted_of_a_take_is_taken_in(
    killed: Callable[[Callable[[Journal], None]], Journal], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before a verse was kept its note of a take ended earlier."""
    monkeypatch.setattr(Take, "row_values", lambda take, whole=Take.row_values: whole(take)[:-1])

    def act(journal: Journal) -> None:
        told_all(journal)

    with killed(act) as journal:
        (row,) = journal.takes()
        assert len(journal.take(row.id).presses) == len(PLAYED)
        assert row.verse is None


def deal(journal: Journal, session: Session, event: Event) -> None:
    """As the window does: times count from the take's first press."""
    moved = replace(event, at=event.at - PLAYED[0].at, velocity=64) if isinstance(event, Press) else event
    session.hear(moved)
    journal.dealt_with(event)


def notes(path: Path) -> list[Path]:
    return [*path.parent.glob("journal-coming-*")]


@pytest.fixture
def killed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[Journal], None]], Journal]:
    """Lets a function use a journal as a program would that is then killed; gives the journal opened again."""
    monkeypatch.setattr(coming, "is_alive", lambda _: False)

    def go(act: Callable[[Journal], None]) -> Journal:
        path = tmp_path / "journal.sqlite"
        first = Journal(path)
        act(first)
        # Everything as it would lie there: the file of notes as it is now, the log as it is now.
        kept = {one: one.read_bytes() for one in notes(path)}
        first.flush()
        first.close()
        for one, data in kept.items():
            one.write_bytes(data)
        return Journal(path, strict=True)

    return go


def test_presses_nobody_marked_are_in_the_take_and_can_be_marked(
    killed: Callable[[Callable[[Journal], None]], Journal],
) -> None:
    def act(journal: Journal) -> None:
        begin(journal)
        for press in PLAYED:
            journal.coming(press, press)

    with killed(act) as again:
        (row,) = again.unfinished()
        kept = again.take(row.id)
        assert (row.player, row.title) == ("Ada", SCALE.title)
        assert [(press.at, press.pitch) for press in kept.presses] == [(at / 4, 67 + at) for at in range(4)]
        assert kept.first == ()
        session = heard_again(kept)
        assert session.settled is not None
        assert session.summary is not None
        again.settle(row.id, session.settled, session.summary, session.timing)
        assert again.row(row.id).state == FINISHED
        assert [mark.press for mark in again.take(row.id).first] == [0, 1, 2, 3]
        assert not notes(again.path)


def test_some_marked_and_some_not_are_each_there_once(
    killed: Callable[[Callable[[Journal], None]], Journal],
) -> None:
    def act(journal: Journal) -> None:
        session = begin(journal)
        for press in PLAYED[:2]:
            journal.coming(press, press)
            deal(journal, session, press)
        journal.flush()
        for press in PLAYED[2:]:
            journal.coming(press, press)

    with killed(act) as again:
        (row,) = again.unfinished()
        kept = again.take(row.id)
        assert [(press.at, press.pitch) for press in kept.presses] == [(at / 4, 67 + at) for at in range(4)]
        assert len(kept.first) == 2


def test_killed_between_the_mark_and_the_note_of_it_a_press_is_there_once(
    killed: Callable[[Callable[[Journal], None]], Journal],
) -> None:
    def act(journal: Journal) -> None:
        session = told_all(journal)
        for press in PLAYED:
            deal(journal, session, press)
        # The notes are looked at before the journal has written anything.

    with killed(act) as again:
        (row,) = again.unfinished()
        assert len(again.take(row.id).presses) == 4


def test_what_was_told_before_the_take_began_keeps_its_time(
    killed: Callable[[Callable[[Journal], None]], Journal],
) -> None:
    def act(journal: Journal) -> None:
        session = told_all(journal)
        for press in PLAYED[:2]:
            deal(journal, session, press)
        # The journal has written two; nobody has marked the others.
        journal.flush()

    with killed(act) as again:
        (row,) = again.unfinished()
        assert [(press.at, press.pitch) for press in again.take(row.id).presses] == [
            (at / 4, 67 + at) for at in range(4)
        ]


def test_what_is_written_leaves_nothing_behind(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal.sqlite") as journal:
        session = begin(journal)
        for press in PLAYED:
            journal.coming(press, press)
            deal(journal, session, press)
        journal.flush()
        (note,) = notes(journal.path)
        assert note.stat().st_size == 0
        assert note.stat().st_mode & 0o077 == 0 or os.name == "nt"
    assert not notes(journal.path)


def test_what_is_no_part_of_a_take_leaves_no_trace(
    killed: Callable[[Callable[[Journal], None]], Journal],
) -> None:
    def act(journal: Journal) -> None:
        begin(journal)
        steering, release = Press(1.0, 21, 64), Release(1.1, 21)
        journal.coming(steering, steering)
        journal.dealt_with(steering)
        journal.flush()
        journal.coming(release, release)

    with killed(act) as again:
        assert not again.takes()


@pytest.mark.parametrize(
    "damage", [b"", b"came", b"came 1 x - a b c d\n", b"\xff\xfe\n" * 9, b"take x {}\ncame 1 x - 0 1 2 3\n"]
)
def test_damaged_notes_do_no_harm(tmp_path: Path, damage: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coming, "is_alive", lambda _: False)
    path = tmp_path / "journal.sqlite"
    Journal(path).close()
    (tmp_path / "journal-coming-1-ab.sqlite").write_bytes(damage)
    with Journal(path, strict=True) as journal:
        assert not journal.takes()
        assert not notes(path)


def test_notes_of_a_program_that_runs_are_left_to_it(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    with Journal(path) as journal:
        begin(journal)
        journal.coming(PLAYED[0], PLAYED[0])
        with Journal(path, strict=True) as other:
            assert not other.takes()
        assert notes(path)


def test_a_program_really_killed(tmp_path: Path) -> None:
    program = (
        "import sys, os, signal; sys.path.insert(0, '.')\n"
        "from tests.journal.test_coming import PLAYED, begin\n"
        "from trainer.journal.store import Journal\n"
        "journal = Journal(sys.argv[1]); begin(journal)\n"
        "for press in PLAYED: journal.coming(press, press)\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    if not hasattr(signal, "SIGKILL"):
        pytest.skip("processes are killed by a signal on POSIX systems")
    path = tmp_path / "journal.sqlite"
    root = Path(__file__).resolve().parents[2]
    assert subprocess.run([sys.executable, "-c", program, str(path)], cwd=root).returncode == -signal.SIGKILL
    with Journal(path, strict=True) as journal:
        (row,) = journal.unfinished()
        assert len(journal.take(row.id).presses) == 4


def test_a_line_cut_off_in_the_middle_costs_itself_alone(
    killed: Callable[[Callable[[Journal], None]], Journal],
) -> None:
    """As where the disk is full for a moment: the next line stands right behind what was left of it."""

    def act(journal: Journal) -> None:
        told_all(journal)
        (note,) = notes(journal.path)
        lines = note.read_bytes().split(b"\n")
        (second,) = (at for at, line in enumerate(lines) if line.startswith(b"came 2 "))
        lines[second : second + 2] = [lines[second][:20] + lines[second + 1]]
        note.write_bytes(b"\n".join(lines))

    with killed(act) as again:
        (row,) = again.unfinished()
        assert [press.pitch for press in again.take(row.id).presses] == [67, 70]


def test_where_the_file_cannot_be_emptied_any_more_the_journal_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a network drive that went: the thread that writes must not end over it."""

    def refused(*_: object) -> None:
        raise OSError(errno.ESTALE, "Stale file handle")

    monkeypatch.setattr("trainer.journal.coming.os.ftruncate", refused)
    with Journal(tmp_path / "journal.sqlite") as journal:
        session = told_all(journal)
        for press in PLAYED:
            deal(journal, session, press)
        assert journal.flush()
        assert journal.ask("SELECT count(*) FROM live") == [(4,)]
        (note,) = notes(journal.path)
        assert note.read_bytes().count(b"done ") == 4
