"""The music alone in a key, and a part for an instrument."""

from __future__ import annotations

import pytest

from tests.scores import making
from trainer.coaching.paper import alone as paper
from trainer.coaching.paper.alone import alone, on_paper, part, songbook
from trainer.coaching.paper.sheets import Wishes
from trainer.coaching.singers.instruments import instrument
from trainer.music.keys import Key
from trainer.music.piece import BOTH, RIGHT, Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan, transposed
from trainer.scores.harmony import harmonies
from trainer.scores.paper.papers import EVERY, NONE, PRINTED
from trainer.scores.paper.printing import Block, Document, Heading, Music, NewPage
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

PIECE = read(find("aura-lee"))


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch) -> list[Piece]:
    """The pieces that come onto the paper, instead of their pictures."""
    found: list[Piece] = []

    def music_of(piece: Piece, beside: str, wishes: Wishes) -> list[Block]:
        found.append(piece)
        return [Heading(piece.title, 1, beside), Music(())]

    monkeypatch.setattr(paper, "music_of", music_of)
    return found


def heads(document: Document) -> list[str]:
    return [block.beside for block in document.blocks if isinstance(block, Heading)]


def test_only_the_music_in_each_key_on_a_page_of_its_own() -> None:
    document = alone(PIECE, [plan(PIECE.key, "Eb"), plan(PIECE.key, "G")], Wishes())
    assert [type(block) for block in document.blocks] == [Heading, Music, NewPage, Heading, Music]
    first, second = heads(document)
    assert first.endswith("in E♭ major, down a major third")
    assert second.endswith("in G major")


@pytest.mark.parametrize(
    ("written", "to", "said"),
    [
        ("C", "C", "in C major"),
        ("F#", "Gb", "in G♭ major, on the same keys, respelled"),
        ("Eb", "E", "in E major, up a chromatic semitone"),
    ],
)
def test_how_far_it_was_moved_is_said_unless_it_stands_as_written(
    printed: list[Piece], written: str, to: str, said: str
) -> None:
    piece = transposed(PIECE, plan(PIECE.key, written).interval)
    assert heads(alone(piece, [plan(piece.key, to)], Wishes())) == [said]


def test_a_songbook_names_key_and_singer_of_each_song_on_a_page_of_its_own(printed: list[Piece]) -> None:
    song = read(find("der-mond-ist-aufgegangen"))
    moves = plan(PIECE.key, "Eb"), plan(song.key, "D")
    document = songbook("Vespers 2027-03-20", [(PIECE, moves[0], "Ada"), (song, moves[1], "")], fingers=NONE)
    assert document.title == "Vespers 2027-03-20"
    assert [type(block) for block in document.blocks] == [Heading, Music, NewPage, Heading, Music]
    assert heads(document) == ["in E♭ major, for Ada", "in D major"]
    assert [piece.key.short for piece in printed] == ["Eb", "D"]
    assert not any(note.finger for piece in printed for note in piece.notes)


def test_a_part_has_a_page_for_each_key_and_no_chords_which_would_name_what_sounds(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wished: list[Wishes] = []

    def music_of(piece: Piece, beside: str, wishes: Wishes) -> list[Block]:
        wished.append(wishes)
        return [Heading(piece.title, 1, beside)]

    monkeypatch.setattr(paper, "music_of", music_of)
    wishes = Wishes(harmony=harmonies(PIECE))
    assert wishes.harmony
    document = part(PIECE, [plan(PIECE.key, to) for to in ("Eb", "F")], instrument("clarinet"), wishes)
    assert [type(block) for block in document.blocks] == [Heading, NewPage, Heading]
    assert [one.harmony for one in wished] == [(), ()]


@pytest.mark.parametrize(
    ("player", "fingers", "name", "beside"),
    [
        (None, None, "Aura Lee - E♭ major", ""),
        (None, PRINTED, "Aura Lee - in E♭ major", "in E♭ major, down a major third"),
        ("flute", PRINTED, "Aura Lee - flute in E♭ major", "for flute, sounds in E♭ major"),
    ],
)
def test_the_sheet_the_music_alone_and_a_part_are_files_of_their_own(
    player: str | None, fingers: str | None, name: str, beside: str
) -> None:
    """Whoever prints one after the other has all of them: none is laid over another."""
    who = instrument(player) if player else None
    document, called = on_paper(PIECE, [plan(PIECE.key, "Eb")], Wishes(), player=who, fingers=fingers)
    assert called == name
    assert heads(document)[0].endswith(beside)


@pytest.mark.parametrize(("fingers", "some", "all_of_them"), [(PRINTED, True, False), (EVERY, True, True),
                                                             (NONE, False, False)])  # fmt: skip
def test_fingers_as_printed_on_every_note_or_left_out(
    printed: list[Piece], fingers: str, some: bool, all_of_them: bool
) -> None:
    alone(PIECE, [plan(PIECE.key, "F#")], Wishes(), fingers)
    (piece,) = printed
    assert piece.key == Key.parse("F#")
    assert any(note.finger for note in piece.notes) == some
    assert all(note.finger for note in piece.notes if not note.grace) == all_of_them


@pytest.mark.parametrize(
    ("name", "sounds", "reads", "higher"),
    [
        ("clarinet in B flat", "G", "A", 2),
        ("clarinet in A", "Eb", "Gb", 3),
        ("alto sax", "G", "E", 9),
        ("horn in F", "G", "D", 7),
        ("flute", "G", "G", 0),
        # A part with seven accidentals is written with five.
        ("clarinet in B flat", "B", "Db", 2),
        ("clarinet in B flat", "F#", "Ab", 2),
    ],
)
def test_an_instrument_reads_what_makes_the_tune_sound_in_the_key(
    printed: list[Piece], name: str, sounds: str, reads: str, higher: int
) -> None:
    move = plan(PIECE.key, sounds)
    document = part(PIECE, [move], instrument(name), Wishes())
    (read_,) = printed
    assert read_.key == Key.parse(reads)
    moved = move.interval.semitones + higher
    assert [note.midi for note in read_.notes] == [note.midi + moved for note in PIECE.voice]
    # Fingers are the pianist's.
    assert not any(note.finger for note in read_.notes)
    assert heads(document)[0].endswith(f"for {instrument(name).name}, sounds in {move.target.name}")


def test_of_a_song_the_part_is_the_singers_line_on_one_staff(printed: list[Piece]) -> None:
    song = read(find("der-mond-ist-aufgegangen"))
    part(song, [plan(song.key, "D")], instrument("clarinet"), Wishes())
    (line,) = printed
    assert [note.midi for note in line.notes] == [note.midi - 3 + 2 for note in song.sung_by(0)]
    assert {note.staff for note in line.notes} == {1}
    assert {(note.voice, note.hand, note.finger) for note in line.notes} == {(1, RIGHT, None)}
    assert (line.singers, line.voice_line, line.poet) == ((), (), "")
    assert (line.sung, line.lyrics, line.verses, line.chords) == ((), (), (), ())
    assert line.only_hand(BOTH).hands == ("right",)


def test_who_reads_no_line_here_is_told_so() -> None:
    piece = making.piece(making.note("a", "C4", 0, 4))
    for name, why in (("viola", "the alto clef"), ("capo 3", "shapes of chords")):
        with pytest.raises(MusicError, match=why):
            part(piece, [plan(piece.key, "D")], instrument(name), Wishes())
