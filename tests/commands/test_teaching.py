"""Hand-overs, assignments and reports as they are typed."""

from __future__ import annotations

import pathlib
from datetime import datetime, timedelta

import pypdf
import pytest

from tests.journal.played import play
from trainer.app import main
from trainer.coaching.work import along
from trainer.coaching.work.assignments import FILE
from trainer.journal.store import Journal

NOW = datetime.now().astimezone()


@pytest.fixture(autouse=True, name="home")
def folder(home: pathlib.Path, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    """Where the commands are given; the home lies in it."""
    monkeypatch.chdir(tmp_path)
    with Journal() as journal:
        play(journal, "Eb", player="Ada", began=NOW - timedelta(days=2))
        play(journal, "G", player="Ben", slips={3: "step"}, began=NOW - timedelta(days=1))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["journal", *words]) == 0
    return str(capsys.readouterr().out)


def test_handed_over_and_merged_once(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "1 take of Ada" in run(capsys, "hand-over", "--player", "Ada", "--out", "a.handover")
    teacher = ("--journal", str(home / "teacher.sqlite"))
    assert "1 take of Ada taken in." in run(capsys, *teacher, "merge", "a.handover")
    assert "0 takes of Ada taken in, 1 here already." in run(capsys, *teacher, "merge", "a.handover")
    assert main(["journal", "hand-over", "--player", "Ada"]) == 2
    assert "nothing new" in capsys.readouterr().err
    assert "1 take" in run(capsys, "hand-over", "--player", "Ada", "--all")
    assert len(list(home.glob("Ada-*.handover"))) == 1


def test_a_hand_over_that_a_folder_would_not_show_is_refused_before_it_is_written(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["journal", "hand-over", "--player", "Ada", "--out", "ada.file"]) == 2
    assert "name it ada.handover." in capsys.readouterr().err
    assert not (home / "ada.file").exists()
    # Nothing counts as handed over.
    assert "1 take of Ada" in run(capsys, "hand-over", "--player", "Ada", "--out", "ada.handover")


def test_a_teacher_without_takes_hears_how_a_journal_begins(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["journal", "--journal", str(home / "teacher.sqlite"), "report", "--studio"]) == 2
    assert "it begins with the first take, or with one merged." in capsys.readouterr().err


def test_work_of_a_piece_nobody_has_is_pointed_at(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "home" / "assignments.toml").write_text(
        '[[assignment]]\npiece = "lightly-row"\nkeys = ["G"]\n[[assignment]]\npiece = "ligthly-row"\nkeys = ["G"]\n'
    )
    assert main(["journal", "assignments", "--player", "Ada"]) == 0
    said = capsys.readouterr()
    assert said.err == (
        "keyfarer: assignments.toml sets 'ligthly-row', which is not on the shelf here: look how it is spelt, or put "
        f"its file into {home / 'home' / 'pieces'}.\n"
    )
    assert "Ada: Lightly Row (Hänschen klein): G major" in said.out


def test_a_name_that_is_taken_is_refused_and_can_be_given_anew(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "hand-over", "--player", "Ada", "--out", "a.handover")
    with Journal(home / "teacher.sqlite") as journal:
        play(journal, "C", player="Ada")
    assert main(["journal", "--journal", str(home / "teacher.sqlite"), "merge", "a.handover"]) == 2
    assert "another Ada" in capsys.readouterr().err
    out = run(capsys, "--journal", str(home / "teacher.sqlite"), "merge", "a.handover", "--as", "Ada W.")
    assert "1 take of Ada W. taken in." in out


def test_assignments_and_how_far_they_are(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "assignments")
    assert "Nothing is set" in told
    (home / "home" / "assignments.toml").write_text(told[told.index("[[assignment]]") :])
    assert "Ada: Aura Lee: E♭ major, F♯ major" in run(capsys, "assignments")
    (home / "home" / "assignments.toml").write_text(
        '[[assignment]]\nplayer = "Ada"\npiece = "tune"\nkeys = ["Eb", "F"]\nhands = "right"\nnote = "Singing."\n'
    )
    out = run(capsys, "assignments")
    assert "Ada: tune: E♭ major, F major, right hand, 90% right: 1 of 2 keys done, under way." in out
    assert "Singing." in out
    assert "Ben" not in out


@pytest.mark.parametrize(("words", "name", "starts"), [
    (("--player", "Ada"), f"Ada-{NOW:%Y-%m-%d}.pdf", b"%PDF"), (("--studio",), f"studio-{NOW:%Y-%m-%d}.pdf", b"%PDF"),
    (("--everyone", "--out", "all.html"), "all.html", b"<!DOCTYPE"),
])  # fmt: skip
def test_reports(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], name: str, starts: bytes
) -> None:
    assert run(capsys, "report", *words).strip() == name
    assert (home / name).read_bytes().startswith(starts)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("report", "--out", "x.txt"), "neither .pdf nor .html"), (("report", "--since", "monday"), "not a day"),
        (("report", "--out", "."), "'.' is a folder: name a file in it that ends in .pdf or .html."),
        (("report", "--since", "2999-01-01"), "still to come"), (("merge", "none.handover"), "There is no file"),
        (("merge", "."), "no hand-over in"),
        (("report", "--player", "Eve"), "no player 'Eve'"), (("hand-over", "--player", "Eve"), "no player 'Eve'"),
    ],
)  # fmt: skip
def test_refusals_are_one_sentence(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], says: str) -> None:
    assert main(["journal", *words]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


def test_many_hand_overs_at_once_and_a_bad_one_keeps_no_other_out(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    post = home / "post"
    for name in ("Ada", "Ben"):
        run(capsys, "hand-over", "--player", name, "--out", str(post / f"{name}.handover"))
    (post / "torn.handover").write_bytes((post / "Ada.handover").read_bytes()[:99])
    teacher = ("--journal", str(home / "teacher.sqlite"))
    assert main(["journal", *teacher, "merge", str(post)]) == 2
    told = capsys.readouterr()
    assert told.out.splitlines() == [
        "1 take of Ada taken in.",
        "1 take of Ben taken in.",
        "2 files taken in, 1 refused.",
    ]
    assert told.err == "keyfarer: torn.handover is damaged or is no hand-over: ask for it to be sent again.\n"
    both = run(capsys, *teacher, "merge", str(post / "Ada.handover"), str(post / "Ben.handover"))
    assert both.splitlines()[-1] == "All taken in."
    assert main(["journal", *teacher, "merge", str(post), "--as", "Eve"]) == 2
    assert "give that file alone" in capsys.readouterr().err


def test_where_several_play_it_must_be_said_whose_takes_leave(capsys: pytest.CaptureFixture[str]) -> None:
    for what in ("hand-over", "report"):
        assert main(["journal", what]) == 2
        assert capsys.readouterr().err == "keyfarer: This journal has Ada, Ben: say whose with --player NAME.\n"


def test_work_goes_to_the_student_and_names_are_looked_at(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "home" / "assignments.toml").write_text(
        '[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\nplayer = "Eve"\n'
    )
    assert main(["journal", "assignments"]) == 0
    assert "names 'Eve', who has no takes in this journal yet" in capsys.readouterr().err
    assert "1 piece of work." in run(capsys, "assignments", "--out", "eve.toml")
    student = ("--journal", str(home / "eve" / "journal.sqlite"))
    assert run(capsys, *student, "merge", "eve.toml") == "1 piece of work taken up from eve.toml.\n"
    assert "0 pieces of work taken up from eve.toml, 1 here already." in run(capsys, *student, "merge", "eve.toml")


def test_work_withdrawn_by_the_teacher_is_withdrawn_at_home(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "home" / "assignments.toml").write_text(
        '[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\nplayer = ["Ada", "Eve"]\n'
        '[[assignment]]\npiece = "three-bells"\nkeys = ["G"]\n'
    )
    student = ("--journal", str(home / "eve" / "journal.sqlite"))
    run(capsys, "assignments", "--player", "Eve", "--out", "eve.toml")
    run(capsys, *student, "merge", "eve.toml")
    said = run(capsys, "assignments", "--player", "Eve", "--withdraw", "Aura Lee", "--out", "eve.toml")
    assert said.startswith(
        "Withdrawn for Eve: Aura Lee: E♭ major, 90% right.\neve.toml: 2 pieces of work, 1 of it withdr"
    )
    assert run(capsys, *student, "merge", "eve.toml") == (
        "0 pieces of work taken up from eve.toml, 1 here already, 1 withdrawn.\n"
    )
    # Before the first take it is for whoever will play.
    assert run(capsys, *student, "assignments") == (
        "everyone: Three Bells: G major, 90% right: 0 of 1 key done, not begun.\n"
    )
    assert "Ada: Aura Lee" in run(capsys, "assignments")
    for words, says in ((("--withdraw", "aura-lee", "--player", "Eve"), "No work is set in 'aura-lee' for Eve: "),
                        (("--withdraw", "three-bells", "--player", "Ada"), "is set for everyone: ")):  # fmt: skip
        assert main(["journal", "assignments", *words]) == 2
        assert says in capsys.readouterr().err


def test_work_goes_into_a_file_that_is_known_as_work(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "home" / "assignments.toml").write_text('[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\n')
    assert main(["journal", "assignments", "--out", "ada.work"]) == 2
    assert capsys.readouterr().err == (
        "keyfarer: 'ada.work' would not be known as work, which ends in .toml: name it ada.toml.\n"
    )
    assert not (home / "ada.work").exists()


def test_a_tune_of_the_teachers_own_goes_along_in_the_file(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    pieces = home / "home" / "pieces"
    pieces.mkdir()
    (pieces / "own tune.abc").write_text("X:1\nT:Own Tune\nM:4/4\nL:1/4\nK:G\nGABc|d2B2|A2G2|]\n")
    (home / "home" / "assignments.toml").write_text('[[assignment]]\npiece = "own tune"\nkeys = ["-2"]\n')
    assert run(capsys, "assignments", "--out", "ada.toml").endswith("1 piece of your own goes along in it.\n")
    monkeypatch.setenv("KEYFARER_HOME", str(home / "eve"))
    assert run(capsys, "merge", "ada.toml").endswith("Now on the shelf: own tune.abc.\n")
    assert run(capsys, "merge", "ada.toml").endswith("0 pieces of work taken up from ada.toml, 1 here already.\n")


def test_a_tune_too_large_to_go_along_is_asked_along_and_missed_where_it_is_not(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    pieces = home / "home" / "pieces"
    pieces.mkdir()
    (pieces / "own tune.abc").write_text("X:1\nT:Own Tune\nM:4/4\nL:1/4\nK:G\nGABc|d2B2|A2G2|]\n")
    (home / "home" / "assignments.toml").write_text('[[assignment]]\npiece = "own tune"\nkeys = ["-2"]\n')
    monkeypatch.setattr(along, "MOST", 10)
    assert f"Give {pieces / 'own tune.abc'} along: " in run(capsys, "assignments", "--out", "ada.toml")
    monkeypatch.setenv("KEYFARER_HOME", str(home / "eve"))
    assert main(["journal", "merge", "ada.toml"]) == 0
    assert f"put its file into {home / 'eve' / 'pieces'}." in capsys.readouterr().err


def test_work_is_given_before_anybody_has_played(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A first lesson: the student has no takes at the teacher's, who may have no journal either."""
    new = home / "new"
    new.mkdir()
    (new / "assignments.toml").write_text('[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\nplayer = "Eve"\n')
    teacher = ("--journal", str(new / "journal.sqlite"))
    assert "1 piece of work." in run(capsys, *teacher, "assignments", "--player", "Eve", "--out", "eve.toml")
    assert run(capsys, *teacher, "assignments") == "Eve: Aura Lee: E♭ major, 90% right: 0 of 1 key done, not begun.\n"
    assert main(["journal", *teacher, "assignments", "--player", "Eva"]) == 2
    assert capsys.readouterr().err == "keyfarer: The journal has no player 'Eva': it has Eve.\n"
    assert main(["journal", "--journal", str(home / "none" / "journal.sqlite"), "assignments"]) == 2
    assert "There is no journal at" in capsys.readouterr().err


def test_what_was_merged_last_is_not_the_latest(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "hand-over", "--player", "Ada", "--out", "a.handover")
    run(capsys, "hand-over", "--player", "Ben", "--out", "b.handover")
    teacher = ("--journal", str(home / "teacher.sqlite"))
    run(capsys, *teacher, "merge", "b.handover", "a.handover")
    lines = run(capsys, *teacher, "list").splitlines()
    assert ["Ben" in lines[1], "Ada" in lines[2]] == [True, True]


def test_a_broken_assignments_file_is_named(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "home" / "assignments.toml").write_text("[[assignment]]\n")
    assert main(["journal", "assignments"]) == 2
    assert "assignments.toml, assignment 1: piece is missing" in capsys.readouterr().err


def test_the_report_and_the_work_name_keys_by_the_letters_asked_for(
    home: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Journal() as journal:
        for days in (3, 4):
            play(journal, "Bb", player="Ada", slips={3: "signature"}, began=NOW - timedelta(days=days))
    work = home / "home" / FILE
    work.write_text('[[assignment]]\nplayer = "Ada"\npiece = "aura-lee"\nkeys = ["Bb"]\n')
    assert "B♭ major" in run(capsys, "assignments")
    assert "B-Dur" in run(capsys, "assignments", "--letters", "german")
    run(capsys, "report", "--player", "Ada", "--out", "en.html")
    run(capsys, "report", "--player", "Ada", "--out", "de.html", "--letters", "german")
    english, german = ((home / name).read_text(encoding="utf-8") for name in ("en.html", "de.html"))
    for there, here in (("tune in B♭ major", "tune in B-Dur"), ("fa is E flat here", "fa is Es here"),
                        ("still to come in B♭ major", "still to come in B-Dur")):  # fmt: skip
        assert there in english
        assert here in german
    assert "♭ major" not in german


def test_the_work_of_one_student_is_printed(home: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    blocks = [f'[[assignment]]\nplayer = "{name}"\npiece = "{piece}"\nkeys = ["Eb"]\n'
              for name, piece in (("Ada", "aura-lee"), ("Eve", "three-bells"))]  # fmt: skip
    (home / "home" / "assignments.toml").write_text("".join(blocks))
    assert run(capsys, "assignments", "--player", "Ada", "--out", "ada.pdf") == "ada.pdf\n"
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader("ada.pdf").pages)
    assert "Work for Ada" in text
    assert "1. Aura Lee" in text
    assert "Three Bells" not in text
