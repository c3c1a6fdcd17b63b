"""Nothing heard is lost, and what was written is read back as it was."""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.journal.played import SCALE, patience, play
from trainer.coaching.path.cells import hold_help, learn
from trainer.coaching.sight.fresh import next_seed
from trainer.following.marks import RIGHT, SIGNATURE, Finding, Mark, Move, Settled
from trainer.journal import erasing, files, processes, rescue, schema, store
from trainer.journal.erasing import erase_takes
from trainer.journal.errors import JournalError
from trainer.journal.export import take_json, write_csv
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED, KeptTake
from trainer.listening.press import Pedal, Press, Release
from trainer.music.piece import Singer
from trainer.music.transpose import plan
from trainer.session import Summary


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite"


def test_a_take_is_read_back_as_it_was_played(place: Path) -> None:
    with Journal(place) as journal:
        play(journal, "Eb", slips={3: SIGNATURE}, player="Ada", tempo=120.0, help="bars")
    with Journal(place) as journal:
        (row,) = journal.takes("Ada")
        kept = journal.take(row.id)
    assert (row.title, row.written, row.target, row.interval) == ("tune", "C", "Eb", "+m3")
    assert (row.right, row.played, row.missed, row.help, row.tempo) == (15, 16, 0, "bars", 120.0)
    assert kept.piece == SCALE
    assert kept.plan == plan(SCALE.key, "Eb")
    assert kept.presses[0] == Press(1.5, 63, 60)
    assert kept.events[1] == Release(1.7, 63)
    assert isinstance(kept.events[-1], Pedal)
    assert kept.settled is not None
    assert kept.settled.marks[3] == Mark(3, 3, SIGNATURE, 0.75, (("step", 0.25),), 1)
    assert kept.first == kept.settled.marks


def test_a_choir_of_which_an_older_program_kept_the_first_singer_is_kept_whole_with_the_next_take(place: Path) -> None:
    lower = [replace(note, voice=4) for note in SCALE.notes]
    one, two = (replace(SCALE, sung=tuple(sung)) for sung in (SCALE.notes, (*SCALE.notes, *lower)))
    two = replace(two, singers=(Singer("Soprano"), Singer("Alto")))
    with Journal(place) as journal:
        for piece, kept in ((one, one), (two, two), (one, two)):
            take = play(journal, piece=piece)
            assert take.id is not None
            assert journal.take(take.id).piece.sung == kept.sung


def test_missed_notes_moves_and_findings_come_back(place: Path) -> None:
    settled = Settled(
        (Mark(0, 5, RIGHT), Mark(1, None, "extra", 0.6), Mark(2, 2, RIGHT)),
        (0, 3, 9),
        (Move("went-back", 2.25, 5, 2, 0.5),),
        (Finding("other-octave", "All of it an octave higher.", 12),),
    )
    with Journal(place) as journal:
        take = journal.begin(SCALE, plan(SCALE.key, "G"))
        for mark in settled.marks:
            take.press(Press(1.0 + mark.press, 67, 50), mark)
        take.finish(settled, Summary(2, 3, 16, 0.4, None, 2.0))
        assert take.id is not None
        assert journal.take(take.id).settled == settled


def test_a_take_that_never_began_leaves_no_trace(place: Path) -> None:
    with Journal(place) as journal:
        journal.begin(SCALE, plan(SCALE.key, "G"))
        journal.flush()
        assert journal.takes() == []
        assert journal.unfinished() == []


_CHILD = """
import sys, time
from tests.journal.played import SCALE, play
from trainer.following.marks import Mark, RIGHT
from trainer.journal.store import Journal
from trainer.listening.press import Press
from trainer.music.transpose import plan
journal = Journal(sys.argv[1])
take = journal.begin(SCALE, plan(SCALE.key, "G"))
for at in range(10_000):
    take.press(Press(at / 100, 60 + at % 12), Mark(at, at % 16, RIGHT))
    print(at, time.monotonic(), flush=True)
    time.sleep(0.002)
"""


