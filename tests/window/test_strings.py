"""The words on the screen: every one asked for is there, every one there is asked for, none hides another."""

from __future__ import annotations

import re
from pathlib import Path

from trainer.window import strings

ROOM = Path(strings.__file__).parent.parent
_BUILT = re.compile(r'f"([a-z_]+\.(?:[a-z_-]+\.)*)\{')


def sources() -> str:
    files = [path for path in sorted(ROOM.rglob("*.py")) if path.parent.name != "strings"]
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def test_no_table_hides_the_words_of_another() -> None:
    assert sum(len(table) for table in strings.TABLES) == len(strings.WORDS)


def test_every_word_said_by_its_name_is_there() -> None:
    said = set(re.findall(r'\bsay\(\s*"([^"]+)"', sources()))
    assert len(said) > 100
    assert said <= set(strings.WORDS)


def test_no_word_is_left_over() -> None:
    """A name stands in the code whole, or begins with what a name is built from there."""
    code = sources()
    built = tuple(set(_BUILT.findall(code)))
    left = [n for n in strings.WORDS if f'"{n}"' not in code and f"'{n}'" not in code and not n.startswith(built)]
    assert not left
