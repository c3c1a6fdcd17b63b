"""The bundled pieces: every file reads, says where it comes from, lies in its level, and is written cleanly."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from trainer.hands.fingering import finger_piece
from trainer.music.compass import LEVELS, level
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.scores.notation.choir import lines_above
from trainer.scores.reading import read

FILES = sorted((Path(__file__).parents[2] / "exercises").glob("*/*.musicxml"))
LEAST = {"trichord": 10, "pentachord": 20, "hexachord": 20, "open": 20}
COMMON_METERS = {"2/4", "3/4", "4/4", "6/8"}


@pytest.fixture(scope="module")
def pieces() -> dict[Path, Piece]:
    return {path: read(path) for path in FILES}


def meter(piece: Piece) -> str:
    return "{}/{}".format(*piece.bars[0].meter)


def test_enough_of_every_level_and_kind(pieces: dict[Path, Piece]) -> None:
    counts = Counter(path.parent.name for path in FILES)
    assert set(counts) == set(LEVELS)
    assert len(FILES) >= 72
    assert all(counts[name] >= least for name, least in LEAST.items()), counts
    assert sum(piece.key.is_minor for piece in pieces.values()) >= len(FILES) / 3
    assert sum(len(piece.hands) == 2 for piece in pieces.values()) >= len(FILES) / 2
    met = {meter(piece) for piece in pieces.values()}
    assert met >= COMMON_METERS
    assert len(met) >= len(COMMON_METERS) + 3
    lengths = [len(piece.bars) for piece in pieces.values()]
    assert min(lengths) <= 4
    assert max(lengths) >= 32
    assert len({piece.key for piece in pieces.values()}) >= 18
    assert len({piece.title for piece in pieces.values()}) == len(FILES)


def test_the_songbook_has_what_an_accompanist_tries(pieces: dict[Path, Piece]) -> None:
    songs = [piece for piece in pieces.values() if piece.sung]
    assert Counter(len(song.singers) for song in songs) >= Counter({1: 6, 2: 1, 4: 2})
    assert all(len(song.hands) == 2 for song in songs)
    assert sum(bool(song.verses) for song in songs) >= 6
    assert {song.key.is_minor for song in songs} == {True, False}
    assert sum(song.by != song.composer for song in songs) >= 4  # whose the words are
    assert "6/8" in {meter(song) for song in songs}
    assert {path.parent.name for path, piece in pieces.items() if piece.sung} >= {"pentachord", "hexachord", "open"}
    # A prelude and a postlude: the piano begins before the voices and ends after them.
    assert all(song.notes[0].onset < song.sung[0].onset for song in songs)
    assert sum(max(note.onset for note in song.notes) >= max(note.end for note in song.sung) for song in songs) >= 6


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_note_that_is_sung_has_a_syllable_or_goes_on_from_one(path: Path, pieces: dict[Path, Piece]) -> None:
    piece = pieces[path]
    for line in lines_above(piece):
        onsets = {note.onset for note in line.notes}
        assert len(onsets) == len(line.notes)
        for words in (line.lyrics, *(verse.words for verse in line.verses)):
            assert {word.onset for word in words} <= onsets
            assert words[0].onset == min(onsets)
            # A few syllables are sung on over two notes or three.
            assert len(words) >= len(onsets) * 4 / 5
            assert not words[-1].text.endswith("-")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_piece_lies_in_its_folder_and_says_where_it_comes_from(path: Path, pieces: dict[Path, Piece]) -> None:
    piece = pieces[path]
    assert level(piece) == path.parent.name
    assert piece.title
    assert piece.composer
    assert piece.origin
    assert piece.source
    assert piece.licence in ("Public domain", "CC0 1.0 (dedicated to the public domain)")
    assert (piece.composer == "Keyfarer") == piece.licence.startswith("CC0")
    if piece.composer == "Traditional":
        assert piece.origin.endswith("handed down in many keys, none of them original")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_piece_is_fingered_and_both_hands_have_room(path: Path, pieces: dict[Path, Piece]) -> None:
    piece = pieces[path]
    for hand in piece.hands:
        own = [note for note in piece.notes if note.hand == hand]
        assert any(note.finger for note in own if note.onset == own[0].onset), hand
        assert all(note.finger is None or 1 <= note.finger <= 5 for note in own)
        assert sum(note.finger is not None for note in own) >= len(piece.bars) / 8
    assert all(33 <= note.midi <= 93 for note in piece.notes)
    for moment in piece.moments:
        notes = [piece.notes[at] for at in moment.notes]
        right = [note.midi for note in notes if note.hand == RIGHT]
        left = [note.midi for note in notes if note.hand == LEFT]
        for keys in (right, left):
            assert not keys or max(keys) - min(keys) <= 12
        if right and left:
            assert min(right) > max(left)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_printed_finger_hops_to_the_next_key_of_a_line(path: Path, pieces: dict[Path, Piece]) -> None:
    """Within a beat, what follows at once a third away at most takes another finger, as a teacher would mark."""
    piece = pieces[path]
    for hand in piece.hands:
        line = [note for note in piece.notes if note.hand == hand and not note.grace]
        hops = [
            (piece.bar_at(two.onset).number, one.pitch, two.pitch, one.finger)
            for one, two in pairwise(line)
            if one.finger == two.finger is not None
            and 0 < abs(one.midi - two.midi) <= 4
            and one.onset + one.length == two.onset
            and one.length <= 1
        ]
        assert not hops


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_finger_is_crossed_without_the_thumb_nor_hops_in_a_line(path: Path, pieces: dict[Path, Piece]) -> None:
    """Of all fingers on the page, not only the printed ones; a leap of a seventh and more may keep its finger."""
    piece = pieces[path]
    for hand in piece.hands:
        fingers = finger_piece(piece, hand)
        up = 1 if hand == RIGHT else -1
        moments = [[n for n in moment.notes if n in fingers] for moment in piece.moments]
        line = [notes for notes in moments if notes]
        for one, two in ((a[0], b[0]) for a, b in pairwise(line) if len(a) == len(b) == 1):
            first, second = piece.notes[one], piece.notes[two]
            steps, before, after = up * (second.midi - first.midi), fingers[one], fingers[two]
            if steps == 0 or abs(steps) >= 10 or first.end != second.onset:
                continue
            where = piece.bar_at(second.onset).number, first.pitch, second.pitch
            assert 1 in (before, after) or (after - before) * steps > 0, where


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_printed_finger_in_a_chord_leaves_fingers_for_its_other_notes(path: Path, pieces: dict[Path, Piece]) -> None:
    piece = pieces[path]
    for moment in piece.moments:
        for hand in piece.hands:
            notes = [piece.notes[number] for number in moment.notes]
            chord = sorted((note.midi, note.finger) for note in notes if note.hand == hand and not note.grace)
            if hand == LEFT:
                chord.reverse()
            for at, (_, finger) in enumerate(chord):
                assert finger is None or at < finger <= 5 - (len(chord) - 1 - at), (moment.onset, chord)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_file_is_clean_musicxml(path: Path) -> None:
    root = ET.parse(path).getroot()
    assert (root.tag, root.get("version")) == ("score-partwise", "4.0")
    assert root.findtext("identification/rights")
    assert root.findtext("identification/source")
    assert root.find("identification/miscellaneous/miscellaneous-field[@name='origin']") is not None
    parts = root.findall("part")
    ids = [note.get("id") for note in root.iter("note") if note.find("rest") is None]
    assert len(set(ids)) == len(ids)
    assert all(name and name.startswith("n") for name in ids)
    # The voices of a song stand over the piano.
    assert all(part.findtext("measure/attributes/staves") is None for part in parts[:-1])
    assert all(part.find("measure/note/lyric") is not None for part in parts[:-1])
    hands = {note.findtext("staff", "1") for note in parts[-1].iter("note") if note.find("rest") is None}
    assert int(parts[-1].findtext("measure/attributes/staves", "1")) == len(hands)
    for part in parts:
        assert_bars_are_full(part)


def assert_bars_are_full(part: ET.Element) -> None:
    divisions = int(part.findtext("measure/attributes/divisions", "0"))
    beats = Fraction(4 * int(part.findtext("measure/attributes/time/beats", "0")),
                     int(part.findtext("measure/attributes/time/beat-type", "1")))  # fmt: skip
    measures = part.findall("measure")
    short = []
    for measure in measures:
        length = filled(measure) / divisions
        if length != beats:
            short.append(length)
    # A pickup and the last bar make one bar together.
    assert not short or sum(short) in (beats, short[0])


def filled(measure: ET.Element) -> Fraction:
    """Divisions in a measure, checked to be the same for every voice of every staff."""
    voices: Counter[str] = Counter()
    for note in measure.findall("note"):
        if note.find("chord") is None and note.find("grace") is None:
            voices[note.findtext("voice", "1")] += int(note.findtext("duration", "0"))
    assert len(set(voices.values())) == 1, voices
    return Fraction(next(iter(voices.values())))
