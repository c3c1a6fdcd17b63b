"""Patterns in every key: the right notes under the standard fingers."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from trainer.music.compass import PENTACHORD, TRICHORD, level
from trainer.music.keys import ALL_SIGNATURES, MAJOR, MINOR, TWENTY_FOUR, Key
from trainer.music.piece import HANDS, LEFT, RIGHT, Piece
from trainer.music.pitch import MusicError
from trainer.scores.composing.patterns import KINDS, pattern
from trainer.scores.composing.scalefingers import FORMS, MELODIC, NATURAL, scale_fingers

EVERY_KEY = [Key.from_signature(signature, mode) for mode in (MAJOR, MINOR) for signature in ALL_SIGNATURES]


def names(piece: Piece, hand: str = RIGHT) -> list[str]:
    return [note.pitch.name for note in piece.notes if note.hand == hand]


def fingers(piece: Piece, hand: str = RIGHT) -> list[int | None]:
    return [note.finger for note in piece.notes if note.hand == hand]


def chords(piece: Piece, hand: str = RIGHT) -> list[tuple[str, ...]]:
    return [
        tuple(piece.notes[at].pitch.name for at in moment.notes if piece.notes[at].hand == hand)
        for moment in piece.moments
    ]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("hands", HANDS)
def test_every_kind_in_every_key_fills_its_bars_and_stays_on_the_piano(kind: str, hands: str) -> None:
    for key in EVERY_KEY:
        piece = pattern(kind, key, hands)
        assert piece.length == sum((bar.length for bar in piece.bars), Fraction(0))
        assert all(36 <= note.midi <= 96 and note.finger in range(1, 6) for note in piece.notes)
        assert set(piece.hands) == ({RIGHT, LEFT} if hands == "both" else {hands})
        assert [note.id for note in piece.notes] == [f"n{number}" for number in range(1, len(piece.notes) + 1)]


def test_five_fingers_lie_one_to_five_in_all_24_keys() -> None:
    for key in TWENTY_FOUR:
        piece = pattern("pentascale", key)
        assert fingers(piece) == [1, 2, 3, 4, 5, 4, 3, 2, 1]
        assert fingers(piece, LEFT) == [5, 4, 3, 2, 1, 2, 3, 4, 5]
        assert [a.midi - b.midi for a, b in zip(piece.only_hand(RIGHT).notes, piece.only_hand(LEFT).notes, strict=True)
                ] == [12] * 9  # fmt: skip
        assert level(piece) == PENTACHORD
        assert level(pattern("trichord", key)) == TRICHORD


def test_contrary_motion_mirrors_fingers() -> None:
    piece = pattern("pentascale-contrary", Key.parse("A"))
    assert fingers(piece) == fingers(piece, LEFT)
    assert names(piece, LEFT)[:5] == ["E4", "D4", "C#4", "B3", "A3"]


def test_hands_apart_never_sound_together() -> None:
    piece = pattern("pentascale-apart", Key.parse("F"))
    last_right = max(note.end for note in piece.notes if note.hand == RIGHT)
    assert last_right <= min(note.onset for note in piece.notes if note.hand == LEFT)


def test_cadences_in_close_position() -> None:
    assert chords(pattern("cadence", Key.parse("C"), RIGHT)) == [
        ("C4", "E4", "G4"), ("C4", "F4", "A4"), ("B3", "D4", "G4"), ("C4", "E4", "G4")]  # fmt: skip
    # The dominant of a minor key is major: its third is the raised seventh degree.
    assert chords(pattern("cadence-seventh", Key.parse("g#"), RIGHT)) == [
        ("G#4", "B4", "D#5"), ("G#4", "C#5", "E5"), ("Fx4", "C#5", "D#5"), ("G#4", "B4", "D#5")]  # fmt: skip


def test_cadences_lead_each_voice_by_a_step_at_most() -> None:
    for key in TWENTY_FOUR:
        for kind in ("cadence", "cadence-seventh"):
            sounding = [[n.midi for n in pattern(kind, key, RIGHT).notes if n.onset == at] for at in (0, 2, 4, 8)]
            for one, other in pairwise(sounding):
                assert max(abs(a - b) for a, b in zip(sorted(one), sorted(other), strict=True)) <= 3


def test_broken_chords_hold_tonic_and_dominant_seventh() -> None:
    piece = pattern("broken-chords", Key.parse("d"), RIGHT)
    assert names(piece)[:8] == ["D4", "F4", "A4", "F4", "C#4", "E4", "G4", "A4"]
    assert names(piece)[-1] == "D4"


# Source of the rules: the scale manuals named in trainer/scores/scalefingers.py (from memory).
@pytest.mark.parametrize("hand", [RIGHT, LEFT])
@pytest.mark.parametrize("form", FORMS)
def test_scale_fingers_keep_the_manuals_rules(hand: str, form: str) -> None:
    for key in EVERY_KEY:
        piece = pattern("scale-two-octaves", key, hand, form=form)
        ups = piece.notes[:15]
        assert [b.pitch.steps - a.pitch.steps for a, b in pairwise(ups)] == [1] * 14
        assert all(note.finger != 1 or note.midi % 12 in (0, 2, 4, 5, 7, 9, 11) for note in piece.notes), key
        for rising in (True, False):
            table = scale_fingers(key, hand, form, rising=rising)
            assert sorted(table.cycle) == [1, 1, 2, 2, 3, 3, 4], key
        played = fingers(piece, hand)
        assert all(a != b for a, b in pairwise(played)), key


# Spot values every pianist knows; common practice, no single source.
@pytest.mark.parametrize(
    ("key", "hand", "expected"),
    [
        ("C", RIGHT, "123123412312345"), ("C", LEFT, "543213214321321"), ("F", RIGHT, "123412312341234"),
        ("B", LEFT, "432143213214321"), ("Bb", RIGHT, "212312341231234"), ("Eb", LEFT, "321432132143213"),
        ("F#", RIGHT, "234123123412312"), ("Db", RIGHT, "231234123123412"), ("F#", LEFT, "432132143213214"),
        ("bb", LEFT, "213214321321432"), ("eb", LEFT, "214321321432132"),
    ],
)  # fmt: skip
def test_known_scale_fingerings(key: str, hand: str, expected: str) -> None:
    piece = pattern("scale-two-octaves", Key.parse(key), hand)
    assert "".join(str(finger) for finger in fingers(piece, hand)[:15]) == expected


def test_forms_of_the_minor_scale() -> None:
    def up_and_down(form: str) -> list[str]:
        return names(pattern("scale-one-octave", Key.parse("a"), RIGHT, form=form))

    assert up_and_down("harmonic")[5:8] == ["F5", "G#5", "A5"]
    assert up_and_down(MELODIC)[5:11] == ["F#5", "G#5", "A5", "G5", "F5", "E5"]
    assert up_and_down(NATURAL)[5:8] == ["F5", "G5", "A5"]


@pytest.mark.parametrize("start", TWENTY_FOUR, ids=lambda key: key.short)
def test_chains_visit_all_twelve_keys_and_come_home(start: Key) -> None:
    fifths, semitones = pattern("chain-fifths", start), pattern("chain-semitones", start)
    for chain in (fifths, semitones):
        keys = [change.key for change in chain.keys]
        assert keys[0] == keys[-1] == start
        assert len({key.tonic.midi % 12 for key in keys}) == 12
        tonics = [chain.notes[at] for at in range(len(chain.notes)) if chain.notes[at].onset % 4 == 0]
        for change in chain.keys:
            first = {note.pitch.letter for note in tonics if note.onset == change.onset}
            assert first == {change.key.letter}
    assert all(a.key.fifths_away(b.key) == 1 for a, b in pairwise(fifths.keys))
    lowest = [min(note.midi for note in semitones.notes if note.hand == RIGHT and note.onset == change.onset)
              for change in semitones.keys]  # fmt: skip
    assert [b - a for a, b in pairwise(lowest)] == [1] * 12
    lowest = [min(note.midi for note in fifths.notes if note.hand == RIGHT and note.onset == change.onset)
              for change in fifths.keys]  # fmt: skip
    assert max(lowest) - min(lowest) <= 11


def test_what_is_not_there_is_said_with_what_is() -> None:
    with pytest.raises(MusicError, match="'arpeggio' is no pattern: there are trichord, pentascale"):
        pattern("arpeggio", Key.parse("C"))
    with pytest.raises(MusicError, match="'feet' is no choice of hands: there are both, right, left"):
        pattern("cadence", Key.parse("C"), "feet")
