"""A data folder copied to another computer: its set lists and work find the player's own pieces there."""

from __future__ import annotations

import pathlib
import shutil
import unicodedata
from datetime import date
from typing import Literal

import pytest

from trainer.coaching.singers import setlist
from trainer.coaching.work import assignments
from trainer.scores.shelf.library import at_home, find, own_folder

SET_LIST = """
[[occasion]]
name = "Vespers"
date = 2027-03-20

[[occasion.song]]
piece = '{piece}'
title = "Aura"
key = "Eb"
"""
WORK = """
[[assignment]]
player = "all"
piece = '{piece}'
keys = ["Eb"]
"""


@pytest.fixture
def here(home: pathlib.Path) -> pathlib.Path:
    place = own_folder() / "songs" / "aura.musicxml"
    place.parent.mkdir(parents=True)
    shutil.copy(find("aura-lee"), place)
    return place


@pytest.mark.parametrize(
    "elsewhere",
    ["/home/ida/.local/share/keyfarer/pieces/songs/aura.musicxml",
     "C:\\Users\\Ida\\AppData\\Local\\keyfarer\\pieces\\songs\\aura.musicxml",
     "/old/pieces/keyfarer/pieces/songs/aura.musicxml"],
)  # fmt: skip
def test_set_list_and_work_find_an_own_piece_where_it_lies_now(here: pathlib.Path, elsewhere: str) -> None:
    folder = here.parents[2]
    (folder / setlist.FILE).write_text(SET_LIST.format(piece=elsewhere), encoding="utf-8")
    (folder / assignments.FILE).write_text(WORK.format(piece=elsewhere), encoding="utf-8")
    lists = setlist.load(folder)
    assert [song.piece for song in lists.occasions[0].songs] == [str(here)]
    (work,) = assignments.load(folder)
    assert (work.piece, work.known_as) == (str(here), "Aura Lee")
    # What is set is taken back by the name it has here.
    from trainer.coaching.work.work import withdraw

    assert withdraw(folder, work, date(2027, 1, 1))
    assert assignments.load(folder) == ()


def test_other_names_stay_as_they_are(here: pathlib.Path, tmp_path: pathlib.Path) -> None:
    beside = tmp_path / "pieces" / "songs" / "aura.musicxml"
    beside.parent.mkdir(parents=True)
    shutil.copy(here, beside)
    names = ["aura-lee", "songs/aura.musicxml", "pieces/songs/aura.musicxml", str(here), str(beside),
             "/gone/pieces/other.musicxml", "/gone/songs/aura.musicxml", "/x/pieces/../pieces/songs/aura.musicxml",
             "/\0pieces/a"]  # fmt: skip
    assert [at_home(name) for name in names] == names


@pytest.mark.parametrize(("lies", "named"), [("NFC", "NFD"), ("NFD", "NFC")])
def test_a_piece_beside_the_folders_is_found_however_its_accents_are_written(
    home: pathlib.Path, lies: Literal["NFC", "NFD"], named: Literal["NFC", "NFD"]
) -> None:
    """One system writes a letter with its accent, another the two after each other."""
    place = own_folder() / f"{unicodedata.normalize(lies, 'Zwölf Äcker')}.musicxml"
    place.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy(find("aura-lee"), place)
    assert at_home(f"/Users/ida/pieces/{unicodedata.normalize(named, 'Zwölf Äcker')}.musicxml") == str(place)
