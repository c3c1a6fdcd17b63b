"""``keyfarer journal``: everything the journal holds can be read, taken away, brought back and erased."""

from __future__ import annotations

import contextlib
import csv
import errno
import io
import json
import os
import sqlite3
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from tests.journal.played import SCALE, play, seized
from tests.music.tunes import tune
from trainer.app import main
from trainer.coaching.path import cells as coaching_cells
from trainer.coaching.path.cells import cells, learn
from trainer.coaching.path.path import Place
from trainer.journal import files, unlearned
from trainer.journal.erasing import erase_everything, erase_player, erase_takes
from trainer.journal.errors import JournalError
from trainer.journal.export import CSV_COLUMNS
from trainer.journal.handover import hand_over
from trainer.journal.store import Journal
from trainer.journal.summary import by_facet, by_week, causes_by_week, whole
from trainer.listening.press import Press
from trainer.music.compass import PENTACHORD
from trainer.music.piece import BOTH, LEFT
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.music.transpose import plan, transposed
from trainer.session import Session
from trainer.window import settings

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
Said = Callable[..., tuple[int, str, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    def run(*words: str) -> tuple[int, str, str]:
        code = main(["journal", *words])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run


@pytest.fixture
def place(home: Path) -> Path:
    """A journal with two players, in its usual place."""
    with Journal() as journal:
        for day, key in enumerate(("Eb", "C", "F#")):
            began = datetime.now().astimezone() - timedelta(days=day)
            take = play(journal, key, player="Ada", slips={3: "signature"}, began=began)
            assert take.id is not None
            learn(journal, take.id)
        play(journal, "Eb", player="Ben", began=NOW)
        files.back_up(journal.path)
        return journal.path


def marked(journal: Journal, to: str) -> int:
    """A take marked by the session itself, with slips, a restart and a wait."""
    pitches = [63, 65, 66, 68, 70, 65, 63, 63, 65, 67, 68, 70, 68, 67, 65, 63, 65, 67, 68, 82, 67, 63, 63]
    wish = plan(SCALE.key, to)
    take = journal.begin(SCALE, wish, player="Ada")
    session = Session(SCALE, wish, record=take)
    for index, pitch in enumerate(pitches):
        session.hear(Press(2.0 + 0.5 * index + (1.5 if index > 12 else 0.0), pitch, 70))
    session.finish()
    assert take.id is not None
    return take.id


def test_list_and_show(place: Path, said: Said) -> None:
    code, out, _ = said("list")
    assert code == 0
    assert out.splitlines()[0].split() == ["take", "when", "player", "piece", "key", "hands", "right", "pulse", "cost"]
    assert "C → E♭" in out or "C → Eb" in out
    assert len(json.loads(said("list", "--json", "--player", "Ada")[1])["takes"]) == 3
    assert len(json.loads(said("list", "--json", "--limit", "1")[1])["takes"]) == 1
    _, out, _ = said("show", "1")
    assert "played in E♭ major (up a minor third)" in out
    assert "15 of 16 right" in out
    assert "bar 1" in out
    shown = json.loads(said("show", "1", "--json")[1])
    assert (shown["take"], shown["marks"][3]["cause"], len(shown["events"])) == (1, "signature", 33)
    assert shown["marks"][3]["note"] == "n3"


def test_show_says_each_place_once_and_names_hands_and_keys(home: Path, said: Said) -> None:
    with Journal() as journal:
        wish = plan(SCALE.key, "Eb")
        take = journal.begin(SCALE, wish, player="Ada", hands="right")
        session = Session(SCALE, wish, hands="right", record=take)
        for index, note in enumerate(session.expected.notes):
            if index != 5:
                session.hear(Press(0.5 * index, note.midi, 70))
            if index == 9:
                session.hear(Press(0.5 * index + 0.2, 30, 70))
        session.finish()
    _, out, _ = said("show", "1")
    assert "Ada, right hand, " in out
    assert "  bar 2: fa, A flat, left out" in out.splitlines()
    (extra,) = [line for line in out.splitlines() if "is written here" in line]
    assert extra == "  bar 3: no G flat is written here"


@pytest.mark.parametrize(
    "words",
    [("erase", "--take", "1", "--yes"), ("show", "1"), ("export", "--json", "--take", "1"), ("finish", "1"),
     ("keep", "1")],
)  # fmt: skip
def test_a_take_of_another_player_is_left_alone(place: Path, said: Said, words: tuple[str, ...]) -> None:
    before = said("list", "--json")[1]
    code, out, err = said("--player", "Ben", *words)
    assert (code, out) == (2, "")
    assert err == "keyfarer: Take 1 is of Ada, not of Ben: 'keyfarer journal list' shows the numbers.\n"
    assert said("list", "--json")[1] == before
    assert said("--player", "Ada", "show", "1")[0] == 0


def test_summary(place: Path, said: Said) -> None:
    code, out, _ = said("summary", "--player", "Ada")
    assert code == 0
    assert "Ada: 3 takes" in out
    assert "reading at sight reaches is not known yet" in out.replace("\n", " ")
    assert "minutes of playing in all" in out
    assert "Right by hand: right " in out
    assert "Slips by cause: " in out
    assert json.loads(said("summary", "--player", "Ada", "--json")[1])["recent"]["takes"] == 3
    assert said("summary", "--player", "Cleo")[0] == 2


def test_takes_a_wrong_clock_dated_before_1970_are_in_the_summary_as_in_the_list(home: Path, said: Said) -> None:
    with Journal() as journal:
        play(journal, "Eb", player="Ada", began=datetime(1960, 5, 3, 18, tzinfo=UTC))
        assert whole(journal, "Ada").takes == 1
        assert [one.value for one in by_facet(journal, "Ada", "hand")] == [RIGHT_HAND]
        # 3 May 1960 was a Tuesday.
        assert list(by_week(journal, "Ada")) == list(causes_by_week(journal, "Ada")) == [date(1960, 5, 2)]
    assert "Ada: 1 take" in said("summary", "--player", "Ada")[1]


def test_csv_holds_every_press(place: Path, said: Said) -> None:
    code, out, err = said("export", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0
    assert tuple(rows[0]) == CSV_COLUMNS
    assert len(rows) == 64
    told = {name: rows[3][name] for name in ("player", "cause", "note", "pitch", "offset")}
    assert told == {"player": "Ada", "cause": "signature", "note": "n3", "pitch": "69", "offset": "1"}
    assert "4 takes of Ada, Ben" in err


@pytest.mark.parametrize("sign", ["=", "@", "\t"])
def test_no_name_is_a_formula_in_a_spreadsheet(home: Path, said: Said, sign: str) -> None:
    with Journal() as journal:
        play(journal, player=f"{sign}SUM(A1)", piece=replace(SCALE, title=f"{sign}1+1"))
    rows = list(csv.DictReader(io.StringIO(said("export", "--csv")[1], newline="")))
    assert {(row["player"], row["title"]) for row in rows} == {(f"'{sign}SUM(A1)", f"'{sign}1+1")}


def test_one_take_is_exported_under_its_own_players_name(place: Path, said: Said) -> None:
    with Journal() as journal:
        number = journal.takes(limit=1, player="Ben")[0].id
    assert "1 take of Ben, every key press" in said("export", "--csv", "--take", str(number))[2]


def test_json_holds_everything_and_goes_into_a_file(place: Path, said: Said, tmp_path: Path) -> None:
    goal = tmp_path / "all.json"
    assert said("export", "--json", "--player", "Ada", "--out", str(goal))[0] == 0
    whole = json.loads(goal.read_text(encoding="utf-8"))
    assert (whole["format"], whole["version"], len(whole["takes"])) == ("keyfarer-journal", 1, 3)
    assert said("export", "--csv", "--out", str(tmp_path / "no" / "such" / "folder.csv"))[0] == 2


def test_a_take_exported_as_midi_is_marked_again_to_the_same_marks(place: Path, said: Said, tmp_path: Path) -> None:
    with Journal() as journal:
        number = marked(journal, "Eb")
        kept = journal.take(number)
    assert kept.settled is not None
    assert said("export", "--midi", str(tmp_path / "out"), "--take", str(number))[0] == 0
    (midi,) = (tmp_path / "out").glob("*.mid")
    (score,) = (tmp_path / "out").glob("*.musicxml")
    out = io.StringIO()
    import contextlib

    with contextlib.redirect_stdout(out):
        assert main(["mark", str(score), str(midi), "--to", "Eb", "--json"]) == 0
    again = json.loads(out.getvalue())
    causes = {mark.cause for mark in kept.settled.marks}
    assert len(causes) > 2, "the take must have something to be marked"
    ids = [None if m.note is None else SCALE.notes[m.note].id for m in kept.settled.marks]
    assert [row["cause"] for row in again["played"]] == [mark.cause for mark in kept.settled.marks]
    assert [row["note"] for row in again["played"]] == ids
    assert [row["first"]["cause"] for row in again["played"]] == [mark.cause for mark in kept.first]
    assert again["missed"] == [SCALE.notes[note].id for note in kept.settled.missed]
    assert [move["kind"] for move in again["moves"]] == [move.kind for move in kept.settled.moves]


def test_what_a_damaged_journal_says_of_itself_stays_in_one_line(place: Path, said: Said, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    files.copy_to(sqlite3.connect(place), other)
    with contextlib.closing(sqlite3.connect(other)) as db:
        db.execute("PRAGMA writable_schema = ON")
        db.execute("UPDATE sqlite_master SET name = 'ta' || char(10) || 'lly', sql = 'CREATE' WHERE name = 'tally'")
        db.commit()
    code, _, err = said("merge", str(other))
    assert code == 2
    assert "is not a journal that can be read (malformed database schema (ta lly)" in err
    assert err.count("\n") == 1


def test_merge_takes_in_only_what_is_new(place: Path, said: Said, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    with Journal(other) as journal:
        play(journal, "G", player="Ada", began=NOW)
        play(journal, "G", player="Cleo", began=NOW)
    code, out, _ = said("merge", str(other))
    assert (code, out.split()[0]) == (0, "2")
    assert said("merge", str(other))[1].split()[0] == "0"
    assert said("merge", str(place))[1].split()[0] == "0"
    with Journal() as journal:
        assert journal.players() == ["Ada", "Ben", "Cleo"]
        assert len(journal.takes("Ada")) == 4
        assert journal.ask("SELECT sum(takes) FROM daily") == [(6,)]
        assert journal.ask("SELECT sum(n) FROM tally WHERE facet = 'cause'") == [(96,)]
    nonsense = tmp_path / "nonsense.sqlite"
    nonsense.write_text("no journal " * 1000)
    for wrong in (nonsense, tmp_path / "absent.sqlite"):
        code, _, err = said("merge", str(wrong))
        assert code == 2
        assert err.count("\n") == 1


def everything_in(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_erasing_a_player_leaves_no_byte_of_them(place: Path, said: Said) -> None:
    with Journal() as journal:
        play(journal, "D", player="Wilhelmine Unmistakable", began=NOW)
    assert b"Wilhelmine" in everything_in(place.parent)
    assert said("erase", "--player", "Wilhelmine Unmistakable", "--yes")[0] == 0
    assert b"Wilhelmine" not in everything_in(place.parent)
    with Journal() as journal:
        assert journal.players() == ["Ada", "Ben"]
        assert len(journal.takes()) == 4
    assert files.backup_of(place).exists()


def test_erasing_a_take_takes_it_out_of_the_figures(place: Path, said: Said) -> None:
    before = json.loads(said("summary", "--player", "Ada", "--json")[1])
    assert said("erase", "--take", "1")[0] == 2, "asks first, and there is nobody to ask"
    assert said("erase", "--take", "1", "--yes")[0] == 0
    after = json.loads(said("summary", "--player", "Ada", "--json")[1])
    assert after["recent"]["played"] == before["recent"]["played"] - 16
    assert "Eb" not in after["keys"]
    assert said("show", "1")[0] == 2


def test_erasing_everything_leaves_nothing(place: Path, said: Said) -> None:
    code, out, _ = said("erase", "--yes")
    assert code == 0
    assert "journal.sqlite" in out
    assert not list(place.parent.glob("journal*"))
    assert said("erase", "--yes")[0] == 2


def test_erasing_touches_nothing_that_only_has_a_like_name(place: Path, said: Said) -> None:
    mine = [place.with_name(name) for name in ("journal-2025.sqlite", "journal-backup.txt", "journal-notes.part.txt")]
    ours = [place.with_name("journal-damaged-20260302-180000.sqlite"), place.with_name("journal.sqlite.part-7-7")]
    for one in (*mine, *ours):
        one.write_bytes(b"Ada")
    assert said("erase", "--take", "1", "--yes")[0] == 0
    assert [one.exists() for one in ours] == [False, False]
    assert said("erase", "--yes")[0] == 0
    assert all(one.read_bytes() == b"Ada" for one in mine)


def test_another_file_of_the_players_is_no_journal_to_be_erased(tmp_path: Path) -> None:
    mine = tmp_path / "accounts.sqlite"
    mine.write_bytes(b"SQLite format 3\0 of another program")
    with pytest.raises(JournalError, match="is not a Keyfarer journal, and was left as it is"):
        erase_everything(mine)
    assert mine.read_bytes() == b"SQLite format 3\0 of another program"


def test_erasing_that_is_held_up_leaves_the_journal_to_be_erased_again(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its copies go first: nothing is left in a file nobody looks into."""
    files.back_up(place)

    def held(path: Path, missing_ok: bool = False) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "unlink", held)
        with pytest.raises(JournalError, match=r"cannot be removed \(Permission denied\)"):
            erase_everything(place)
    assert b"CREATE TABLE tally" in place.read_bytes()
    with Journal() as journal:
        assert len(journal.takes()) == 4
    assert place in erase_everything(place)


@pytest.mark.skipif(os.name != "posix", reason="a file's second name")
def test_erasing_everything_empties_what_has_a_second_name(place: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.sqlite"
    os.link(place, kept)
    erase_everything(place)
    assert kept.read_bytes() == b""


def test_erasing_leaves_nothing_that_is_known_by_a_players_or_a_takes_number(place: Path, tmp_path: Path) -> None:
    """The next player may be given the same number, and must not be taken for this one."""

    def facts(journal: Journal) -> list[str]:
        return [name for (name,) in journal.ask("SELECT name FROM fact")]

    with Journal() as journal:
        hand_over(journal, "Ben", tmp_path / "ben.handover")
        (number,) = (row.id for row in journal.takes("Ben"))
        with journal.changing() as db:
            unlearned.note_row(db, number)
        known = set(facts(journal))
        assert erase_player(journal, "Ben") == 1
        gone = known - set(facts(journal))
    assert sorted(name.split(" ")[0] for name in gone) == ["handed", "player", "read", "unlearned"]


def test_what_the_path_remembers_of_an_erased_take_is_forgotten(place: Path) -> None:
    with Journal() as journal:
        first = journal.takes("Ada")[0]
        known = cells(journal, "Ada")
        here = next(one for one in known if one.key == first.key and one.hands == first.hands)
        assert known[here].recent
        erase_takes(journal, [first.id])
        after = cells(journal, "Ada")
        assert (after[here].recent, after[here].since) == ((), 0)
        assert {one: cell for one, cell in after.items() if one != here} == {
            one: cell for one, cell in known.items() if one != here
        }


def test_a_journal_of_any_name_is_found_with_its_copies(tmp_path: Path, said: Said) -> None:
    for name in ("takes", "takes [1].sqlite"):
        path = tmp_path / name
        with Journal(path) as journal:
            play(journal)
            files.back_up(path)
        assert files.backup_of(path).name in said("where", "--journal", str(path))[1]
        assert said("erase", "--journal", str(path), "--yes")[0] == 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("erase", "--yes"), ("restore", "--yes")])
def test_what_another_copy_has_open_is_neither_erased_nor_replaced(
    place: Path, said: Said, words: tuple[str, ...]
) -> None:
    holding = "import sqlite3, sys; db = sqlite3.connect(sys.argv[1]); db.execute('SELECT * FROM take').fetchall(); "
    command = [sys.executable, "-c", f"{holding}print(1, flush=True); sys.stdin.read()", str(place)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdin is not None
        assert other.stdout is not None
        assert other.stdout.readline() == "1\n"
        code, _, err = said(*words)
        assert (code, err.count("open in another copy")) == (2, 1)
        other.stdin.close()
    assert said("list")[1].count("Ada") == 3
    assert said(*words)[0] == 0


def test_no_answer_is_no(place: Path, said: Said, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(_: str) -> str:
        raise EOFError

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", gone)
    code, _, err = said("erase")
    assert (code, err) == (2, "keyfarer: Nothing was erased.\n")


def test_one_take_is_exported_as_its_players_alone(place: Path, said: Said, tmp_path: Path) -> None:
    err = said("export", "--csv", "--take", "4", "--out", str(tmp_path / "takes.csv"))[2]
    assert "1 take of Ben, every" in err
    assert {row[1] for row in csv.reader((tmp_path / "takes.csv").open())} == {"player", "Ben"}


@pytest.mark.parametrize("what", ["circle", "sight", "cost", "causes"])
def test_pictures_are_drawn_with_and_without_anything_in_them(
    place: Path, said: Said, tmp_path: Path, what: str
) -> None:
    for player in ("Ada", "Ben"):
        svg, png = tmp_path / f"{what}.svg", tmp_path / f"{what}.png"
        assert said("picture", what, "--player", player, "--out", str(svg))[0] == 0
        assert svg.read_bytes().startswith(b"<?xml")
        if player == "Ada":
            again = svg.read_bytes()
            assert said("picture", what, "--player", player, "--out", str(svg))[0] == 0
            assert svg.read_bytes() == again, "the same journal gives the same picture"
            assert said("picture", what, "--player", player, "--out", str(png))[0] == 0
            assert png.read_bytes().startswith(b"\x89PNG")


def test_restore_and_where(place: Path, said: Said) -> None:
    with Journal() as journal:
        play(journal, "D", player="Ada", began=NOW)
    code, out, _ = said("restore", "--yes")
    assert code == 0
    assert "back in place, with 4 takes." in out
    assert "What stood there, with 5 takes, is kept as" in out
    assert "journal-replaced" in out
    code, out, _ = said("where")
    assert out.splitlines()[0] == str(place)
    assert "backup" in out


def test_who_has_no_backup_is_told_when_one_is_made(place: Path, said: Said) -> None:
    backup = files.backup_of(place)
    backup.unlink()
    assert said("restore")[2].endswith("nothing was changed: one is made after a take.\n")
    with Journal() as journal:
        play(journal, "D", player="Ada", began=NOW)
        until = time.monotonic() + 60
        while not backup.exists() and time.monotonic() < until:
            time.sleep(0.01)
        assert backup.exists(), "while the journal is open"


def test_a_backup_with_fewer_takes_is_put_back_only_when_told_to(place: Path, said: Said) -> None:
    with Journal() as journal:
        play(journal, "D", player="Ada", began=NOW)
    code, _, err = said("restore")
    assert code == 2
    assert "The backup holds 4 takes, the journal 5 takes: say --yes" in err
    with Journal() as journal:
        assert len(journal.takes(limit=9)) == 5
        files.back_up(journal.path)
    assert said("restore")[0] == 0, "as many takes as there are: nothing to ask"


def test_a_damaged_journal_is_replaced_without_a_question(place: Path, said: Said) -> None:
    place.write_bytes(b"nothing of a journal" * 400)
    code, out, _ = said("restore")
    assert code == 0
    assert "What stood there is kept as" in out


def test_a_restore_that_finds_no_room_does_not_call_the_backup_damaged(
    place: Path, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Journal() as journal:
        files.back_up(journal.path)
    full = sqlite3.OperationalError("database or disk is full")
    full.sqlite_errorcode = sqlite3.SQLITE_FULL
    for trouble in (full, PermissionError(errno.EACCES, "Permission denied")):

        def refused(*_: object, trouble: Exception = trouble) -> None:
            raise trouble

        with monkeypatch.context() as patched:
            patched.setattr(files, "copy_to", refused)
            code, _, err = said("restore")
        assert code == 2
        assert err.startswith("keyfarer: The backup could not be put in place (")
        assert "damaged" not in err
    files.backup_of(place).write_bytes(b"SQLite format 3\0" + bytes(9000))
    assert "is damaged too: nothing was changed" in said("restore", "--yes")[2]


@pytest.mark.parametrize(
    "words",
    [("list",), ("list", "--journal", "~nobody-of-that-name/j.sqlite"), ("merge", "~nobody-of-that-name/a.handover")],
)
def test_the_home_of_a_person_nobody_knows_is_a_folder_that_is_not_there(
    said: Said, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KEYFARER_HOME", "~nobody-of-that-name" if words == ("list",) else str(tmp_path))
    code, _, err = said(*words)
    assert code == 2
    assert err.startswith("keyfarer: There is no ")


def test_an_export_into_a_folder_asks_for_a_file_in_it(place: Path, said: Said, tmp_path: Path) -> None:
    for folder in ("/", str(tmp_path)):
        code, _, err = said("export", "--csv", "--out", folder)
        assert (code, err) == (2, f"keyfarer: {folder} is a folder: name a file in it.\n")


@pytest.mark.skipif(os.name != "posix", reason="rights of another kind")
def test_a_file_of_another_program_keeps_its_rights(said: Said, tmp_path: Path) -> None:
    """It is left as it was, as the sentence says; it was once made unreadable for everybody else."""
    text, database = tmp_path / "names", tmp_path / "music.db"
    text.write_text("a list of names, and no journal\n" * 20)
    with contextlib.closing(sqlite3.connect(database)) as db:
        db.execute("CREATE TABLE song (title TEXT)")
    for one in (text, database):
        one.chmod(0o644)
        code, _, err = said("list", "--journal", str(one))
        assert code == 2
        assert "name another file" in err
        assert stat.S_IMODE(one.stat().st_mode) == 0o644


def test_one_take_is_said_as_one(home: Path, said: Said) -> None:
    with Journal() as journal:
        play(journal, "G", player="Ada")
        files.back_up(journal.path)
    assert "back in place, with 1 take." in said("restore")[1]
    assert "Ada: 1 take, " in said("summary")[1]
    assert "1 take of Ada" in said("export", "--csv")[2]
    assert "Ada and 1 take are erased" in said("erase", "--player", "Ada", "--yes")[1]


def test_a_take_cut_off_is_finished_or_kept(place: Path, said: Said) -> None:
    with Journal() as journal:
        cut = [play(journal, "D", player="Ada", finish=False) for _ in range(2)]
        journal.flush()
        numbers = [str(take.id) for take in cut]
    assert "Cut off after 16 presses" in said("show", numbers[0])[1]
    assert "16 of 16 right" in said("finish", numbers[0])[1]
    assert said("keep", numbers[1])[0] == 0
    assert said("finish", numbers[0])[0] == 2
    with Journal() as journal:
        assert journal.unfinished() == []


def test_a_take_the_path_cannot_learn_from_now_can_be_finished_later(
    place: Path, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Marked and never learned from, it would be lost to the path."""
    with Journal(place) as journal:
        cut = play(journal, "D", player="Ada", finish=False)
        journal.flush()
        number = str(cut.id)

    with monkeypatch.context() as held:
        held.setattr(coaching_cells, "_write", seized)
        code, _, err = said("finish", number)
    assert code == 2
    assert "is being written by another copy of Keyfarer" in err
    assert said("finish", number)[0] == 0
    with Journal(place) as journal:
        assert "D" in {cell.key for cell in cells(journal, "Ada")}


def test_a_take_cut_off_is_finished_for_the_keyboard_it_was_played_on(home: Path, said: Said) -> None:
    low = tuple(replace(note, id=f"l{at}", hand=LEFT) for at, note in enumerate(tune("C", "C1 C1 C1 C1").notes))
    piece = SCALE.with_notes(sorted((*SCALE.notes, *low), key=lambda note: note.onset))
    wish = plan(piece.key, "D")
    place = Place(PENTACHORD, "D", BOTH)
    with Journal() as journal:
        for _ in range(2):
            record = journal.begin(piece, wish, player="Ada")
            session = Session(piece, wish, record=record)
            for at, note in enumerate(transposed(SCALE, wish.interval).notes):
                session.hear(Press(at / 2, note.midi))
            journal.flush()
        assert cells(journal, "Ada") == {}
    assert said("finish", "1")[1] == "Take 1 is marked: 16 of 16 right.\n"
    with Journal() as journal:
        assert cells(journal, "Ada") == {}, "on a whole piano a hand was silent"
    settings.save(settings.Settings(keys=61, player="Ada"))
    assert said("finish", "2")[0] == 0
    with Journal() as journal:
        assert place in cells(journal, "Ada")


@pytest.mark.parametrize(
    "words",
    [
        ("show", "99"), ("export", "--csv", "--take", "99"), ("erase", "--take", "99", "--yes"),
        ("erase", "--player", "Nobody", "--yes"), ("picture", "sunset"), ("picture", "circle", "--out", "circle.gif"),
        ("list", "--player", "Nobody"), ("finish", "99"), ("keep", "99"), ("export", "--midi", __file__),
        ("export", "--csv", "--out", f"{__file__}/takes.csv"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_said_in_one_sentence(place: Path, said: Said, words: tuple[str, ...]) -> None:
    code, _, err = said(*words)
    assert code == 2
    assert err.startswith("keyfarer: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err


@pytest.mark.parametrize("words", [("show", "9" * 30), ("list", "--limit", "9" * 30), ("summary", "--days", "9" * 30)])
def test_a_number_nobody_means_is_said(place: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["journal", *words])
    assert "takes a number up to 1000000000, not 999" in capsys.readouterr().err


def test_the_longest_stretch_is_the_whole_journal(place: Path, said: Said) -> None:
    assert "Ada: 3 takes" in said("summary", "--player", "Ada", "--days", "100000")[1]


def test_without_a_journal_nothing_is_made(first_home: Path, said: Said) -> None:
    for words in (("list",), ("summary",), ("export", "--csv"), ("restore",), ("picture",)):
        assert said(*words)[0] == 2
    assert list(first_home.iterdir()) == []


def test_the_path_is_a_table_a_teacher_can_edit(place: Path, said: Said) -> None:
    code, out, _ = said("path")
    assert code == 0
    assert "do re mi lie on three neighbouring white keys" in out
    own = place.parent / "path.toml"
    assert not own.exists()
    code, out, _ = said("path", "--edit")
    assert code == 0
    assert str(own) in out
    own.write_text(own.read_text(encoding="utf-8").replace('keys = ["C", "F", "G"]', 'keys = ["G", "C"]', 1), "utf-8")
    assert "G C " in said("path")[1]
    # What a teacher has changed is never written over.
    said("path", "--edit")
    assert 'keys = ["G", "C"]' in own.read_text(encoding="utf-8")
    own.write_text("[[step]]\n", "utf-8")
    code, _, err = said("path")
    assert code == 2
    assert "cannot be used" in err


@pytest.mark.parametrize("words", [("list", "--limit"), ("summary", "--days")])
@pytest.mark.parametrize("number", ["0", "-3", "999999999"])
def test_a_number_that_cannot_be_is_refused_in_words(
    place: Path, said: Said, words: tuple[str, str], number: str
) -> None:
    code, _, err = said(*words, number)
    assert code == 2
    assert f"{words[1]} takes a whole number from 1 to 100000, not {number}." in err


@pytest.mark.parametrize(
    "words", ["show {}", "export --csv --take {}", "erase --take {} --yes", "finish {}", "keep {}"]
)
def test_a_take_no_journal_can_number_is_not_there(place: Path, said: Said, words: str) -> None:
    number = "999999999"
    code, _, err = said(*words.format(number).split())
    assert code == 2
    assert f"There is no take {number}" in err


def test_a_damaged_take_can_be_erased_and_leaves_no_count(place: Path, said: Said) -> None:
    """Every sentence about a damaged take says: erase it."""
    with Journal() as journal:
        player = journal.row(2).player
        others = [row for row in journal.takes(player) if row.id != 2]
        with journal.changing() as db:
            db.execute("UPDATE playing SET verdicts = x'00' WHERE take = 2")
    assert "erase it" in said("show", "2")[2]
    code, out, err = said("erase", "--take", "2", "--yes")
    assert (code, err) == (0, "")
    assert "Take 2 is erased" in out
    with Journal() as journal:
        assert [row.id for row in journal.takes(player)] == [row.id for row in others]
        found = journal.ask(
            "SELECT sum(d.takes) FROM daily d JOIN player p ON p.id = d.player WHERE p.name = ?", (player,)
        )
        assert found[0][0] == len(others)


def test_a_copy_that_cannot_be_removed_stops_erasing_in_words(
    place: Path, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On Windows a file that another copy is at cannot be removed."""
    with Journal() as journal:
        files.back_up(journal.path)

    def refused(path: Path, **_: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(Path, "unlink", refused)
    code, _, err = said("erase", "--take", "1", "--yes")
    assert code == 2
    assert "cannot be removed (Permission denied): close other copies of Keyfarer; nothing was erased." in err
    assert said("show", "1")[0] == 0


def test_a_damaged_take_costs_the_others_no_export(place: Path, said: Said, tmp_path: Path) -> None:
    with Journal() as journal, journal.changing() as db:
        db.execute("UPDATE playing SET events = x'00' WHERE take = 2")
    out = tmp_path / "all.csv"
    code, _, err = said("export", "--csv", "--out", str(out))
    assert (code, {row["take"] for row in csv.DictReader(io.StringIO(out.read_text(encoding="utf-8")))}) == (
        2,
        {"1", "3", "4"},
    )
    assert "3 takes of" in err
    assert "Damaged and left out: take 2." in err
    code, printed, _ = said("export", "--json")
    assert [take["take"] for take in json.loads(printed)["takes"]] == [1, 3, 4]
    assert said("export", "--midi", str(tmp_path / "midi"))[0] == 2
    assert len(list((tmp_path / "midi").glob("*.mid"))) == 3
    assert said("export", "--json", "--take", "2")[0] == 2


def test_a_carriage_return_in_a_name_stays_within_its_field(place: Path, said: Said) -> None:
    with Journal() as journal, journal.changing() as db:
        db.execute("UPDATE player SET name = 'Ada\rWinter' WHERE name = 'Ada'")
    _, printed, _ = said("export", "--csv")
    assert '"Ada\rWinter"' in printed
    assert "\r\n" not in printed
    assert printed.startswith(",".join(CSV_COLUMNS) + "\n")


def test_erasing_a_player_takes_the_name_out_of_the_work_set(place: Path, said: Said) -> None:
    work = place.parent / "assignments.toml"
    work.write_text(
        '# mine\n[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\nplayer = "Ada"\n\n'
        '[[assignment]]\npiece = "aura-lee"\nkeys = ["F"]\nplayer = ["Ben", "Ada"]\n\n'
        '[[assignment]]\npiece = "aura-lee"\nkeys = ["G"]\nplayer = "Ben"\n'
    )
    _, printed, _ = said("erase", "--player", "Ada", "--yes")
    assert "The name is gone from 2 assignments in assignments.toml, too." in printed
    left = work.read_text(encoding="utf-8")
    assert "Ada" not in left
    assert left.startswith("# mine")
    assert [("F" in left), ("G" in left), ("Eb" in left)] == [True, True, False]
    work.write_text("[[assignment]\nplayer = 'Ben'")
    code, _, err = said("erase", "--player", "Ben", "--yes")
    assert (code, "assignments.toml may still name Ben" in err) == (0, True)


def test_who_leaves_before_the_first_take_leaves_work_and_settings_behind(place: Path, said: Said) -> None:
    (place.parent / "assignments.toml").write_text(
        '[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\nplayer = "Zoë O’Brien"\n'
    )
    for name in ("Zoë O’Brien", "Ben"):
        settings.save(settings.Settings(player=name))
    assert "The name is gone from 1 assignment" in said("erase", "--player", "Zoë O’Brien", "--yes")[1]
    assert settings.players() == ["Ben"]
    assert "Brien" not in (place.parent / "assignments.toml").read_text(encoding="utf-8")


def test_a_name_that_is_no_text_is_one_sentence(place: Path, said: Said, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (("list",), ("erase", "--yes"), ("summary",)):
        with pytest.raises(SystemExit):
            main(["journal", words[0], "--player", "A\udcff", *words[1:]])
        err = capsys.readouterr().err
        assert "this one is no text" in err
        assert "Traceback" not in err
