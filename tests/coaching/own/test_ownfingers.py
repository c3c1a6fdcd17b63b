"""The player's own fingers: kept by player, key, hand, bar and beat; replaced, taken away; broken files."""

from __future__ import annotations

import pathlib

import pytest

from tests.music.tunes import tune
from trainer.coaching.own import ownfingers
from trainer.coaching.own.ownfingers import FILE, alike, keep, keep_all, load
from trainer.hands.own import NOBODYS
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores.reading import from_bytes, read
from trainer.scores.shelf.library import find

TUNE = tune("C", "C4 E4 G4 C5 B4 D5 G4 C5")
E_FLAT, D = Key.parse("Eb"), Key.parse("D")


def text(folder: pathlib.Path) -> str:
    return (folder / FILE).read_text(encoding="utf-8")


def test_kept_replaced_and_taken_away(tmp_path: pathlib.Path) -> None:
    assert load(tmp_path, TUNE) is NOBODYS
    keep(tmp_path, TUNE, E_FLAT, 5, 4, "Ada")
    keep(tmp_path, TUNE, E_FLAT, 1, 2, "Ada")
    keep(tmp_path, TUNE, E_FLAT, 5, 3, "Ada")
    assert load(tmp_path, TUNE, "Ada").of(E_FLAT) == {5: 3, 1: 2}
    assert text(tmp_path).index("bar 1, beat 2: E4 with 2") < text(tmp_path).index("bar 2, beat 2: D5 with 3")
    keep(tmp_path, TUNE, E_FLAT, 5, 0, "Ada")
    assert load(tmp_path, TUNE, "Ada").of(E_FLAT) == {1: 2}
    keep(tmp_path, TUNE, E_FLAT, 1, 0, "Ada")
    assert load(tmp_path, TUNE, "Ada") is NOBODYS
    assert "[[fingers]]" not in text(tmp_path)
    keep(tmp_path, TUNE, E_FLAT, 1, 0, "Ada")


def test_of_one_player_and_one_key_alone(tmp_path: pathlib.Path) -> None:
    keep(tmp_path, TUNE, E_FLAT, 5, 4, "Ada")
    keep(tmp_path, TUNE, D, 5, 3)
    assert load(tmp_path, TUNE, "Ada").of(D) == {}
    assert load(tmp_path, TUNE, "Ada").of(Key.parse("Eb")) == {5: 4}
    assert load(tmp_path, TUNE).of(D) == {5: 3}
    assert load(tmp_path, TUNE).of(E_FLAT) == {}
    assert load(tmp_path, TUNE, "Bea") is NOBODYS


def test_comments_and_what_else_stands_there_are_left_alone(tmp_path: pathlib.Path) -> None:
    written = (
        '# mine\n[[fingers]]\nplayer = "Ada"\npiece = "TUNE"\nkey = "Eb"\nhand = "right"\nnotes = [\n'
        '    "bar 1, beat 1: C4 with 2", # the thumb is sore\n    "bar 2, beat 1:  b4 with 3",\n]\n'
        '\n# of another\n[[fingers]]\npiece = "Other"\nkey = "nonsense, but not ours"\n'
    )
    (tmp_path / FILE).write_text(written, encoding="utf-8")
    assert load(tmp_path, TUNE, "Ada").of(E_FLAT) == {0: 2, 4: 3}
    keep(tmp_path, TUNE, E_FLAT, 4, 5, "Ada")
    assert load(tmp_path, TUNE, "Ada").of(E_FLAT) == {0: 2, 4: 5}
    for kept in ("# mine", "# the thumb is sore", "# of another", 'piece = "Other"'):
        assert kept in text(tmp_path)


def test_a_note_in_a_repeat_is_said_once(tmp_path: pathlib.Path) -> None:
    twice = from_bytes(b"X:1\nT:twice\nM:4/4\nL:1/4\nK:C\n|: C E G A | c G E C :|\n", "t.abc")
    assert alike(twice, 2) == (2, 10)
    keep(tmp_path, twice, E_FLAT, 10, 2)
    assert load(tmp_path, twice).of(E_FLAT) == {2: 2, 10: 2}
    assert text(tmp_path).count("with") == 1