def lost_of_those_due(place: Path, wait_s: float) -> int:
    """How many presses older than 100 ms a kill costs so long after the first; what is there is whole."""
    root = Path(__file__).resolve().parents[2]
    child = subprocess.Popen([sys.executable, "-c", _CHILD, str(place)], stdout=subprocess.PIPE, text=True, cwd=root)
    assert child.stdout is not None
    said = [child.stdout.readline()]
    time.sleep(wait_s)
    killed_at = time.monotonic()
    child.send_signal(signal.SIGKILL if os.name == "posix" else signal.SIGTERM)
    said += child.stdout.readlines()
    child.wait()
    whole_lines = [line.split() for line in said if line.endswith("\n")]
    due = [int(at) for at, when in whole_lines if float(when) < killed_at - 0.1]
    with Journal(place) as journal:
        assert journal.trouble == ""
        rows = journal.unfinished()[-1:]
        kept = [journal.take(row.id) for row in rows]
        there = len(kept[0].presses) if kept else 0
        for take in kept:
            assert [mark.note for mark in take.first] == [at % 16 for at in range(there)]
            assert [press.pitch for press in take.presses] == [60 + at % 12 for at in range(there)]
    return max(0, len(due) - there)


@pytest.mark.parametrize("wait_s", [0.05, 0.3, 0.6])
def test_killed_at_any_moment_every_press_older_than_100_ms_is_there(tmp_path: Path, wait_s: float) -> None:
    # On a busy machine the thread that writes may once get no turn for so long, but not time and again.
    tries = (lost_of_those_due(tmp_path / f"{number}.sqlite", wait_s) for number in range(6))
    assert 0 in tries


def test_a_take_cut_off_can_be_finished_or_kept(place: Path) -> None:
    for _ in range(2):
        with Journal(place) as journal:
            play(journal, "G", finish=False)
    with Journal(place) as journal:
        first, second = journal.unfinished()
        marks = journal.take(first.id).first
        journal.settle(first.id, Settled(marks, (), ()), Summary(16, 16, 16, 1.0, 120.0, 7.5))
        journal.keep(second.id)
        assert journal.unfinished() == []
        assert [row.state for row in journal.takes()] == ["kept", "finished"]
        assert len(journal.take(second.id).events) == 33
        assert journal.ask("SELECT count(*) FROM live") == [(0,)]
        assert journal.ask("SELECT takes FROM daily") == [(1,)]
        with pytest.raises(JournalError, match="finished already"):
            journal.keep(first.id)


