from __future__ import annotations

import argparse
import os
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.journal.played import SCALE
from trainer.app import COMMANDS, build, main
from trainer.commands.asking import EXAMPLES, Parser
from trainer.journal import files
from trainer.journal.store import Journal
from trainer.listening.press import Press
from trainer.listening.replay import write_take
from trainer.scores.engraving.writing import to_musicxml


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main(["--help"])
    assert done.value.code == 0
    said = capsys.readouterr().out
    assert all(name in said for name in COMMANDS)


def test_a_slip_in_a_command_is_seen_before_the_window_opens(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["jornal", "list"]) == 2
    assert capsys.readouterr().err == (
        "keyfarer: There is no command and no piece 'jornal': did you mean 'keyfarer journal'?\n"
    )


def test_the_version_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("keyfarer ")


# Each takes a good part of a second to load.
HEAVY = {"matplotlib", "music21", "numpy", "pygame", "typst", "verovio"}


def loaded(code: str) -> set[str]:
    """The heavy packages a program of its own has loaded at its end."""
    code += "; import sys; print(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True)
    return HEAVY.intersection(done.stderr.split())


@pytest.mark.parametrize("name", sorted(COMMANDS.keys() - {"mark", "suit"}))
def test_no_help_waits_for_what_it_does_not_need(name: str) -> None:
    assert loaded(f"from trainer.app import build; build([{name!r}, '--help'])") == set()


@pytest.mark.usefixtures("home")
@pytest.mark.parametrize("words", [["shelf"], ["journal", "list"]])
def test_a_list_waits_for_no_music_and_no_arrays(words: list[str]) -> None:
    with Journal(files.where()):
        pass
    assert loaded(f"from trainer.app import main; assert main({words}) == 0") == set()


def parsers(words: list[str]) -> Iterator[Parser]:
    """The parser of a command and of everything below it."""
    waiting = [build(words)[0]]
    while waiting:
        parser = waiting.pop()
        yield parser
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                waiting += [one for name, one in action.choices.items() if name == words[0] or name not in COMMANDS]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_word_of_the_help_is_explained_and_shown_at_work(name: str) -> None:
    assert name in EXAMPLES
    for parser in parsers([name]):
        for action in parser._actions:
            if not isinstance(action, argparse._SubParsersAction):
                assert action.help, f"{parser.prog} {action.option_strings or action.dest}"


@pytest.mark.parametrize(
    "line", [line for lines in EXAMPLES.values() for line in lines if "--help" not in line], ids=lambda line: line[:40]
)
def test_every_example_is_a_command_that_can_be_given(line: str) -> None:
    words = shlex.split(line.split("   ")[0])
    assert words[0] == "keyfarer"
    parser, listed = build(words[1:])
    args, unknown = parser.parse_known_args(listed)
    assert unknown == []
    assert args.command == (words[1] if len(words) > 1 and words[1] in COMMANDS else "open")


