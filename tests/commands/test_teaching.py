"""Hand-overs, assignments and reports as they are typed."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests.journal.played import play
from trainer.app import main
from trainer.journal.store import Journal

NOW = datetime.now().astimezone()


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    with Journal() as journal:
        play(journal, "Eb", player="Ada", began=NOW - timedelta(days=2))
        play(journal, "G", player="Ben", slips={3: "step"}, began=NOW - timedelta(days=1))
    return tmp_path


def run(capsys, *words: str) -> str:
    assert main(["journal", *words]) == 0
    return capsys.readouterr().out


def test_handed_over_and_merged_once(home, capsys):
    assert "1 take of Ada" in run(capsys, "hand-over", "--player", "Ada", "--out", "a.handover")
    teacher = ("--journal", str(home / "teacher.sqlite"))
    assert "1 take of Ada taken in." in run(capsys, *teacher, "merge", "a.handover")
    assert "0 takes of Ada taken in, 1 here already." in run(capsys, *teacher, "merge", "a.handover")
    assert main(["journal", "hand-over", "--player", "Ada"]) == 2
    assert "nothing new" in capsys.readouterr().err
    assert "1 take" in run(capsys, "hand-over", "--player", "Ada", "--all")
    assert len(list(home.glob("Ada-*.handover"))) == 1


def test_a_name_that_is_taken_is_refused_and_can_be_given_anew(home, capsys):
    run(capsys, "hand-over", "--player", "Ada", "--out", "a.handover")
    with Journal(home / "teacher.sqlite") as journal:
        play(journal, "C", player="Ada")
    assert main(["journal", "--journal", str(home / "teacher.sqlite"), "merge", "a.handover"]) == 2
    assert "another Ada" in capsys.readouterr().err
    out = run(capsys, "--journal", str(home / "teacher.sqlite"), "merge", "a.handover", "--as", "Ada W.")
    assert "1 take of Ada W. taken in." in out


def test_assignments_and_how_far_they_are(home, capsys):
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
def test_reports(home, capsys, words, name, starts):
    assert run(capsys, "report", *words).strip() == name
    assert (home / name).read_bytes().startswith(starts)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("report", "--out", "x.txt"), "neither .pdf nor .html"), (("report", "--since", "monday"), "not a day"),
        (("report", "--player", "Eve"), "no player 'Eve'"), (("hand-over", "--player", "Eve"), "no player 'Eve'"),
    ],
)  # fmt: skip
def test_refusals_are_one_sentence(capsys, words, says):
    assert main(["journal", *words]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


def test_a_broken_assignments_file_is_named(home, capsys):
    (home / "home" / "assignments.toml").write_text("[[assignment]]\n")
    assert main(["journal", "assignments"]) == 2
    assert "assignments.toml, assignment 1: piece is missing" in capsys.readouterr().err