@pytest.mark.parametrize(
    ("entry", "says"),
    [('key = "Eb"\nhand = "right"', "notes must be a list"),
     ('key = "Q"\nhand = "right"\nnotes = []', "fingers 1: .*Q"),
     ('key = "Eb"\nhand = "both"\nnotes = []', 'hand must be "right" or "left"'),
     ('key = "Eb"\nhand = "right"\nnotes = ["bar 1: C4 with 2"]', "names no finger; write it like"),
     ('key = "Eb"\nhand = "right"\nnotes = ["bar 1, beat 1: C4 with 6"]', "names no finger"),
     ('key = "Eb"\nhand = "right"\nnotes = ["bar 1, beat 0: C4 with 2"]', "counted from 1"),
     ('key = "Eb"\nhand = "right"\nnotes = ["bar 1, beat 1: H4 with 2"]', "not a pitch"),
     ("key = ", "mend that line")],
)  # fmt: skip
def test_wrong_entries_are_said_and_nothing_is_written_over_them(tmp_path: pathlib.Path, entry: str, says: str) -> None:
    written = f'[[fingers]]\npiece = "tune"\n{entry}\n'
    (tmp_path / FILE).write_text(written, encoding="utf-8")
    with pytest.raises(MusicError, match=says):
        load(tmp_path, TUNE)
    with pytest.raises(MusicError, match=says):
        keep(tmp_path, TUNE, E_FLAT, 1, 2)
    assert text(tmp_path) == written


def test_a_thumb_on_two_keys_is_kept_for_the_keys_in_which_they_are_neighbours_of_one_colour(
    tmp_path: pathlib.Path,
) -> None:
    chord = from_bytes(b"X:1\nT:seconds\nM:4/4\nL:1/1\nK:C\n[CDG]|[EGc]|\n", "t.abc")
    for key in ("C", "Db", "G"):
        keep_all(tmp_path, chord, Key.parse(key), {0: 1, 1: 1})
        assert load(tmp_path, chord).of(Key.parse(key)) == {0: 1, 1: 1}, key
    before = text(tmp_path)
    with pytest.raises(MusicError, match="1 is on C natural of the same chord"):
        keep_all(tmp_path, chord, E_FLAT, {0: 1, 1: 1})
    assert text(tmp_path) == before
    (tmp_path / FILE).write_text(before.replace('key = "G"', 'key = "Eb"'), encoding="utf-8")
    with pytest.raises(MusicError, match="of the same chord: give that note another finger first"):
        load(tmp_path, chord)


def test_two_notes_of_a_chord_have_two_fingers(tmp_path: pathlib.Path) -> None:
    chord = read(find("day-comes-up-the-hill"))
    at = next(i for i in range(len(chord.notes) - 1) if _together(chord, i))
    keep(tmp_path, chord, E_FLAT, at, 3)
    before = text(tmp_path)
    with pytest.raises(MusicError, match=r"^3 is on .* of the same chord: give that note another finger first\.$"):
        keep(tmp_path, chord, E_FLAT, at + 1, 3)
    assert text(tmp_path) == before


def _together(piece: object, at: int) -> bool:
    one, two = piece.notes[at : at + 2]  # type: ignore[attr-defined]
    return bool(
        (one.onset, one.hand) == (two.onset, two.hand) and one.midi != two.midi and not (one.grace or two.grace)
    )


def test_a_file_that_would_grow_too_large_stays_as_it_is(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep(tmp_path, TUNE, E_FLAT, 1, 2)
    before = text(tmp_path)
    monkeypatch.setattr(ownfingers, "LARGEST", len(before))
    with pytest.raises(MusicError, match="holds as much as it can"):
        keep(tmp_path, TUNE, E_FLAT, 2, 3)
    assert text(tmp_path) == before


def test_who_gets_a_name_keeps_their_fingers(tmp_path: pathlib.Path) -> None:
    ownfingers.give_name(tmp_path, "Ada")
    assert not (tmp_path / FILE).exists()
    keep(tmp_path, TUNE, E_FLAT, 1, 3)
    keep(tmp_path, TUNE, E_FLAT, 2, 2, "Ben")
    keep(tmp_path, TUNE, D, 1, 4)
    ownfingers.give_name(tmp_path, "Ada")
    assert (load(tmp_path, TUNE, "Ada").of(E_FLAT), load(tmp_path, TUNE, "Ada").of(D)) == ({1: 3}, {1: 4})
    assert load(tmp_path, TUNE, "Ben").of(E_FLAT) == {2: 2}
    assert not load(tmp_path, TUNE).by_key
    keep(tmp_path, TUNE, E_FLAT, 1, 2, "Ada")
    assert load(tmp_path, TUNE, "Ada").of(E_FLAT) == {1: 2}


def test_who_leaves_takes_their_fingers_along(tmp_path: pathlib.Path) -> None:
    ownfingers.forget(tmp_path, "Ada")
    assert not (tmp_path / FILE).exists()
    keep(tmp_path, TUNE, E_FLAT, 1, 2, "Ada")
    keep(tmp_path, TUNE, E_FLAT, 1, 3)
    ownfingers.forget(tmp_path, "ada")
    assert "Ada" not in text(tmp_path)
    assert load(tmp_path, TUNE).of(E_FLAT) == {1: 3}
    # Who has given no name, as the journal calls them.
    assert load(tmp_path, TUNE, "Player").of(E_FLAT) == {1: 3}
    ownfingers.forget(tmp_path, "Player")
    assert not load(tmp_path, TUNE).by_key