@contextlib.contextmanager
def written_by_another(place: Path) -> Iterator[None]:
    """Another program is at the file and does not come to an end."""
    with contextlib.closing(sqlite3.connect(place, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield


def test_while_another_program_writes_what_is_asked_for_is_refused_in_words(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The window shows the sentence and goes on; it once ended there."""
    monkeypatch.setattr(files, "BUSY_S", 0.05)
    with Journal(place) as journal:
        take = play(journal, "D", player="Ada")
        cut_off = play(journal, "D", player="Ada", finish=False)
        journal.flush()
        assert take.id is not None
        assert cut_off.id is not None
        marks = Settled(journal.take(cut_off.id).first, (), ())
        asked: list[Callable[[], object]] = [
            lambda: learn(journal, take.id or 0),
            lambda: hold_help(journal, "Ada", "do"),
            lambda: next_seed(journal),
            lambda: journal.keep(cut_off.id or 0),
            lambda: journal.settle(cut_off.id or 0, marks, Summary(16, 16, 16, 1.0, 120.0, 7.5)),
        ]
        with written_by_another(place):
            for one in asked:
                with pytest.raises(JournalError, match="is being written by another copy of Keyfarer"):
                    one()
        assert learn(journal, take.id) is not None


def test_a_take_two_copies_settle_at_once_is_counted_once(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "BUSY_S", 0.05)
    with Journal(place) as first:
        play(first, "G", finish=False)
    figures = Summary(16, 16, 16, 1.0, 120.0, 7.5)
    with Journal(place) as first, Journal(place) as second:
        (row,) = first.unfinished()
        read = first.take

        def slowly(number: int) -> KeptTake:
            kept = read(number)
            with contextlib.suppress(JournalError):
                second.settle(number, Settled(kept.first, (), ()), figures)
            return kept

        monkeypatch.setattr(first, "take", slowly)
        first.settle(row.id, Settled(read(row.id).first, (), ()), figures)
        second.settle(row.id, Settled(read(row.id).first, (), ()), figures)
        assert first.ask("SELECT takes, right FROM daily") == [(1, 16)]


def test_a_take_being_played_by_another_copy_is_not_offered(place: Path) -> None:
    with Journal(place) as one, Journal(place) as other:
        play(one, "G", finish=False)
        one.flush()
        assert one.unfinished() == []
        for owner in (os.getppid(), processes.of(os.getppid())):
            other.db.execute("UPDATE take SET process = ?", (owner,))
            assert other.unfinished() == []


@pytest.mark.parametrize("told", ["by the system", "by psutil"])
def test_a_take_cut_off_is_offered_though_another_program_has_its_number_now(
    place: Path, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if told == "by psutil" and sys.platform == "linux":
        made = SimpleNamespace(Process=lambda _: SimpleNamespace(create_time=lambda: 1795915863.09), Error=KeyError)
        monkeypatch.setitem(sys.modules, "psutil", made)
        monkeypatch.setattr("trainer.journal.processes.sys.platform", "darwin")
    processes.of.cache_clear()
    with Journal(place) as journal:
        take = play(journal, "G", finish=False)
        journal.flush()
        assert processes.of(os.getppid()) > os.getppid()
        # As after a power cut: the number runs, but was started at another time.
        journal.db.execute("UPDATE take SET process = ?", (processes.of(os.getppid()) + (1 << 32),))
        with Journal(place) as other:
            assert [row.id for row in other.unfinished()] == [take.id]
    processes.of.cache_clear()


def test_another_program_that_reads_meanwhile_sees_every_take_and_leaves_the_log(place: Path) -> None:
    reader = (
        "import sqlite3, sys; db = sqlite3.connect(sys.argv[1]); "
        "print(db.execute('SELECT count(*) FROM take').fetchone()[0]); db.close()"
    )

    def seen_from_outside() -> int:
        command = [sys.executable, "-c", reader, str(place)]
        return int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)

    with Journal(place) as journal:
        play(journal)
        journal.flush()
        # What the journal does between takes opens the file a second time and closes it.
        journal._tend()
        assert seen_from_outside() == 1
        assert Path(f"{place}-wal").exists(), "the reader took the log away: the lock on the journal was lost"
        play(journal)
        journal.flush()
        assert seen_from_outside() == 2


def test_the_file_is_its_owners_alone(tmp_path: Path) -> None:
    with Journal(tmp_path / "new" / "journal.sqlite") as journal:
        play(journal)
        modes = [stat.S_IMODE(path.stat().st_mode) for path in files.family(journal.path)]
        assert modes
        if os.name == "posix":
            assert set(modes) == {0o600}
            assert stat.S_IMODE(journal.path.parent.stat().st_mode) == 0o700
    journal.path.chmod(0o644)
    with Journal(journal.path) as again:
        play(again)
        again.flush()
        if os.name == "posix":
            assert {stat.S_IMODE(path.stat().st_mode) for path in files.family(again.path)} == {0o600}


def test_a_newer_journal_is_refused_and_left_alone(place: Path) -> None:
    Journal(place).close()
    with contextlib.closing(sqlite3.connect(place)) as db:
        db.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    before = place.read_bytes()
    with pytest.raises(JournalError, match="newer Keyfarer"):
        Journal(place, strict=True)
    with Journal(place) as journal:
        assert "newer Keyfarer" in journal.trouble
        play(journal)
        assert len(journal.takes()) == 1
    assert place.read_bytes() == before
    assert journal.aside is not None


def test_another_programs_database_is_refused(place: Path) -> None:
    with contextlib.closing(sqlite3.connect(place)) as db:
        db.execute("CREATE TABLE holiday (day)")
    with pytest.raises(JournalError, match="another program"):
        Journal(place, strict=True)


def test_when_the_disk_is_full_playing_goes_on_and_takes_are_set_aside(place: Path, tmp_path: Path) -> None:
    with Journal(place) as journal:
        play(journal, "G", player="Ada")
        pages = journal.db.execute("PRAGMA page_count").fetchone()[0]
        journal.db.execute(f"PRAGMA max_page_count = {pages}")
        for _ in range(40):
            play(journal, "Eb", player="Ada")
        assert "disk is full" in journal.trouble
        assert len(journal.takes("Ada", limit=100)) == 41
        assert journal.aside is not None
        aside = journal.aside
    with Journal(place) as journal:
        # The one being played when the disk filled may have begun in the file: it is completed.
        ((whole,),) = journal.ask("SELECT count(*) FROM take WHERE state = ?", (FINISHED,))
        assert rescue.merge(journal.db, aside) == 41 - whole
        assert len(journal.takes(limit=100)) == 41
        assert journal.ask("SELECT sum(takes) FROM daily") == [(41,)]
        assert all(journal.take(row.id).settled for row in journal.takes(limit=100))


def test_once_nothing_can_be_set_aside_any_more_no_place_is_named_until_one_is_found_again(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = tmp_path / "room"
    room.mkdir()
    with Journal(place) as journal:
        journal._fall_back(files.FULL, sqlite3.OperationalError())
        play(journal, "G")
        first = journal.aside
        assert first is not None
        with monkeypatch.context() as full:
            full.setattr(files, "connect", refusing)
            play(journal, "Eb")
            assert journal.aside is None, "the file of before lacks the newest take"
            assert "do not quit" in journal.trouble
        play(journal, "D")
        assert journal.aside == first
        assert "do not quit" not in journal.trouble
        assert journal.trouble.startswith("The disk is full, so the journal cannot be written: make room. Takes made")
    with Journal(place.with_name("new.sqlite")) as new:
        assert rescue.merge(new.db, first) == 3


def refusing(path: Path) -> sqlite3.Connection:
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize("written", [False, True])
def test_a_take_in_hand_when_a_journal_in_memory_is_closed_is_set_aside(place: Path, written: bool) -> None:
    with Journal(place) as journal:
        journal._fall_back(files.FULL, sqlite3.OperationalError())
        play(journal, "G", finish=False)
        assert not written or journal.flush()
    assert journal.aside is not None
    with Journal(place.with_name("new.sqlite")) as new:
        assert rescue.merge(new.db, journal.aside) == 1
        (row,) = new.unfinished()
        assert len(new.take(row.id).presses) == 16


def test_a_journal_locked_by_another_copy_loses_nothing(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "BUSY_S", 0.05)
    with Journal(place) as journal:
        play(journal, "G")
        with contextlib.closing(sqlite3.connect(place, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            play(journal, "Eb")
            assert "another copy" in journal.trouble
            other.execute("ROLLBACK")
        assert journal.flush()
        assert journal.trouble == ""
        assert len(journal.takes()) == 2


def test_a_file_that_is_held_for_a_moment_keeps_nobody_waiting_and_is_no_trouble(place: Path) -> None:
    """The journal holds it itself while it tends the file between takes."""
    with Journal(place) as journal, contextlib.closing(sqlite3.connect(place, isolation_level=None)) as other:
        journal.wait_s = files.BRIEF_S
        other.execute("BEGIN IMMEDIATE")
        with patience(journal) as waits:
            play(journal, "Eb")
        assert max(waits) <= files.BRIEF_S
        assert journal.trouble == ""
        until = time.monotonic() + 60
        while not journal.trouble and time.monotonic() < until:
            time.sleep(0.05)
        assert "another copy" in journal.trouble
        other.execute("ROLLBACK")
        assert journal.flush(files.BUSY_S)
        assert journal.trouble == ""


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with Journal(tmp_path / "file" / "journal.sqlite") as journal:
        assert "permissions" in journal.trouble
        play(journal)
        assert len(journal.takes()) == 1
        assert journal.aside is not None
        assert journal.aside.is_file()
        journal.aside.unlink()


def test_a_journal_that_may_not_even_be_looked_for_keeps_nobody_from_playing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shut, stat_ = tmp_path / "shut", os.stat

    def refused(name: os.PathLike[str] | str | int, **about: Any) -> os.stat_result:
        if str(name).startswith(f"{shut}{os.sep}"):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(name))
        return stat_(name, **about)

    shut.mkdir()
    monkeypatch.setattr(os, "stat", refused)
    with Journal(shut / "journal.sqlite") as journal:
        assert "permissions" in journal.trouble
        play(journal)
        assert len(journal.takes()) == 1
        assert journal.aside is not None
        journal.aside.unlink()


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty", "nonsense"])
def test_a_damaged_journal_is_kept_and_what_can_be_read_is_saved(place: Path, damage: str) -> None:
    with Journal(place) as journal:
        for _ in range(30):
            play(journal, "G", slips={2: SIGNATURE})
        files.back_up(place)
        for _ in range(5):
            play(journal, "Eb")
    raw = bytearray(place.read_bytes())
    if damage == "cut":
        raw = raw[: len(raw) // 2]
    elif damage == "flipped":
        for at in range(5000, len(raw), 997):
            raw[at] ^= 0x40
    elif damage == "empty":
        raw = bytearray()
    else:
        raw = bytearray(b"not a database at all" * 300)
    place.write_bytes(raw)
    with Journal(place) as journal:
        assert "damaged" in journal.trouble
        rows = journal.takes(limit=100)
        assert 30 <= len(rows) <= 35
        assert all(journal.take(row.id).settled for row in rows)
        assert journal.ask("SELECT sum(takes) FROM daily") == [(len(rows),)]
        play(journal, "G")
    kept = list(place.parent.glob("journal-damaged-*.sqlite"))
    assert [path.read_bytes() for path in kept] == [bytes(raw)]


def test_the_backup_comes_back_by_one_command_and_the_replaced_file_is_kept(place: Path) -> None:
    with Journal(place) as journal:
        play(journal, "G")
        files.back_up(place)
        play(journal, "Eb")
    kept = files.restore(place)
    with Journal(place) as journal:
        assert [row.target for row in journal.takes()] == ["G"]
    assert kept is not None
    with Journal(kept) as journal:
        assert [row.target for row in journal.takes()] == ["Eb", "G"]


@pytest.mark.skipif(os.name != "posix", reason="who makes links on Windows must be an administrator")
@pytest.mark.parametrize("damaged", [False, True])
def test_a_journal_that_is_a_link_stays_one_whatever_is_put_in_its_place(
    place: Path, tmp_path: Path, damaged: bool
) -> None:
    goal = tmp_path / "shared" / "ours.sqlite"
    goal.parent.mkdir()
    with Journal(goal) as journal:
        play(journal)
    files.backup_of(goal).rename(files.backup_of(place))
    place.symlink_to(goal)
    if damaged:
        goal.write_bytes(b"nonsense" * 1000)
        with Journal(place) as journal:
            assert "1 take was saved" in journal.trouble
    else:
        files.restore(place)
    assert place.is_symlink()
    assert files.takes_in(goal) == 1
    (kept,) = (one for one in files.family(place) if "damaged" in one.name or "replaced" in one.name)
    assert not kept.is_symlink()


def test_of_a_journal_that_is_a_link_the_takes_still_in_its_log_are_merged(place: Path, tmp_path: Path) -> None:
    with Journal(tmp_path / "shared" / "ours.sqlite") as ours, Journal(place) as journal:
        play(ours)
        link = tmp_path / "link.sqlite"
        link.symlink_to(ours.path)
        assert rescue.merge(journal.db, link) == 1


@pytest.mark.parametrize("days", [-2, 20_000])
def test_a_backup_that_a_wrong_clock_dated_is_made_anew(place: Path, days: int) -> None:
    for takes in (1, 2):
        with Journal(place) as journal:
            play(journal)
        assert files.takes_in(files.backup_of(place)) == takes
        then = time.time() + 86_400 * days
        os.utime(files.backup_of(place), (then, then))


def test_a_damaged_journal_never_replaces_a_good_backup(place: Path) -> None:
    with Journal(place) as journal:
        for _ in range(30):
            play(journal, "G")
    good = files.back_up(place).read_bytes()
    raw = bytearray(place.read_bytes())
    place.write_bytes(raw[: len(raw) // 3])
    with pytest.raises(JournalError, match="older backup stays"):
        files.back_up(place)
    assert files.backup_of(place).read_bytes() == good


def test_an_upgrade_keeps_a_copy_and_is_all_or_nothing(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Journal(place) as journal:
        play(journal, "G")
    next_step = "ALTER TABLE take ADD COLUMN mood TEXT; CREATE TABLE weather (day INTEGER);"
    with monkeypatch.context() as newer:
        newer.setattr(schema, "STEPS", (*schema.STEPS, next_step + "CREATE NONSENSE"))
        newer.setattr(schema, "VERSION", len(schema.STEPS))
        with pytest.raises(JournalError):
            Journal(place, strict=True)
    Journal(place, strict=True).close()
    with monkeypatch.context() as newer:
        newer.setattr(schema, "STEPS", (*schema.STEPS, next_step))
        newer.setattr(schema, "VERSION", len(schema.STEPS))
        with Journal(place, strict=True) as journal:
            assert journal.ask("SELECT mood FROM take") == [(None,)]
            assert len(journal.takes()) == 1
    copies = list(place.parent.glob(f"journal-format{schema.VERSION}-*.sqlite"))
    assert copies
    for copy in copies:
        with Journal(copy, strict=True) as journal:
            assert len(journal.takes()) == 1


def test_many_players_share_a_journal(place: Path) -> None:
    with Journal(place) as journal:
        play(journal, player="Ada")
        play(journal, player="Ben")
        assert journal.players() == ["Ada", "Ben"]
        assert len(journal.takes("Ben")) == 1
        assert len(journal.takes()) == 2


def test_cost_of_transposing_is_time_over_time_in_the_written_key(place: Path) -> None:
    with Journal(place) as journal:
        slow = play(journal, "Eb", beat=0.75)
        play(journal, "C", beat=0.5)
        later = play(journal, "G", beat=0.6)
        timed = play(journal, "A", beat=0.6, mode="a tempo")
        # Half of sixteen notes right is enough to say something, fewer is not.
        half, less = (play(journal, "D", slips=dict.fromkeys(range(n), "signature")) for n in (8, 9))
        costs: dict[int | None, float | None] = {row.id: row.cost for row in journal.takes()}
        assert costs[slow.id] == pytest.approx(1.5)
        assert costs[later.id] == pytest.approx(1.2)
        assert costs[timed.id] is None
        assert costs[half.id] is not None
        assert costs[less.id] is None


def test_playing_never_waits_for_the_disk(place: Path) -> None:
    """With the journal's lock held by a slow disk, every press is still taken, and all are there afterwards."""
    with Journal(place) as journal:
        take = journal.begin(SCALE, plan(SCALE.key, "G"))
        done = threading.Event()

        def player() -> None:
            for at in range(200):
                take.press(Press(at / 10, 60, 64), Mark(at, at % 16, RIGHT))
            done.set()

        with journal._lock:
            threading.Thread(target=player, daemon=True).start()
            assert done.wait(timeout=60)
        journal.flush()
        assert take.id is not None
        assert len(journal.take(take.id).presses) == 200


def test_glimpses_and_help_are_kept_with_the_take(place: Path) -> None:
    with Journal(place) as journal:
        take = journal.begin(SCALE, plan(SCALE.key, "G"), help="none")
        marks = Mark(0, 0, RIGHT), Mark(1, 1, RIGHT)
        take.press(Press(1.0, 67, 64), marks[0])
        take.glimpse()
        take.set_help("do")
        take.set_help("none")
        take.press(Press(2.0, 69, 64), marks[1])
        take.finish(Settled(marks, (), ()), Summary(2, 2, 16, 1.0, None, 1.0))
        (row,) = journal.takes()
    assert row.glimpsed
    assert row.help == "do", "the most that was shown"


def test_the_verse_that_lay_on_the_page_last_is_kept_with_the_take(place: Path) -> None:
    with Journal(place) as journal:
        sung = journal.begin(SCALE, plan(SCALE.key, "G"))
        sung.set_verse(1)
        sung.press(Press(1.0, 67, 64), Mark(0, 0, RIGHT))
        sung.set_verse(2)
        sung.finish(Settled((Mark(0, 0, RIGHT),), (), ()), Summary(1, 1, 16, 1.0, None, 1.0))
        sung.set_verse(3)
        play(journal, "G")
        words, unsung = journal.takes()[::-1]
        assert (words.verse, unsung.verse) == (2, None)
        assert sung.id is not None
        assert take_json(journal.take(sung.id))["verse"] == 2
        lines = StringIO()
        write_csv([journal.take(sung.id)], lines)
    assert lines.getvalue().splitlines()[1].endswith(",2")


def test_a_take_marked_anew_counts_once(place: Path) -> None:
    with Journal(place) as journal:
        play(journal, "C")
        take = play(journal, "Eb", slips={3: SIGNATURE}, beat=0.6)
        assert take.id is not None
        sums = "SELECT sum(takes), sum(right), sum(costs), round(sum(cost_log), 9) FROM daily"
        before = journal.ask(sums), journal.ask("SELECT * FROM tally ORDER BY 1, 2, 3, 4, 5")
        kept = journal.take(take.id)
        assert kept.settled is not None
        journal.settle(take.id, kept.settled, Summary(15, 16, 16, 15 / 16, 100.0, 9.0))
        assert journal.ask(sums) == before[0]
        after = journal.ask("SELECT * FROM tally ORDER BY 1, 2, 3, 4, 5")
        assert [row[:8] for row in after] == [row[:8] for row in before[1]]


def test_damage_found_while_playing_is_said_and_the_backup_stays(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Journal(place) as journal:
        for _ in range(30):
            play(journal, "G")
    good = files.back_up(place).read_bytes()
    raw = bytearray(place.read_bytes())
    raw[len(raw) - 20_000 : len(raw) - 4_000] = bytes(16_000)
    place.write_bytes(raw)
    # As a large journal, which is not read through at every opening.
    monkeypatch.setattr(files, "CHECKED_ALWAYS_BYTES", 0)
    monkeypatch.setattr(store, "BACKUP_AGE_S", 0.0)
    journal = Journal(place)
    play(journal, "Eb")
    journal.close()
    assert journal.trouble
    assert files.backup_of(place).read_bytes() == good


@pytest.mark.parametrize("change", ["began = 1e30", "zone = 99999", "began = 'x'"])
def test_a_damaged_time_hides_no_take(tmp_path: Path, change: str) -> None:
    path = tmp_path / "journal.sqlite"
    with Journal(path) as journal:
        play(journal, "Eb", player="Ada")
        play(journal, "G", player="Ada")
        with journal.changing() as db:
            db.execute(f"UPDATE take SET {change} WHERE id = 1")
        assert [row.id for row in journal.takes("Ada")] == [2, 1]
        assert journal.take(1).row.began.year == 1970


def test_what_cannot_be_written_costs_neither_other_takes_nor_the_writer(place: Path) -> None:
    def broken(_: object) -> None:
        raise ValueError("no such value")

    with Journal(place) as journal:
        bad = journal.begin(SCALE, plan(SCALE.key, "Eb"), player="Ada")
        journal._waiting.append((bad, broken))
        good = play(journal, "C", player="Ben")
        assert "no such value" in journal.trouble
        later = play(journal, "D", player="Ben")
        assert {row.id for row in journal.takes("Ben")} == {good.id, later.id}
        journal._waiting.append((bad, broken))
        journal._wake_writer()
        time.sleep(0.2)
        assert journal._writer is not None
        assert journal._writer.is_alive()


def test_takes_are_erased_also_while_the_journal_tends_its_file(place: Path) -> None:
    """SQLite refuses at once what might wait for ever, and that was told as another copy to be closed."""
    with Journal(place) as journal:
        play(journal, "C")
        other = sqlite3.connect(place, isolation_level=None, check_same_thread=False)
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM take").fetchall()
        threading.Timer(0.3, other.close).start()
        with pytest.MonkeyPatch.context() as patched:
            # Refused at once, as between two connections that wait for each other.
            patched.setattr(erasing, "_overwritten", lambda held, _, do=erasing._overwritten: do(held, 0.0))
            erase_takes(journal, [1])
        assert journal.takes() == []


def test_music_brought_under_two_titles_is_listed_and_shown_under_the_one_it_was_played_as(home: Path) -> None:
    with Journal() as journal:
        play(journal, piece=SCALE)
        play(journal, piece=replace(SCALE, title="The Miller Goes Home"))
        journal.flush()
        rows = journal.takes()
        assert [row.title for row in rows] == ["The Miller Goes Home", SCALE.title]
        assert len({row.piece_key for row in rows}) == 1
        assert [journal.take(row.id).piece.title for row in rows] == [row.title for row in rows]
