from __future__ import annotations

import pytest

from trainer.app import COMMANDS, main


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main(["--help"])
    assert done.value.code == 0
    said = capsys.readouterr().out
    assert all(name in said for name in COMMANDS)


def test_an_unknown_command_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main(["sing"])
    assert done.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "invalid choice: 'sing'" in said