def test_a_word_that_is_no_command_is_a_piece(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    assert main(["no such tune"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "There is no piece 'no such tune'" in said


def test_without_a_screen_the_window_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("SDL_VIDEODRIVER", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    assert main([]) == 2
    assert "There is no screen here" in capsys.readouterr().err


def test_a_file_that_is_no_journal_is_left_as_it_is(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Mira, bring the set list on Sunday.\n" * 40)
    before = letter.read_bytes()
    for what in (["list"], ["summary"], ["erase", "--yes"], ["restore"]):
        assert main(["journal", "--journal", str(letter), *what]) == 2
        assert capsys.readouterr().err.count("\n") == 1
        assert letter.read_bytes() == before
        assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["letter.txt"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["fresh", "--bars", "x"], "--bars takes a whole number, not 'x'"),
        (["fresh", "--seed"], "--seed needs something after it"),
        (["look", "tune", "--octave", "sideways"], "--octave takes nearest, up or down, not 'sideways'"),
        (["journal", "show", "first"], "N takes a whole number, not 'first'"),
        (["mark"], "still to be said: PIECE, TAKE.mid, --to"),
        (["look", "one", "two"], "'two' is too much or unknown"),
        (["open", "--speed", "fast"], "--speed takes a number, not 'fast'"),
        (["sheet", "--path=3"], "--path takes nothing after it"),
        (["sheet", "aura-lee", "--too", "Eb"], "keyfarer sheet: '--too' is unknown: did you mean --to?"),
        (["journal", "lst"], "'lst' is unknown: did you mean list"),
        (["journal", "xyzzy"], "there are list, show,"),
        (["journal", "list", "--limt=3"], "keyfarer journal list: '--limt=3' is unknown: did you mean --limit?"),
        (["journal", "export"], "still to be said: --csv, --json or --midi"),
        (["sheet", "--pa", "a4"], "--pa could be"),
    ],
)
def test_words_that_cannot_be_taken_are_said_in_our_own(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as done:
        main(words)
    assert done.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert says in said
    assert "argument" not in said
    assert "invalid" not in said


ODD = "Air [/b] and [red]dance :smile:"


@pytest.mark.parametrize("words", ["look {} --to Eb", "fingers {} --to Eb", "mark {} {} --to Eb"])
def test_brackets_in_a_title_stand_as_they_are(
    words: str, tmp_path: Path, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    piece, take = tmp_path / "air.musicxml", tmp_path / "take [1].mid"
    piece.write_text(to_musicxml(replace(SCALE, title=ODD)), encoding="utf-8")
    write_take([Press(float(at), 60 + at) for at in range(5)], take)
    assert main(shlex.split(words.format(shlex.quote(str(piece)), shlex.quote(str(take))))) == 0
    assert capsys.readouterr().out.startswith(ODD)


@pytest.mark.parametrize("asked", [{}, {"PYTHONIOENCODING": "cp1252"}])
def test_no_code_page_stops_a_command(asked: dict[str, str]) -> None:
    # As on Windows, where what goes into a file or another program is written in the system's code page.
    surroundings = {**os.environ, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "LC_ALL": "C", **asked}
    command = [sys.executable, "-m", "trainer", "suit", "--line", "F4-F5", "--written", "Bb", "--voice", "mezzo"]
    done = subprocess.run(command, capture_output=True, env=surroundings)
    assert (done.returncode, done.stderr) == (0, b"")
    assert ("B? major" if asked else "B♭ major") in done.stdout.decode(asked.get("PYTHONIOENCODING", "utf-8"))


def test_a_reader_that_goes_away_is_no_fault() -> None:
    command = [sys.executable, "-m", "trainer", "journal", "path"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as program:
        assert program.stdout is not None
        assert program.stderr is not None
        program.stdout.close()
        said = program.stderr.read()
    assert (program.returncode, said) == (0, b"")


@pytest.mark.parametrize("words", ["look ode-to-joy", "journal path"])
@pytest.mark.skipif(os.name != "posix", reason="a shell's pipes")
def test_a_table_cut_short_by_its_reader_is_no_fault(words: str) -> None:
    command = f"set -o pipefail; {shlex.quote(sys.executable)} -m trainer {words} | true"
    done = subprocess.run(["bash", "-c", command], capture_output=True)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(sys.platform != "linux", reason="a file that is always full")
@pytest.mark.parametrize("words", ["look ode-to-joy", "look ode-to-joy --json", "ports"])
def test_what_cannot_be_written_is_said_in_a_sentence(words: str) -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run([sys.executable, "-m", "trainer", *words.split()], stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert done.stderr.decode() == (
        "keyfarer: What there is to say could not be written (No space left on device): "
        "make room, or send it elsewhere.\n"
    )


LONG = "a" * 300  # no disk has room for such a name


@pytest.mark.parametrize(
    "words",
    [
        f"mark ode-to-joy {LONG}.mid --to Eb", f"sheet ode-to-joy --to A --out {LONG}.pdf", f"fresh --out {LONG}.xml",
        f"journal list --journal {LONG}", f"journal path --journal {LONG}/journal.sqlite", f"journal merge {LONG}",
        f"look {LONG}.abc",
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_reached_is_said_in_a_sentence(
    words: str, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words.split()) == 2
    said = capsys.readouterr().err
    assert said.startswith("keyfarer: ")
    assert said.count("\n") == 1


@pytest.mark.skipif(os.name != "posix", reason="a shell's way to close a stream")
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_a_stream_that_is_closed_stops_no_command(closed: str) -> None:
    command = f"{shlex.quote(sys.executable)} -m trainer look ode-to-joy {closed}"
    done = subprocess.run(["bash", "-c", command], capture_output=True)
    assert (done.returncode, done.stderr) == (0, b"")
