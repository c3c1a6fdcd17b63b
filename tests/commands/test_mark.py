from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tools.learner import LEVELS, simulate
from trainer.app import main
from trainer.commands.mark import as_json
from trainer.following.marks import CAUSES, MOVES, right_of
from trainer.journal.store import Journal
from trainer.listening.press import Event, Press
from trainer.listening.replay import read_take, write_take
from trainer.music.transpose import plan, transposed
from trainer.scores import reading
from trainer.scores.shelf import library
from trainer.session import Session
from trainer.window import settings

PIECE = "aura-lee"


@pytest.fixture(autouse=True)
def _home(home: Path) -> None:
    """Every test has a home of its own."""


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """A learner's take of the piece in E flat, with slips and a restart."""
    piece = reading.read(library.find(PIECE))
    expected = transposed(piece, plan(piece.key, "Eb").interval)
    path = tmp_path / "take.mid"
    write_take(simulate(piece, expected, LEVELS["beginner"], 3).presses, path)
    return path


def run(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    code = main(words)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_json_has_the_agreed_shape(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(["mark", PIECE, str(take), "--to", "Eb", "--json"], capsys)
    found = json.loads(out)
    assert code == 0
    assert out.count("\n") == 1
    assert list(found) == ["piece", "played", "missed", "moves", "summary"]
    assert list(found["piece"]) == ["title", "written_key", "target_key", "interval", "semitones", "notes"]
    assert (found["piece"]["interval"], found["piece"]["semitones"]) == ("-M3", -4)
    ids = {note.id for note in reading.read(library.find(PIECE)).notes}
    for index, press in enumerate(found["played"]):
        assert list(press) == ["index", "onset_s", "pitch", "velocity", "note", "first", "cause", "probability"]
        assert press["index"] == index
        assert press["note"] is None or press["note"] in ids
        assert press["cause"] in CAUSES
        assert press["first"]["cause"] in CAUSES
        assert 0 <= press["probability"] <= 1
    assert set(found["missed"]) <= ids
    for move in found["moves"]:
        assert list(move) == ["kind", "at_s", "from", "to"]
        assert move["kind"] in MOVES
        assert {move["from"], move["to"]} <= ids
    assert list(found["summary"]) == ["right", "played", "written", "accuracy", "pulse_bpm", "seconds"]
    assert found["summary"]["played"] == len(found["played"])


def test_what_the_piano_has_no_key_for_is_not_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Eleven semitones lower a quarter of this piece lies below the lowest C of 49 keys."""
    piece = reading.read(library.find("wheat-in-the-wind"))
    expected = transposed(piece, plan(piece.key, "-11").interval)
    there = [note for note in expected.notes if note.midi >= 36]
    take = tmp_path / "take.mid"

    def missed(*words: str, more: int = 36) -> int:
        presses = [Press(float(note.onset) / 2, note.midi) for note in there]
        write_take([*presses, Press(presses[-1].at + 1, more)], take)
        _, out, _ = run(["mark", "wheat-in-the-wind", str(take), "--to=-11", "--json", *words], capsys)
        found = json.loads(out)
        assert found["summary"]["written"] == (len(there) if not found["missed"] else len(expected.notes))
        return len(found["missed"])

    assert missed() == missed("--keyboard", "88") > 40
    assert missed("--keyboard", "49") == 0
    settings.save(settings.Settings(keys=49))
    assert missed() == 0
    _, out, _ = run(["mark", "wheat-in-the-wind", str(take), "--to=-11"], capsys)
    beyond = len(expected.notes) - len(there)
    assert f"Not asked for, beyond the piano's keys: {beyond} notes (--keyboard 88 asks for all)." in " ".join(
        out.split()
    )
    # Who strikes a key beyond has a larger piano than the one in Setup.
    assert missed(more=35) > 40


@pytest.mark.parametrize("to", ["Eb", "-4", "-M3", "E flat major"])
def test_one_key_asked_for_in_four_ways(take: Path, to: str, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(["mark", PIECE, str(take), "--to", to, "--json"], capsys)
    assert json.loads(out)["summary"]["right"] > 60


def test_a_take_heard_live_gives_the_same_marks(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(["mark", PIECE, str(take), "--to", "Eb", "--json"], capsys)
    piece = reading.read(library.find(PIECE))
    kept: list[Event] = []
    session = Session(piece, plan(piece.key, "Eb"))
    for event in read_take(take):
        session.hear(event)
        kept.append(event)
    session.finish()
    assert json.loads(json.dumps(as_json(session))) == json.loads(out)


def test_the_table_names_place_mark_and_reason(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(["mark", PIECE, str(take), "--to", "Eb"], capsys)
    assert code == 0
    assert "written in G major, played in E♭ major (down a major third)" in out
    assert "as-written" in out
    assert " right (" in out


def test_every_command_says_the_same_figure_of_a_take(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With every ninth key left out."""
    piece = reading.read(library.find(PIECE))
    wish = plan(piece.key, "Eb")
    part = tmp_path / "part.mid"
    presses = [event for event in read_take(take) if isinstance(event, Press)]
    write_take([press for at, press in enumerate(presses) if at % 9], part)
    with Journal() as journal:
        session = Session(piece, wish, record=journal.begin(piece, wish, player="Mira"))
        for event in read_take(part):
            session.hear(event)
        missed = len(session.finish().missed)
    summary = session.summary
    assert summary is not None
    assert missed
    figure = right_of(summary.right, summary.played, missed)
    assert figure == f"{summary.right} of {summary.played + missed}"
    assert summary.accuracy == pytest.approx(summary.right / (summary.played + missed))
    _, marked, _ = run(["mark", PIECE, str(part), "--to", "Eb"], capsys)
    _, listed, _ = run(["journal", "list"], capsys)
    _, shown, _ = run(["journal", "show", "1"], capsys)
    assert all(figure in said for said in (marked, listed, shown))


def test_the_journal_gives_no_figure_of_a_take_that_lay_elsewhere_as_a_whole(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """As the Desk does: hardly a note is right where all of it lies an octave off, and no slip is told."""
    piece = reading.read(library.find(PIECE))
    wish = plan(piece.key, "Eb")
    with Journal() as journal:
        for away in (12, 0):
            session = Session(piece, wish, record=journal.begin(piece, wish, player="Mira"))
            for note in session.expected.notes:
                session.hear(Press(0.6 * float(note.onset), note.midi + away))
            session.finish()
        assert journal.elsewhere(journal.takes("Mira")) == {1: 12}
    _, listed, _ = run(["journal", "list"], capsys)
    _, right, off = listed.splitlines()
    assert "lay elsewhere" in off
    assert " of " not in off
    assert "lay elsewhere" not in right
    _, shown, _ = run(["journal", "show", "1"], capsys)
    assert shown.splitlines()[2].startswith("lay elsewhere, ")
    assert " of " in run(["journal", "show", "2"], capsys)[1].splitlines()[2]
    # Programs are told, too, and by how many semitones.
    listed_takes = json.loads(run(["journal", "list", "--json"], capsys)[1])["takes"]
    assert [(take["take"], take["shift"]) for take in listed_takes] == [(2, 0), (1, 12)]
    assert json.loads(run(["journal", "show", "1", "--json"], capsys)[1])["shift"] == 12
    rows = list(csv.DictReader(run(["journal", "export", "--csv"], capsys)[1].splitlines()))
    assert {(row["take"], row["shift"]) for row in rows} == {("1", "12"), ("2", "0")}


def test_a_folder_of_takes(take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "by mail"
    folder.mkdir()
    (folder / "a.mid").write_bytes(take.read_bytes())
    (folder / "b.mid").write_bytes(take.read_bytes())
    (folder / "broken.mid").write_bytes(b"MThd nothing")
    code, out, err = run(["mark", PIECE, str(folder), "--to", "Eb", "--json"], capsys)
    assert code == 2
    assert list(json.loads(out)) == ["a.mid", "b.mid"]
    assert "broken.mid" in err
    code, out, err = run(["mark", PIECE, str(folder), "--to", "Eb"], capsys)
    lines = out.splitlines()
    assert [line.split()[0] for line in lines[1:3]] == ["a.mid", "b.mid"]
    assert "accuracy" in lines[0]
    assert lines[-1] == "2 of 3 takes marked."
    assert err.startswith("keyfarer: broken.mid is left out: ")
    assert err.count("\n") == 1
    assert code == 2
    (folder / "broken.mid").unlink()
    assert run(["mark", PIECE, str(folder), "--to", "Eb"], capsys)[0] == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["mark", PIECE, "TAKE", "--to", "fis"], "is not a key"),
        (["mark", "no such piece", "TAKE", "--to", "C"], "There is no piece"),
        (["mark", PIECE, "nowhere.mid", "--to", "C"], "There is no file"),
        (["mark", PIECE, "TEXT", "--to", "C"], "not a Standard MIDI File"),
        (["mark", "TEXT", "TAKE", "--to", "C"], "TEXT"),
        (["mark", PIECE, "EMPTY", "--to", "C"], "no key presses"),
    ],
)
def test_bad_input_is_one_sentence(
    words: list[str], says: str, take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = tmp_path / "TEXT.txt"
    text.write_text("not music at all")
    empty = tmp_path / "empty.mid"
    write_take([], empty)
    real = {"TAKE": str(take), "TEXT": str(text), "EMPTY": str(empty)}
    code, out, err = run([real.get(word, word) for word in words], capsys)
    assert code == 2
    assert out == ""
    assert err.startswith("keyfarer: ")
    assert err.count("\n") == 1
    assert says in err


def test_the_table_of_a_folder_says_where_a_take_lay(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    piece = reading.read(library.find(PIECE))
    notes = transposed(piece, plan(piece.key, "Eb").interval).notes
    for name, away in (("a", -1), ("b", -12)):
        write_take([Press(float(n.onset) * 0.7, n.midi + away, 64) for n in notes], tmp_path / f"{name}.mid")
    _, out, _ = run(["mark", PIECE, str(tmp_path), "--to", "Eb"], capsys)
    assert [line.split("all of it ")[1].strip() for line in out.splitlines()[1:]] == ["in D major", "1 octave lower"]


def test_a_take_of_another_piece_is_said_to_be_one_and_not_told_slip_by_slip(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = str(next((library.bundled_folder() / "takes").glob("petzold*.mid")))
    code, out, _ = run(["mark", PIECE, other, "--to", "F"], capsys)
    assert code == 0
    assert "Next to nothing of this piece is in the take: is it of another one?" in " ".join(out.split())
    assert "too high" not in out
    assert out.splitlines()[-1].startswith("33 of 219 right")
    (tmp_path / "other.mid").write_bytes(Path(other).read_bytes())
    _, out, _ = run(["mark", PIECE, str(tmp_path), "--to", "F"], capsys)
    assert [("hardly this piece" in line) for line in out.splitlines() if ".mid" in line] == [True, False]
    _, out, _ = run(["mark", PIECE, str(take), "--to", "Eb"], capsys)
    assert "Next to nothing" not in out


@pytest.mark.parametrize(
    ("semitones", "says"),
    [
        (12, "All of it was played an octave higher than asked for."),
        (-1, "All of it was played in D major, a semitone below E flat major."),
        (4, "All of it was played as written, in G major; the key to play in is E flat major."),
    ],
)
def test_a_take_that_lay_elsewhere_is_told_once_and_then_what_was_amiss_besides(
    semitones: int, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    piece = reading.read(library.find(PIECE))
    wish = plan(piece.key, "Eb")
    path = tmp_path / "elsewhere.mid"
    # The fifth note is left out.
    notes = [note for index, note in enumerate(transposed(piece, wish.interval).notes) if index != 4]
    write_take([Press(float(note.onset) * 0.7, note.midi + semitones, 64) for note in notes], path)
    with Journal() as journal:
        session = Session(piece, wish, record=journal.begin(piece, wish, player="Mira"))
        for event in read_take(path):
            session.hear(event)
        session.finish()
    _, out, _ = run(["mark", PIECE, str(path), "--to", "Eb"], capsys)
    _, shown, _ = run(["journal", "show", "1"], capsys)
    for said in (" ".join(out.split()), " ".join(shown.split())):
        assert says in said
        assert f"Taken where it lay, {len(notes)} of {len(notes) + 1} were right." in said
        assert said.count("left out") - said.count("note left out") == 1
        assert said.index(says) < said.index(", left out")
    assert "too high" not in out
    assert "too low" not in out
    assert "played as written:" not in out


def test_the_mark_and_its_words_name_one_cause(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """E for F, where neither key has an F flat, is another key and no signature forgotten."""
    piece = reading.read(library.find(PIECE))
    notes = transposed(piece, plan(piece.key, "Eb").interval).notes
    at = next(index for index, note in enumerate(notes) if note.pitch.sign_name == "F" and note.hand == "right")
    path = tmp_path / "take.mid"
    write_take([Press(float(n.onset) * 0.7, n.midi - (i == at), 64) for i, n in enumerate(notes)], path)
    _, out, _ = run(["mark", PIECE, str(path), "--to", "Eb"], capsys)
    (line,) = [line for line in out.splitlines() if "you played E" in line]
    assert "signature" not in line
    _, table, _ = run(["mark", PIECE, str(tmp_path), "--to", "Eb"], capsys)
    assert "signature" not in table


def test_minor_is_sung_from_la_or_from_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    piece = reading.read(library.find("grey-rain"))
    notes = transposed(piece, plan(piece.key, "e").interval).notes
    path = tmp_path / "take.mid"
    write_take([Press(float(n.onset) * 0.7, n.midi + (5 if i == 6 else 0), 64) for i, n in enumerate(notes)], path)
    for minor, of in (("la", {"la", "ti", "do"}), ("do", {"do", "re", "me"})):
        _, out, _ = run(["mark", "grey-rain", str(path), "--to", "e", "--minor", minor], capsys)
        (line,) = [line for line in out.splitlines() if "you played" in line]
        assert set(line.replace(",", " ").split()) & {"la", "ti", "do", "re", "me"} <= of


def test_notes_and_keys_are_named_by_the_letters_of_setup(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    piece = reading.read(library.find(PIECE))
    expected = transposed(piece, plan(piece.key, "Eb").interval)
    struck = [note.midi + (note.pitch.letter == "B") for note in expected.notes]
    part = tmp_path / "part.mid"
    write_take([Press(0.6 * at, pitch) for at, pitch in enumerate(struck)], part)
    high = tmp_path / "high.mid"
    write_take([Press(0.6 * float(note.onset), note.midi + 1) for note in expected.notes], high)
    with Journal() as journal:
        move = plan(piece.key, "Eb")
        session = Session(piece, move, record=journal.begin(piece, move, player="Ada"))
        for event in read_take(part):
            session.hear(event)
        session.finish()
    marked, shown = ["mark", PIECE, str(part), "--to", "Eb"], ["journal", "show", "1"]
    for words in (marked, shown):
        said = run(words, capsys)[1]
        assert "E♭ major" in said
        assert "is B flat here" in said
    settings.save(settings.Settings(letters="german", player="Ada"))
    for words in (marked, shown):
        said = run(words, capsys)[1]
        assert "Es-Dur" in said
        assert "is B here" in said
        assert "B flat" not in said
        assert "E♭" not in said
    assert "played in E-Dur" in run(["mark", PIECE, str(high), "--to", "Eb"], capsys)[1]
    assert "E♭ major" in run([*marked, "--letters", "english"], capsys)[1]
