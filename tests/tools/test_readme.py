"""Every command README shows is understood by the program it describes, and every file and name DEVELOPERS names is
there.
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from trainer.app import build

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def shown() -> list[str]:
    """Command lines of the fenced blocks, their explanations left out, and those quoted whole in the text."""
    fenced = [line for block in re.findall(r"```\n(.*?)```", README, re.S) for line in block.splitlines()]
    quoted = [re.sub(r"\s+", " ", words) for words in re.findall(r"`(keyfarer [^`]+)`", README)]
    lines = [re.split(r"\s{2,}", line)[0] for line in fenced if line.startswith("keyfarer")]
    return sorted({one for line in (*lines, *quoted) if "WORDS" not in line for one in alternatives(line)})


def alternatives(line: str) -> list[str]:
    """``journal list | show N`` is two commands; ``--csv | --json`` two ways to end one."""
    parts = [part.strip() for part in line.split(" | ")]
    first = parts[0].split()
    if len(parts) == 1 or first[1] != "journal":
        return [parts[0]]
    ends = [part.startswith("--") for part in parts[1:]]
    head = " ".join(first[:-1]) if any(ends) else "keyfarer journal"
    return [parts[0], *(f"{head} {part}" for part in parts[1:])]


@pytest.mark.parametrize("line", shown())
def test_a_command_of_the_readme_is_understood(line: str) -> None:
    words = shlex.split(re.sub(r"\[[^\]]*\]|\bsvg\b(?!$)", lambda m: m[0].strip("[]"), line).replace(" N", " 1"))[1:]
    parser, listed = build([re.sub(r"^(circle|sight)\|.*", r"\1", word) for word in words])
    args = parser.parse_args(listed)
    assert args.command


def sources() -> list[Path]:
    return [path for room in ("trainer", "tools", "tests") for path in (ROOT / room).rglob("*.py")]


def test_every_file_the_developers_page_names_is_there() -> None:
    here = [path.relative_to(ROOT).as_posix() for path in sources()]
    named = set(re.findall(r"`([\w/]+\.py)`", DEVELOPERS))
    assert len(named) > 100
    assert [name for name in sorted(named) if not any(f"/{path}".endswith(f"/{name}") for path in here)] == []


def test_every_name_the_developers_page_gives_stands_in_the_code() -> None:
    known = set(re.findall(r"\w+", "\n".join(path.read_text(encoding="utf-8") for path in sources())))
    files = {"journal.sqlite", "setlist.toml", "harmony.toml", "assignments.toml", "path.toml"}
    given = set(re.findall(r"`([A-Za-z_]\w*(?:\.\w+)+|_\w+)`", DEVELOPERS)) - files
    assert len(given) > 100
    assert [name for name in sorted(given) if not name.endswith(".py") and name.split(".")[-1] not in known] == []


def test_a_name_given_with_its_file_stands_in_that_file() -> None:
    texts: dict[str, str] = {}
    for path in sources():
        texts[path.stem] = texts.get(path.stem, "") + path.read_text(encoding="utf-8")
    given = set(re.findall(r"`(?:\w+\.)*(\w+)\.(\w+)`", DEVELOPERS))
    # A room and its file, a table and its column.
    others = {("music", "likeness"), ("piece", "body"), ("take", "share")}
    told = {(file, name) for file, name in given - others if file in texts and name not in ("py", "toml", "txt")}
    assert len(told) > 50
    assert [pair for pair in sorted(told) if not re.search(rf"\b{pair[1]}\b", texts[pair[0]])] == []


def test_a_name_given_with_all_its_rooms_leads_to_its_file() -> None:
    texts = [README, DEVELOPERS, *(path.read_text(encoding="utf-8") for path in sources())]
    given = {name for text in texts for name in re.findall(r"`(trainer(?:\.\w+)+)", text)}
    assert len(given) > 10

    def leads(name: str) -> bool:
        """Whether it is a folder, a file, or what is named in one."""
        place, parts = ROOT, name.split(".")
        while parts and (place / parts[0]).is_dir():
            place /= parts.pop(0)
        if not parts:
            return True
        file = place / f"{parts.pop(0)}.py"
        return file.exists() and set(parts) <= set(re.findall(r"\w+", file.read_text(encoding="utf-8")))

    assert [name for name in sorted(given) if not leads(name)] == []
