"""Sheets for a student: what stands on them."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from pypdf import PdfReader

from tests.scores import making
from trainer.coaching.paper.cards import five_finger_card
from trainer.coaching.paper.sheets import Wishes, _engraved, _syllables, booklet, sheet
from trainer.coaching.path.path import load
from trainer.hands.fingering import finger_piece
from trainer.hands.own import OwnFingers, lie
from trainer.hands.position import five_finger
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import Note, Piece, Verse, Word
from trainer.music.transpose import plan
from trainer.scores import reading
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.harmony import harmonies
from trainer.scores.paper.printing import (
    Block,
    Boxes,
    Columns,
    Document,
    Heading,
    Music,
    NewPage,
    Picture,
    Text,
    Together,
    text_height_mm,
    text_width_mm,
    to_pdf,
)
from trainer.scores.shelf import library

PIECE = reading.read(library.find("aura-lee"))
MOVES = [plan(PIECE.key, "Eb"), plan(PIECE.key, "F#")]


def flat(blocks: Sequence[Block]) -> list[Block]:
    found = []
    for block in blocks:
        found.append(block)
        match block:
            case Together(inner):
                found += flat(inner)
            case Columns(columns):
                for column in columns:
                    found += flat(column)
    return found


def words(document: Document) -> str:
    return "\n".join(
        " ".join(str(getattr(block, name)) for name in ("text", "beside", "words") if hasattr(block, name))
        for block in flat(document.blocks)
    ).replace("\u00a0", " ")


def test_a_key_that_goes_beyond_the_piano_says_so() -> None:
    deep = making.piece(making.note("a", "A0", 0, 4, "left"))
    assert "One note lies below the 88 keys, E0 in bar 1" in words(sheet(deep, [plan(deep.key, "G")]))
    assert "88 keys" not in words(sheet(deep, [plan(deep.key, "D")]))


def test_a_key_on_which_two_voices_begin_is_said_once() -> None:
    voices = making.piece(making.note("a", "A3", 0, 4, "left"), making.note("b", "A3", 0, 2, "left", voice=2))
    assert "First notes: left hand G3." in words(sheet(voices, [plan(voices.key, "Bb")]))


def test_the_page_as_written_then_every_key() -> None:
    text = words(sheet(PIECE, MOVES))
    for part in ("Aura Lee", "written in G major", "E♭ major", "down a major third, three flats", "F♯ major",
                 "First notes: right hand B♭3, left hand E♭3", "hurt"):  # fmt: skip
        assert part in text
    blocks = flat(sheet(PIECE, MOVES).blocks)
    assert sum(isinstance(block, Picture) for block in blocks) == 4
    assert sum(isinstance(block, Boxes) for block in blocks) == 2


def test_the_caution_shares_the_page_of_the_last_key() -> None:
    """Alone it would now and then take a page of its own."""
    for document in (sheet(PIECE, MOVES), booklet(load(), PIECE)):
        last = document.blocks[-1]
        assert isinstance(last, Together)
        caution = last.blocks[-1]
        assert isinstance(caution, Text)
        assert "hurt" in caution.text


def test_what_changes_in_a_repeat_is_told_once() -> None:
    reel = b"X:1\nT:Reel\nM:4/4\nL:1/8\nK:Ddor\n|:d2dA cBAG|FEDE A4|d2dA c2BA|GFED D4:|\n"
    piece = reading.from_bytes(reel, "reel.abc")
    printed = flat(sheet(piece, [plan(piece.key, "eb")]).blocks)
    told = [block.text for block in printed if isinstance(block, Text) and block.style == "small"]
    assert told
    assert len(told) == len(set(told))


def test_a_place_that_runs_over_a_repeat_sign_is_told_as_a_way_back() -> None:
    air = b"X:1\nM:6/8\nL:1/8\nK:Ddor\n|:D2E F2G|A2B c2A|d2c A2G|F2E D3:|\n|:A2B c2d|e2d c2A|B2A G2F|E2C D3:|\n"
    piece = reading.from_bytes(air, "air.abc")
    text = words(sheet(piece, [plan(piece.key, "Eb")]))
    assert "From bar 8 back to bar 5, right hand:" in text
    assert all(int(first) < int(last) for first, last in re.findall(r"Bars (\d+)–(\d+)", text))


def test_fingers_that_change_are_told_by_bar_hand_and_reason() -> None:
    text = words(sheet(PIECE, [plan(PIECE.key, "F#")]))
    assert "Fingers that change, the costliest first:" in text
    assert "hand: the thumb would" in text
    same = reading.read(library.find("three-bells"))
    assert "fingers stay as in the written key" in words(sheet(same, [plan(same.key, "C")]))


def test_answers_and_blank_staves_begin_pages_and_share_one_where_they_fit() -> None:
    blocks = sheet(PIECE, MOVES, Wishes(answers=True, blank=True)).blocks
    heads = [block.beside for block in blocks if isinstance(block, Heading)]
    assert heads[1:] == ["write it out in E♭ major", "write it out in F♯ major", "answer: E♭ major, down a major third",
                         "answer: F♯ major, down a minor second"]  # fmt: skip
    assert sum(isinstance(block, NewPage) for block in blocks) == 4
    short = reading.read(library.find("three-bells"))
    answers = sheet(short, [plan(short.key, key) for key in ("Eb", "D", "A")], Wishes(answers=True))
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(to_pdf(answers))).pages]
    with_answers = [page.count("answer:") for page in pages if "answer:" in page]
    assert sum(with_answers) == 3
    assert len(with_answers) == sum(isinstance(block, NewPage) for block in answers.blocks) < 3


SONG = replace(
    PIECE,
    chords=(Word(PIECE.notes[0].onset, "Em/G"), Word(PIECE.bars[1].onset, "A7")),
    lyrics=tuple(Word(note.onset, word) for note, word in zip(
        (n for n in PIECE.notes if n.hand == "right"), ("As", "the", "black-", "bird", "in"), strict=False)),
)  # fmt: skip


def printed(piece: Piece, **wished: Any) -> list[str]:
    """The text of each page."""
    made = sheet(piece, [plan(piece.key, "Eb")], Wishes(**wished))
    return [page.extract_text() for page in PdfReader(io.BytesIO(to_pdf(made))).pages]


def test_all_verses_are_printed_on_the_page_and_on_its_answer() -> None:
    second = Verse(2, tuple(replace(word, text=text) for word, text in zip(
        SONG.lyrics, ("Then", "comes", "a", "white", "cloud"), strict=True)))  # fmt: skip
    page, *_, answer = printed(replace(SONG, verses=(second,)), answers=True)
    for text in (page, answer):
        assert "1." in text
        assert "2." in text
        assert "cloud" in text


def test_answers_keep_chord_symbols_in_their_key() -> None:
    *_, answer = printed(SONG, answers=True)
    assert "Cm/E♭" in answer
    assert "F7" in answer
    assert "Em/G" in printed(SONG)[0]


@pytest.mark.parametrize("syllables", [False, True])
@pytest.mark.parametrize("sung", [(), SONG.voice])
def test_the_words_of_a_song_are_printed_under_its_melody_and_under_a_voice_over_the_piano(
    syllables: bool, sung: tuple[Note, ...]
) -> None:
    page, *_, answer = printed(replace(SONG, sung=sung), answers=True, syllables=syllables)
    for text in (page, answer):
        assert text.count("As the black bird") == 1
    assert ("sol" in page) == syllables


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_line_to_write_on_is_left_alone_on_a_page(paper: str) -> None:
    piece = reading.read(library.find("greensleeves"))
    made = sheet(piece, [plan(piece.key, "f#")], Wishes(blank=True, paper=paper))
    pages = PdfReader(io.BytesIO(to_pdf(made, paper))).pages
    assert len(pages) == 3
    assert "write it out" in pages[2].extract_text()


def test_bars_stand_on_blank_staves_where_they_stand_in_the_answer() -> None:
    blocks = sheet(PIECE, MOVES[:1], Wishes(answers=True, blank=True)).blocks
    _, blank, answer = (block for block in blocks if isinstance(block, Music))

    def barlines(music: Music) -> list[list[str]]:
        return [re.findall(r'class="barLine[^"]*"[^>]*><path d="([^"]*)"', svg) for svg in music.systems]

    assert len(blank.systems) == len(answer.systems) == 3
    assert barlines(blank) == barlines(answer)
    assert sum(map(len, barlines(answer))) >= len(PIECE.bars) - 1


def test_no_last_line_is_left_short_where_a_slightly_other_size_fills_it() -> None:
    for name in ("aura-lee", "lightly-row", "greensleeves"):
        piece = reading.read(library.find(name))
        page = next(b for b in sheet(piece, [plan(piece.key, "+2")]).blocks if isinstance(b, Music))
        last = page.systems[-1]
        width = float(re.findall(r'viewBox="0 0 ([0-9.]+)', last)[0])
        furthest = max(float(x) for x in re.findall(r"translate\(([0-9.]+)", last))
        assert furthest > 0.6 * width, name


def test_a_tune_within_five_fingers_is_as_large_as_beginners_books_have_it() -> None:
    for name, larger in (("three-bells", True), ("air-of-three-notes", True), ("aura-lee", False)):
        piece = reading.read(library.find(name))
        room = text_height_mm("a4") / 2
        usual, engraved = _engraved(piece, "a4"), _engraved(piece, "a4", room=room)
        assert (engraved.systems[0].width < 0.93 * usual.systems[0].width) is larger, name
        if larger:
            assert len({len(line.bars) for line in engraved.systems}) == 1
            tall = [line.height / line.width * text_width_mm("a4") for line in engraved.systems]
            assert sum(tall) < room
    # In every key its lines break alike, so that what was written out lies over the answer.
    bells = reading.read(library.find("three-bells"))
    made = sheet(bells, [plan(bells.key, key) for key in ("C", "G")], Wishes(blank=True, answers=True))
    lines = [len(block.systems) for block in made.blocks if isinstance(block, Music)]
    assert lines[1:] == [2, 2, 2, 2]


def test_with_many_keys_the_page_keeps_the_usual_size_and_all_its_room() -> None:
    bells = reading.read(library.find("three-bells"))
    one, several = (
        next(b for b in sheet(bells, [plan(bells.key, key) for key in keys]).blocks if isinstance(b, Music))
        for keys in (("C",), ("C", "G", "D"))
    )
    assert (len(one.systems), len(several.systems)) == (2, 1)


def test_syllables_only_on_request() -> None:
    def drawn(wishes: Wishes) -> str:
        return "".join(next(b for b in sheet(PIECE, MOVES, wishes).blocks if isinstance(b, Music)).systems)

    assert ">sol</text>" not in drawn(Wishes())
    text = drawn(Wishes(syllables=True))
    assert text.count(">do</text>") > 5
    assert ">sol</text>" in text


def test_syllables_of_close_notes_draw_apart() -> None:
    tune = making.piece(
        *(making.note(f"n{at}", name, at, 1) for at, name in enumerate(("F4", "E4", "D4", "G4"))), bars=1
    )
    system = engrave(tune, Look(width_px=900, staff_px=40, ribbon_px=26)).systems[0]
    close = replace(system, notes=tuple(replace(place, x=100.0 + 17 * at) for at, place in enumerate(system.notes)))
    found = re.findall(r'x="([0-9.]+)"[^>]*>([a-z]+)<', "".join(_syllables(tune, close, "la")))
    line = [(float(x), word) for x, word in found]
    assert [word for _, word in line] == ["fa", "mi", "re", "sol"]
    gaps = [after - x for (x, _), (after, _) in pairwise(line)]
    assert gaps[0] > 17 + 1
    assert gaps[1] > 17 + 1
    assert all(abs(x - place.x) <= 0.3 * 19 + 0.1 for (x, _), place in zip(line, close.notes, strict=True))


def test_minor_syllables_as_wished() -> None:
    piece = reading.read(library.find("greensleeves"))
    page = sheet(piece, [plan(piece.key, "c")], Wishes(syllables=True, minor="do")).blocks
    assert ">me</text>" in "".join(next(b for b in page if isinstance(b, Music)).systems)


def test_the_path_of_a_piece_holds_every_key_of_its_mode_once() -> None:
    heads = [b.text for b in flat(booklet(load(), PIECE).blocks) if isinstance(b, Heading) and b.level == 3]
    assert len(heads) == len(set(heads)) == 12
    assert all("major" in head for head in heads)


def test_the_path_alone_is_in_the_order_of_opening() -> None:
    route = load()
    document = booklet(route, only="trichord")
    heads = [b.text for b in flat(document.blocks) if isinstance(b, Heading) and b.level == 3]
    wanted = list(dict.fromkeys(Key.parse(p.key).name for p in route.places if p.level == "trichord"))
    assert heads == wanted
    assert all(isinstance(b, Text | Heading | Together) for b in document.blocks)


@pytest.mark.parametrize("level", LEVELS)
def test_the_last_key_of_a_level_never_has_a_page_to_itself(level: str) -> None:
    """Fourteen keys of the trichord took three pages and one of a single key."""
    *_, last = booklet(load(), only=level).blocks
    heads = [b.text for b in flat([last]) if isinstance(b, Heading) and b.level == 3]
    route = load()
    assert heads == list(dict.fromkeys(Key.parse(p.key).name for p in route.places if p.level == level))[-2:]


@pytest.mark.parametrize("key", TWENTY_FOUR, ids=lambda k: k.short)
@pytest.mark.parametrize("hand", ["right", "left"])
def test_every_card_shows_five_fingers_and_the_letters_of_the_key(key: Key, hand: str) -> None:
    position = five_finger(key, hand)
    card = five_finger_card(position)
    for finger in range(1, 6):
        assert card.count(f">{finger}</text>") == 1
    for pitch in position.pitches:
        assert f">{pitch.sign_name}</text>" in card
    assert card.count("<circle") == 1
    # Nothing of it lies beyond the picture's edges, the lines of its outer keys included.
    left, top, wide, high = map(float, re.findall(r'viewBox="([^"]*)"', card)[0].split())
    keys = [
        tuple(map(float, one)) for one in re.findall(r'<rect x="(.*?)" y="(.*?)" width="(.*?)" height="(.*?)"', card)
    ]
    assert min(x for x, *_ in keys) - left == pytest.approx(left + wide - max(x + w for x, _, w, _ in keys), abs=0.1)
    assert min(x for x, *_ in keys) - 0.4 > left
    assert top < 0 < max(h for *_, h in keys) < top + high
    assert f'width="{wide:.1f}"' in card


def test_chords_by_degree_under_the_written_music() -> None:
    piece = reading.read(library.find("winter-ade"))
    chords = harmonies(piece)
    page = sheet(piece, [plan(piece.key, "Eb")], Wishes(harmony=chords)).blocks
    drawn = "".join(next(b for b in page if isinstance(b, Music)).systems)
    said = re.findall(r'font-size="19" fill="#000000">(.*?)</text>', drawn)
    assert [re.sub("<[^>]*>", "", one) for one in said] == [chord.numeral.sign for chord in chords]
    assert '<tspan font-size="12" dx="-6" dy="9.5">4</tspan>' in drawn, "the four stands under the six"


def test_the_path_begins_each_level_on_a_page_with_a_pattern_of_its_own() -> None:
    blocks = booklet(load()).blocks
    heads = [b.text for b in blocks if isinstance(b, Heading) and b.level == 1]
    assert heads == ["The path", "Trichord level", "Pentachord level", "Hexachord level", "Open level"]
    assert sum(isinstance(block, NewPage) for block in blocks) == 3


def test_the_players_own_fingers_stand_on_page_and_answer_each_in_its_key() -> None:
    piece = reading.read(library.find("petzold-minuet-in-g"))
    note = 5
    assert finger_piece(piece, "right")[note] == 2
    own = OwnFingers({lie(piece.key): {note: 4}, lie(Key.parse("F")): {note: 3}})

    def digits(wishes: Wishes, key: str) -> list[list[str]]:
        blocks = sheet(piece, [plan(piece.key, key)], wishes).blocks
        music = [block for block in blocks if isinstance(block, Music)]
        return [re.findall(r'class="fing".*?>([1-5])<', "".join(one.systems)) for one in music]

    page, answer = digits(Wishes(answers=True, own=own), "F")
    plain, plain_answer = digits(Wishes(answers=True), "F")
    assert page != plain
    assert answer != plain_answer
    assert digits(Wishes(answers=True, own=OwnFingers({lie(Key.parse("Eb")): {note: 3}})), "F") == [plain, plain_answer]
