"""A book of ABC tunes: what goes for all of them, and each on its own."""

from __future__ import annotations

from trainer.music.piece import Piece
from trainer.scores.abc.abcbook import file_name, split, title_of
from trainer.scores.reading import from_bytes

HEAD = "%abc-2.1\nM:3/4\nL:1/8\nC:Ann Author\nO:Upper Valley\nK:Ab\nT:No title\n%%propagate-accidentals not\n"
FREE = "\nM:2/4\nSome words on the valley: it is | long and | narrow.\n\n"
TUNES = (
    "X:1\nT:First Light\nK:G\nG2 A2 B2|^c2 c2 G2|\n\n",
    "X: 7 % the second\nT:Noon\nC:Ben Other\nM:2/4\nL:1/4\nK:D\nD E|F2|\n\nwords between tunes\n\n",
    "X:3\nK:C\nC2 D2 E2|C6|\n",
)
BOOK = HEAD + FREE + "".join(TUNES)


def told(piece: Piece) -> tuple[str, str, tuple[int, int], str]:
    return piece.title, piece.composer, piece.bars[0].meter, piece.key.short


def test_what_the_head_of_a_file_says_goes_for_its_tunes_unless_they_say_otherwise() -> None:
    """The head was passed over: the tune stood in common time, its quarters as eighths, and nobody's."""
    first = from_bytes(BOOK.encode(), "valley.abc")
    assert told(first) == ("First Light", "Ann Author", (3, 4), "G")
    assert [note.length for note in first.notes[:3]] == [1, 1, 1]
    assert first.notes[4].pitch.alteration == 0, "accidentals hold for one note, says the head"
    alone = from_bytes((HEAD + TUNES[1]).encode(), "valley.abc")
    assert told(alone) == ("Noon", "Ben Other", (2, 4), "D"), "also where no empty line stands after it"


def test_each_tune_stands_alone_as_it_stood_in_the_book() -> None:
    for text in (BOOK, "\ufeff" + BOOK.replace("\n", "\r\n"), BOOK.replace("\n", "\r")):
        book = split(text)
        found = [from_bytes(book.alone(at, "Valley").encode(), "tune.abc") for at in range(len(book.tunes))]
        assert [told(piece) for piece in found] == [
            ("First Light", "Ann Author", (3, 4), "G"), ("Noon", "Ben Other", (2, 4), "D"),
            ("Valley 3", "Ann Author", (3, 4), "C"),
        ]  # fmt: skip
        assert [len(piece.notes) for piece in found] == [6, 3, 4]


def test_a_file_without_a_head_and_one_without_numbers_stay_as_they_are() -> None:
    assert split("T:One\nK:C\nC4|\n") == ("", ("T:One\nK:C\nC4|\n",))
    book = split("\n\n" + TUNES[0])
    assert (book.head, book.alone(0, "Book")) == ("", TUNES[0].rstrip() + "\n")
    assert title_of("X:1\nT:K\\'atka % of old\nT:Other\n") == "Kátka"


def test_files_are_named_in_the_order_of_the_book_and_as_any_system_takes_it() -> None:
    names = [file_name(at, 120, title) for at, title in enumerate(("../../etc", 'a<b>"?*', "...", "n" * 300, ""))]
    assert names == ["001 .. .. etc.abc", "002 a b.abc", "003.abc", f"004 {'n' * 60}.abc", "005.abc"]
    assert [name[:3] for name in sorted(names)] == ["001", "002", "003", "004", "005"]
