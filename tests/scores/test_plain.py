"""Plain files: read strictly, written whole or not at all."""

from __future__ import annotations

import os
import pathlib

import pytest
import tomlkit

from trainer.music.pitch import MusicError
from trainer.scores.plain import LARGEST, Entry, blocks, read_plain, read_remembered, write_plain


def test_absent_is_none(tmp_path: pathlib.Path) -> None:
    assert read_plain(tmp_path / "none.toml") is None


def test_written_and_read(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "deep" / "x.toml"
    write_plain(path, 'a = "ä"\n')
    found = read_plain(path)
    assert found is not None
    assert found["a"] == "ä"


def test_the_mark_some_editors_put_before_a_text_is_no_part_of_it(tmp_path: pathlib.Path) -> None:
    (tmp_path / "x.toml").write_text("# Mine.\na = 1\n", encoding="utf-8-sig")
    found = read_plain(tmp_path / "x.toml")
    assert found is not None
    assert found["a"] == 1


@pytest.mark.parametrize("text", ['[[one]]\na = ["x"]', "[[one]]\na = 1 # mine", "[[one]]\na = {b = 1}", "# mine"])
def test_a_block_is_added_to_a_text_whose_last_line_has_no_end(tmp_path: pathlib.Path, text: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    found = read_plain(path)
    assert found is not None
    before = [dict(one) for one in blocks(found, "one")]
    row = tomlkit.table()
    row["a"] = 2
    blocks(found, "one").append(row)
    write_plain(path, tomlkit.dumps(found))
    again = read_plain(path)
    assert again is not None
    assert [dict(one) for one in blocks(again, "one")] == [*before, {"a": 2}]
    assert "mine" not in text or "mine" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [b"a = ", b"[[x", b"\xff", b"a = 1\na = 2", b"a = " + b"[" * 5000])
def test_damaged_files_are_refused_by_name(tmp_path: pathlib.Path, text: bytes) -> None:
    (tmp_path / "x.toml").write_bytes(text)
    with pytest.raises(MusicError, match=r"^x\.toml"):
        read_plain(tmp_path / "x.toml")


@pytest.mark.parametrize("text", [b"a" + b".a" * 200_000 + b" = 1", b"[a" + b" . a" * 50_000 + b"]"])
def test_a_key_of_thousands_of_parts_keeps_nobody_waiting(tmp_path: pathlib.Path, text: bytes) -> None:
    (tmp_path / "x.toml").write_bytes(text)
    with pytest.raises(MusicError, match=r"^x\.toml"):
        read_remembered(tmp_path / "x.toml", 2_000_000)


def test_too_large(tmp_path: pathlib.Path) -> None:
    (tmp_path / "x.toml").write_bytes(b"#" * (LARGEST + 1))
    with pytest.raises(MusicError, match="too large"):
        read_plain(tmp_path / "x.toml")


@pytest.mark.skipif(os.name != "posix", reason="who makes links on Windows must be an administrator")
@pytest.mark.parametrize("there", ["b.toml", "not made yet/b.toml"])
def test_a_link_to_a_file_elsewhere_stays_and_the_file_is_written(tmp_path: pathlib.Path, there: str) -> None:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "b.toml").write_text("a = 1\n")
    link, goal = tmp_path / "x.toml", tmp_path / "shared" / there
    link.symlink_to(goal)
    write_plain(link, "a = 2\n")
    assert link.is_symlink()
    assert goal.read_text(encoding="utf-8") == "a = 2\n"


def test_a_folder_in_the_way(tmp_path: pathlib.Path) -> None:
    (tmp_path / "x.toml").mkdir()
    with pytest.raises(MusicError, match="cannot be read"):
        read_plain(tmp_path / "x.toml")
    with pytest.raises(MusicError, match="could not be saved"):
        write_plain(tmp_path / "x.toml", "a = 1\n")
    assert [p.name for p in tmp_path.iterdir()] == ["x.toml"]


@pytest.mark.parametrize(("value", "good"), [(3, True), (2.5, True), (True, False), ("3", False), (-1, False)])
def test_numbers(value: bool | float | int | str, good: bool) -> None:
    entry = Entry({"n": value}, "x")
    if good:
        assert entry.number("n") == value
    else:
        with pytest.raises(MusicError, match="from 0 to"):
            entry.number("n")


def test_lists_of_texts() -> None:
    assert Entry({"k": "Eb"}, "x").texts("k") == ("Eb",)
    assert Entry({"k": ["Eb", "f#"]}, "x").texts("k") == ("Eb", "f#")
    assert Entry({}, "x").texts("k") == ()
    with pytest.raises(MusicError, match="list of texts"):
        Entry({"k": [1]}, "x").texts("k")


def test_what_is_no_text_is_refused_and_the_old_file_stays(tmp_path: pathlib.Path) -> None:
    write_plain(tmp_path / "work.toml", 'piece = "a"\n')
    with pytest.raises(MusicError, match=r'^work\.toml cannot hold piece = "\?tude", for .*\.$'):
        write_plain(tmp_path / "work.toml", 'piece = "\udce9tude"\n')
    assert (tmp_path / "work.toml").read_text(encoding="utf-8") == 'piece = "a"\n'
