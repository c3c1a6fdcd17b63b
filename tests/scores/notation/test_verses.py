"""Verses printed under the same music without a repeat sign: read, kept, and printed one under the other."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path

from tests.scores.making import score, xml_note
from tests.scores.notation.test_choir import abc
from trainer.music.packed import music, packed, unpacked
from trainer.music.passage import passage
from trainer.music.piece import Piece, Verse, Word
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.choir import staves_above
from trainer.scores.notation.preparing import Print
from trainer.scores.notation.verses import MOST_VERSES, verses_in
from trainer.scores.reading import from_bytes, left_out

HEAD = "X:1\nT:Evening\nM:2/4\nL:1/4\nK:G\n"
HYMN = (
    f"{HEAD}G A|B2|\nw: Day is done\nw: Night has come\nw: Morn-ing wakes\nc A|G2|]\nw: Sing, O sing\n"
).encode()  # fmt: skip
DAY, NIGHT, MORNING = ("Day", "is", "done"), ("Night", "has", "come"), ("Morn-", "ing", "wakes")


def hymn() -> Piece:
    return from_bytes(HYMN, "evening.abc")


def texts(verse: Verse) -> tuple[str, ...]:
    return tuple(word.text for word in verse.words)


def rows(piece: Piece, verse: int, ribbon: str = "") -> dict[str, list[str]]:
    """The rows of words on a page, by their number."""
    document = to_musicxml(piece, Print(words=True, verse=verse, ribbon=ribbon))
    found: dict[str, list[str]] = {}
    for lyric in ET.fromstring(document).iter("lyric"):
        found.setdefault(lyric.get("number", ""), []).append(lyric.findtext("text") or "")
    return found


def numbered(number: int, *notes: tuple[str, ...]) -> bytes:
    """A bar of quarter notes with the verses of each, after those before `number` of nobody."""
    said = ("".join(f'<lyric number="{number + at}"><text>{text}</text></lyric>' for at, text in enumerate(verses))
            for verses in notes)  # fmt: skip
    time = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    return score(f'<measure number="1">{time}{"".join(xml_note("G4", 1, words) for words in said)}</measure>')


def test_every_verse_under_the_same_music_is_read_and_kept() -> None:
    piece = hymn()
    assert [word.text for word in piece.lyrics] == [*DAY, "Sing,", "O", "sing"]
    assert [(verse.number, texts(verse)) for verse in piece.verses] == [(2, NIGHT), (3, MORNING)]
    assert [word.onset for word in piece.verses[1].words] == [0, 1, 2]
    assert unpacked(json.loads(json.dumps(packed(piece)))) == piece
    assert transposed(piece, Interval.parse("-m3")).verses == piece.verses
    # The journal knows a piece by what sounds.
    assert not any("wakes" in str(said) for said in music(piece).values())


def test_musicxml_numbers_its_verses_in_and_out() -> None:
    piece = from_bytes(numbered(1, ("Day", "Night"), ("is", "has"), ("done", "come"), ("now", "")), "x")
    assert [(verse.number, texts(verse)) for verse in piece.verses] == [(2, NIGHT)]
    assert texts(Verse(1, piece.lyrics)) == (*DAY, "now")
    again = from_bytes(to_musicxml(piece).encode(), "x")
    assert (again.lyrics, again.verses) == (piece.lyrics, piece.verses)


def test_a_passage_keeps_what_is_sung_in_it() -> None:
    whole = hymn()
    assert [texts(verse) for verse in passage(whole, (1, 2)).verses] == [("come",), ("wakes",)]
    assert passage(whole, (2, 3)).verses == ()


def test_a_page_has_one_verse_or_all_with_their_numbers_and_a_refrain_once() -> None:
    piece = hymn()
    refrain = ["Sing,", "O", "sing"]
    assert rows(piece, 0) == {
        "1": ["1. Day", "is", "done", *refrain],
        "2": ["2. Night", "has", "come"],
        "3": ["3. Morn", "ing", "wakes"],
    }
    assert rows(piece, 1) == {"1": ["1. Day", "is", "done", *refrain]}
    assert rows(piece, 3) == {"1": ["3. Morn", "ing", "wakes", *refrain]}
    assert rows(piece, 9) == rows(piece, 1)
    assert rows(piece, 0, ribbon="so")["4"] == rows(piece, 0)["3"]
    assert rows(piece, 0, ribbon="so")["1"] == ["so"] * 6
    assert verses_in(piece) == [1, 2, 3]


def test_one_verse_alone_has_no_number() -> None:
    piece = from_bytes(numbered(1, ("Day",), ("is",), ("done",), ("now",)), "x")
    assert rows(piece, 0) == rows(piece, 1) == {"1": ["Day", "is", "done", "now"]}
    assert verses_in(piece) == [1]


def test_numbers_that_stand_in_the_words_are_not_doubled() -> None:
    piece = from_bytes(numbered(1, ("1. Day", "2.Night"), ("is", "has"), ("done", "come"), ("now", "")), "x")
    assert [row[0] for row in rows(piece, 0).values()] == ["1. Day", "2.Night"]


def test_verses_are_drawn_one_under_the_other_on_the_page() -> None:
    """A verse's number hangs before its first syllable, so that the first syllables stand under the same head."""
    svg = engrave(hymn(), Look(1200, 40, words=True, verse=0)).systems[0].svg
    placed = re.findall(r'<text x="(\d+)" y="(\d+)"[^>]*>\s*<tspan[^>]*>(?:<tspan[^>]*>)?(\w+)', svg)
    heights = {word: int(y) for _, y, word in placed}
    assert heights["Day"] < heights["Night"] < heights["Morn"]
    lefts = {word: int(x) for x, _, word in placed}
    assert lefts["Day"] == lefts["Night"] == lefts["Morn"]
    assert "Night" not in engrave(hymn(), Look(1200, 40, words=True)).systems[0].svg


