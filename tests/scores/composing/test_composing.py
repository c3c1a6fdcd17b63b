"""Fresh pieces: every one in its level, with its cadences, singable, and the same for the same seed."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.music.compass import HEXACHORD, LEVELS, OPEN, PENTACHORD, TRICHORD, level
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import BOTH, HANDS, LEFT, RIGHT, Note, Piece
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.music.solfege import degree
from trainer.scores.composing import melody
from trainer.scores.composing.composing import _FORMS, Request, compose, parallels
from trainer.scores.composing.lefthand import STYLES, TWO_PART, WALTZ, Span, Upper, accompany
from trainer.scores.composing.progressions import Chord
from trainer.scores.composing.rhythms import METERS
from trainer.scores.engraving.writing import to_musicxml

# A melody that holds its tonic.
ALONE = Upper((Fraction(0),), (0,))

requests = st.builds(
    Request,
    level=st.sampled_from(LEVELS),
    key=st.sampled_from(TWENTY_FOUR),
    meter=st.sampled_from(sorted(METERS)),
    bars=st.sampled_from([4, 8, 12, 16, 24, 32]),
    hands=st.sampled_from(HANDS),
    seed=st.integers(0, 1_000_000),
)


def tune(piece: Piece) -> list[Note]:
    """The melody: the right hand's notes, in bars without any the left hand's (hands take turns)."""
    found = []
    for bar in piece.bars:
        inside = [note for note in piece.notes if bar.onset <= note.onset < bar.onset + bar.length]
        right = [note for note in inside if note.hand == RIGHT]
        found += right or inside
    return found


def turns(piece: Piece) -> bool:
    """Whether the hands take the tune in turns."""
    return set(piece.hands) == {RIGHT, LEFT} and not any(
        {piece.notes[at].hand for at in moment.notes} == {RIGHT, LEFT} for moment in piece.moments
    )


@given(requests)
@settings(max_examples=60, deadline=None)
def test_every_piece_keeps_what_was_asked(request: Request) -> None:
    piece = compose(request)
    assert level(piece) == request.level
    assert piece.key == request.key
    assert len(piece.bars) == request.bars
    meter = METERS[request.meter]
    assert {bar.meter for bar in piece.bars} == {(meter.beats, meter.unit)}
    assert set(piece.hands) == ({RIGHT, LEFT} if request.hands == BOTH else {request.hands})
    assert piece.length == request.bars * meter.bar


@given(requests)
@settings(max_examples=40, deadline=None)
def test_phrases_come_to_rest_where_they_should(request: Request) -> None:
    piece = compose(request)
    notes = tune(piece)
    form = _FORMS[request.bars // 4]
    for number, label in enumerate(form):
        end = piece.bars[4 * number + 3]
        last = [note for note in notes if end.onset <= note.onset < end.onset + end.length][-1]
        ends_on, _ = degree(last.pitch, piece.key)
        # Half cadences rest on the dominant chord, full ones on the tonic: the textbook rule.
        assert ends_on in ({1} if label in "oc" else {5, 7, 2}), (number, label)
    assert abs(notes[-1].pitch.steps - notes[-2].pitch.steps) == 1 or turns(piece)
    if request.hands == BOTH and not turns(piece):
        bass = min((note for note in piece.notes if note.onset >= piece.bars[-1].onset), key=lambda note: note.midi)
        assert degree(bass.pitch, piece.key) == (1, 0)


@given(requests)
@settings(max_examples=40, deadline=None)
def test_every_piece_can_be_sung_and_lies_on_the_piano(request: Request) -> None:
    piece = compose(request)
    notes = tune(piece)
    if not turns(piece):
        pitches = [note.midi for note in notes]
        assert max(pitches) - min(pitches) <= 16  # a tenth
        assert all(abs(b - a) <= 12 and abs(b - a) not in (10, 11) for a, b in pairwise(pitches))
        steps = sum(1 for a, b in pairwise(notes) if abs(b.pitch.steps - a.pitch.steps) <= 2)
        assert steps >= 0.6 * (len(notes) - 1)
    assert all(28 <= note.midi <= 96 for note in piece.notes)
    for moment in piece.moments:
        notes = [piece.notes[at] for at in moment.notes]
        by_hand = {hand: [note.midi for note in notes if note.hand == hand] for hand in (RIGHT, LEFT)}
        for hand in (RIGHT, LEFT):
            assert len(by_hand[hand]) == len(set(by_hand[hand]))
            assert not by_hand[hand] or max(by_hand[hand]) - min(by_hand[hand]) <= 12
        if by_hand[RIGHT] and by_hand[LEFT]:
            assert min(by_hand[RIGHT]) > max(by_hand[LEFT])


@given(requests)
@settings(max_examples=25, deadline=None)
def test_hands_never_overlap_in_one_voice_and_bars_are_full(request: Request) -> None:
    piece = compose(request)
    for hand in piece.hands:
        ends = Fraction(0)
        for moment in piece.moments:
            own = [piece.notes[at] for at in moment.notes if piece.notes[at].hand == hand]
            if own:
                assert moment.onset >= ends
                assert len({note.end for note in own}) == 1
                ends = own[0].end
    assert sum((note.length for note in tune(piece)), Fraction(0)) == piece.length


def sounding(piece: Piece, hand: str, onset: Fraction) -> int:
    return next(note.midi for note in piece.notes if note.hand == hand and note.onset <= onset < note.end)


@pytest.mark.parametrize("level_name", [HEXACHORD, OPEN])
@pytest.mark.parametrize("mode", ["C", "a"])
def test_two_parts_have_no_parallel_fifths_or_octaves(level_name: str, mode: str) -> None:
    """Between moments next to each other, and between bass notes next to each other (any counterpoint primer)."""
    met = 0
    for seed in range(24):
        piece = compose(Request(level_name, Key.parse(mode), "4/4", 12, BOTH, seed))
        lefts = [note for note in piece.notes if note.hand == LEFT]
        one_by_one = len({note.onset for note in lefts}) == len(lefts)
        if not one_by_one or min(note.length for note in lefts) < 1:
            continue
        met += 1
        moments = [moment.onset for moment in piece.moments]
        for places in (moments, [note.onset for note in lefts]):
            for one, other in pairwise(places):
                up = sounding(piece, RIGHT, one), sounding(piece, RIGHT, other)
                low = sounding(piece, LEFT, one), sounding(piece, LEFT, other)
                same_way = (up[1] - up[0]) * (low[1] - low[0]) > 0
                apart = (up[0] - low[0]) % 12, (up[1] - low[1]) % 12
                assert not (same_way and apart[0] == apart[1] and apart[0] in (0, 7)), (seed, float(other))
    assert met >= 5


@pytest.mark.parametrize("level_name", [TRICHORD, PENTACHORD])
def test_the_easiest_levels_have_no_chromatic_notes(level_name: str) -> None:
    for seed, key in enumerate(TWENTY_FOUR):
        piece = compose(Request(level_name, key, "3/4", 8, BOTH, seed))
        assert all(note.pitch.alteration == key.alteration_of(note.pitch.letter) for note in piece.notes)
        assert piece.notes[0].finger is not None


def test_minor_below_open_raises_only_sixth_and_seventh_and_open_brings_chromatic_notes() -> None:
    for seed in range(40):
        key = TWENTY_FOUR[seed % 24]
        hexachord = compose(Request(HEXACHORD, key, "4/4", 8, BOTH, seed))
        changed = {degree(note.pitch, key) for note in hexachord.notes} - {(number, 0) for number in range(1, 8)}
        assert changed <= ({(6, 1), (7, 1)} if key.is_minor else set())
        coloured = compose(Request(OPEN, key, "4/4", 8, BOTH, seed))
        assert {degree(note.pitch, key)[1] for note in coloured.notes} - {0}


def test_in_minor_no_melody_takes_an_augmented_second() -> None:
    for seed in range(80):
        key = TWENTY_FOUR[12 + seed % 12]
        piece = compose(Request((HEXACHORD, OPEN)[seed % 2], key, "4/4", 16, RIGHT, seed))
        for one, other in pairwise(piece.notes):
            apart = other.pitch - one.pitch
            assert (abs(apart.steps), abs(apart.semitones)) != (1, 3), (seed, one.onset)


def test_an_answer_begins_as_its_question() -> None:
    for seed in range(20):
        piece = compose(Request(HEXACHORD, Key.parse("G"), "3/4", 8, RIGHT, seed))
        half = piece.bars[4].onset
        question = [(note.onset, note.pitch) for note in piece.notes if note.onset < piece.bars[2].onset]
        answer = [(note.onset - half, note.pitch) for note in piece.notes if half <= note.onset < piece.bars[6].onset]
        assert question == answer


def test_every_left_hand_of_every_level_comes_up() -> None:
    for name in LEVELS:
        made = set()
        for seed in range(40):
            piece = compose(Request(name, Key.parse("D"), "3/4", 8, BOTH, seed))
            left = [note for note in piece.notes if note.hand == LEFT]
            made.add((len(left), max(sum(one.onset == note.onset for one in left) for note in left)))
        assert len(made) >= len(STYLES[name])
    assert TWO_PART in STYLES[OPEN]


def test_a_left_hand_in_one_position_has_the_bass_below_its_chords() -> None:
    meter = METERS["3/4"]
    played = accompany(WALTZ, HEXACHORD, meter, [Span(Fraction(0), meter.bar, Chord((0, 2, 4)))], ALONE, Random(1))
    assert [(one.onset, one.degrees) for one in played] == [(0, (0,)), (1, (2, 4)), (2, (2, 4))]


def test_of_a_seventh_chord_the_fifth_is_left_out_where_three_others_lie_under_the_hand() -> None:
    meter = METERS["3/4"]
    played = accompany(WALTZ, HEXACHORD, meter, [Span(Fraction(0), meter.bar, Chord((4, 6, 1, 3)))], ALONE, Random(1))
    assert [one.degrees for one in played] == [(-1,), (3, 4), (3, 4)]


def test_melody_and_bass_hardly_ever_go_in_octaves_or_fifths_from_bar_to_bar() -> None:
    """Broken chords and bass with chords too; some wishes leave no better way, so a few may."""
    wishes = [(name, key, seed) for name in (HEXACHORD, OPEN) for key in ("C", "a") for seed in range(15)]
    pieces = [compose(Request(name, Key.parse(key), "4/4", 8, BOTH, seed)) for name, key, seed in wishes]
    assert sum(parallels(piece) > 0 for piece in pieces) <= 2


@pytest.mark.parametrize(
    ("key", "meter", "bars", "seed"),
    [("e", "12/8", 16, 831410), ("A", "9/8", 28, 109239), ("Eb", "5/4", 16, 190493), ("d#", "5/4", 28, 979490)],
)
def test_no_hand_holds_a_note_that_the_other_raises(key: str, meter: str, bars: int, seed: int) -> None:
    """Three strokes of E sharp over E, found among some hundred pieces."""
    piece = compose(Request(OPEN, Key.parse(key), meter, bars, BOTH, seed))
    for moment in piece.moments:
        held = [note for note in piece.notes if note.onset <= moment.onset < note.end]
        assert len({note.pitch.letter for note in held}) == len({(n.pitch.letter, n.pitch.alteration) for n in held})


def test_what_counts_as_parallel() -> None:
    piece = compose(Request(OPEN, Key.parse("C"), "4/4", 4, BOTH, 1))
    bars = piece.bars[:2]

    def outer(*notes: tuple[str, int, str]) -> int:
        made = [Note("", SpelledPitch.parse(name), bars[at].onset, Fraction(4), hand) for name, at, hand in notes]
        return parallels(replace(piece, bars=bars, notes=tuple(made)))

    assert outer(("C5", 0, RIGHT), ("D5", 1, RIGHT), ("C3", 0, LEFT), ("D3", 1, LEFT)) == 1
    assert outer(("G4", 0, RIGHT), ("A4", 1, RIGHT), ("C3", 0, LEFT), ("D3", 1, LEFT)) == 1
    assert outer(("G4", 0, RIGHT), ("F4", 1, RIGHT), ("C3", 0, LEFT), ("D3", 1, LEFT)) == 0
    assert outer(("E5", 0, RIGHT), ("F5", 1, RIGHT), ("C3", 0, LEFT), ("D3", 1, LEFT)) == 0


def test_same_seed_same_piece_on_every_platform() -> None:
    # The digest was taken once; a change of rules may change it, another platform or run must not.
    request = Request(OPEN, Key.parse("eb"), "6/8", 16, BOTH, 2024)
    digest = hashlib.sha256(to_musicxml(compose(request)).encode()).hexdigest()
    assert digest == hashlib.sha256(to_musicxml(compose(request)).encode()).hexdigest()
    notes = " ".join(f"{note.pitch.name}:{note.onset}" for note in compose(request).notes)
    assert hashlib.sha256(notes.encode()).hexdigest()[:16] == "7e7c4f18da497778"


def test_a_step_between_two_chords_is_weighed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A piece of 32 bars has some thousand places for notes, and each asks for the same few hundred steps."""
    request = Request(OPEN, Key.parse("eb"), "6/8", 16, BOTH, 2024)
    piece = compose(request)
    monkeypatch.setattr(melody, "_step", lambda *_: pytest.fail("weighed again"))
    assert compose(request) == piece


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"level": "hard"}, "'hard' is no level: there are trichord, pentachord, hexachord, open."),
        ({"meter": "7/8"}, "'7/8' is no meter to compose in: there are 2/4"),
        ({"bars": 6}, "6 bars make no whole phrases: ask for 4, 8, 12"),
        ({"bars": 36}, "36 bars are too many to be read at sight: ask for up to 32."),
        ({"hands": "feet"}, "'feet' is no choice of hands"),
    ],
)
def test_what_cannot_be_composed_is_said(wrong: dict[str, Any], says: str) -> None:
    asked: dict[str, Any] = {"level": OPEN, "key": Key.parse("C"), **wrong}
    with pytest.raises(MusicError, match=says.replace(".", r"\.")):
        compose(Request(**asked))