def test_verses_beyond_the_last_time_round_are_kept_too() -> None:
    """Two times round sing two verses; the third stands where singing on would sing it."""
    turned = HYMN.replace(b"G A|B2|", b"|:G A|B2:|")
    piece = from_bytes(turned, "x.abc")
    assert [word.text for word in piece.lyrics] == [*DAY, *NIGHT, "Sing,", "O", "sing"]
    assert [(verse.number, texts(verse), verse.words[0].onset) for verse in piece.verses] == [(3, MORNING, 0)]
    assert rows(piece, 0)["1"] == ["1. Day", "is", "done", "2. Night", "has", "come", "Sing,", "O", "sing"]
    fourth = from_bytes(turned.replace(b"c A", b"w: Last of all\nc A"), "x.abc")
    assert [(verse.number, verse.words[0].onset) for verse in fourth.verses] == [(3, 0), (4, 4)]
    assert [row[0] for row in rows(fourth, 0).values()] == ["1. Day", "3. Morn"]
    assert verses_in(fourth) == [1, 3]


def test_a_volta_keeps_the_verses_of_the_passage_that_led_to_it() -> None:
    tune = f"{HEAD}|:G A|1 B2:|2 c2|]\nw: one two three four\nw: five six * seven\nw: up down left right\n"
    piece = from_bytes(tune.encode(), "x.abc")
    assert [word.text for word in piece.lyrics] == ["one", "two", "three", "five", "six", "seven"]
    assert [(verse.number, texts(verse)) for verse in piece.verses] == [(3, ("up", "down", "left"))]


def test_a_choir_prints_further_verses_once_where_all_sing_them() -> None:
    lines = tuple(
        (name, music_of, "Draw the wa-ter\nw: Light the cin-ders" + ("\nw: Own words he has" * (name[0] == "B")))
        for name, music_of in (
            ("S", "c2 A2 | d2 c2 |]"),
            ("A", "F2 F2 | F2 F2 |]"),
            ("B clef=bass", "F,2 F,2 | B,,2 F,2 |]"),
        )
    )
    piece = from_bytes(abc(*lines), "choir.abc")
    assert unpacked(json.loads(json.dumps(packed(piece)))) == piece
    # In the form that programs before this one read.
    assert [len(one) for one in packed(piece)["singers"]] == [3, 3, 3]
    women, men = staves_above(piece)
    assert [texts(verse) for verse in women.verses] == [("Light", "the", "cin-", "ders")]
    assert [(verse.number, texts(verse)) for verse in men.verses] == [(3, ("Own", "words", "he", "has"))]
    last = passage(piece, (1, 1)).singers[-1]
    assert last.verses == (Verse(3, (Word(Fraction(0), "he"), Word(Fraction(2), "has"))),)
    assert verses_in(piece) == [1, 2]
    svg = engrave(piece, Look(1200, 40, words=True, verse=0)).systems[0].svg
    assert svg.count(">Light<") == 1


def test_of_more_verses_than_any_page_has_it_is_said_how_many_are_read(tmp_path: Path) -> None:
    count = MOST_VERSES + 3
    verses = tuple(f"so{at}" for at in range(count))
    file = tmp_path / "long.musicxml"
    file.write_bytes(numbered(1, verses))
    assert len(from_bytes(file.read_bytes(), "x").verses) == MOST_VERSES
    assert f"'long.musicxml' has {count} verses, of which {MOST_VERSES + 1} are read" in left_out(file)
    file.write_bytes(numbered(1, verses[: MOST_VERSES + 1]))
    assert left_out(file) == ""


def test_a_piece_kept_before_verses_were_read_is_opened() -> None:
    piece = hymn()
    old = packed(piece)
    del old["verses"]
    assert unpacked(old).verses == ()
    assert unpacked(old).lyrics == piece.lyrics
