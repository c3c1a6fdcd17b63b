"""MIDI files: what is written as MIDI comes back as the same music, spelled, in hands, in its key."""

from __future__ import annotations

import io
import random
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from trainer.music.keys import ALL_SIGNATURES, Key
from trainer.music.piece import LEFT, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.solfege import degree
from trainer.scores.midi.midisong import words_at
from trainer.scores.midi.spelling import spell
from trainer.scores.notation.keyfinding import find_mode
from trainer.scores.reading import from_bytes, left_out, read
from trainer.scores.shelf.library import bundled_folder

PIECES = sorted(bundled_folder().rglob("*.musicxml"))[::6]


def as_midi(piece: Piece, unsteady: float = 0.0, ticks: int = 480) -> bytes:
    """The piece on two tracks, each note let go a little early, its onset off by up to `unsteady` quarters."""
    rng = random.Random(1)
    file = mido.MidiFile(ticks_per_beat=ticks)
    for hand in ("right", "left"):
        track = mido.MidiTrack()
        file.tracks.append(track)
        if hand == "right":
            beats, unit = piece.bars[0].meter
            track.append(mido.MetaMessage("time_signature", numerator=beats, denominator=unit))
        events = []
        for note in piece.notes:
            if note.hand == hand and note.length:
                start = max(round((float(note.onset) + rng.uniform(-unsteady, unsteady)) * ticks), 0)
                events += [(start, 80, note.midi), (start + round(float(note.length) * ticks * 0.93), 0, note.midi)]
        now = 0
        for tick, velocity, key in sorted(events):
            track.append(mido.Message("note_on", note=key, velocity=velocity, time=tick - now))
            now = tick
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


@pytest.mark.parametrize("path", PIECES, ids=lambda path: path.stem)
@pytest.mark.parametrize("unsteady", [0.0, 0.02])
def test_a_bundled_piece_comes_back(path: Path, unsteady: float) -> None:
    piece = read(path)
    back = from_bytes(as_midi(piece, unsteady), "take.mid", key=piece.key)
    wanted = sorted({(n.onset, n.midi, n.hand) for n in piece.notes if n.length})
    assert sorted((n.onset, n.midi, n.hand) for n in back.notes) == wanted
    spelled = {(n.onset, n.midi): n.pitch for n in piece.notes if degree(n.pitch, piece.key)[1] == 0}
    for note in back.notes:
        assert spelled.get((note.onset, note.midi), note.pitch) == note.pitch


def test_the_key_of_a_bundled_piece_is_mostly_found_from_its_keys_alone() -> None:
    found = []
    for path in PIECES:
        piece = read(path)
        heard = from_bytes(as_midi(piece), "take.mid").key
        found.append((heard.tonic.pitch_class, heard.mode) == (piece.key.tonic.pitch_class, piece.key.mode))
    assert sum(found) >= 0.7 * len(found)


@pytest.mark.parametrize("mode", ["major", "minor"])
@pytest.mark.parametrize("signature", ALL_SIGNATURES)
def test_every_scale_note_is_spelled_by_the_signature(signature: int, mode: str) -> None:
    key = Key.from_signature(signature, mode)
    for octave in (1, 4, 7):
        for number in range(1, 8):
            pitch = key.degree(number, octave)
            assert spell(pitch.midi, key) == pitch


@pytest.mark.parametrize(("key", "names"), [
    # The chromatic notes of common practice: raised 1 2 4 5 and lowered 7 in major, raised 6 7 and lowered 2 in minor.
    ("C", ["C#4", "D#4", "F#4", "G#4", "Bb4"]), ("a", ["F#4", "G#4", "Bb4", "C#4", "D#4"]),
    ("Db", ["D4", "E4", "G4", "A4", "Cb5"]), ("c#", ["A#4", "B#4", "D4", "E#4"]),
])  # fmt: skip
def test_chromatic_notes_take_their_usual_letter(key: str, names: list[str]) -> None:
    from trainer.music.pitch import SpelledPitch

    for name in names:
        pitch = SpelledPitch.parse(name)
        assert spell(pitch.midi, Key.parse(key)) == pitch


def test_an_empty_signature_is_not_believed_and_a_full_one_is() -> None:
    piece = read(bundled_folder() / "pentachord" / "ode-to-joy.musicxml")
    data = as_midi(piece)
    file = mido.MidiFile(file=io.BytesIO(data))
    for printed, expected in (("C", piece.key), ("G", Key.parse("G")), ("Em", Key.parse("e"))):
        file.tracks[0].insert(0, mido.MetaMessage("key_signature", key=printed))
        out = io.BytesIO()
        file.save(file=out)
        found = from_bytes(out.getvalue(), "x.mid")
        assert found.key == expected
        assert found.key_confidence == 1 or not expected.is_minor
        file.tracks[0].pop(0)


def in_a_row(*runs: tuple[str, str]) -> bytes:
    """Scales one after the other, eight quarters each, every one under the signature that is printed before it."""
    track = mido.MidiTrack()
    for tonic, printed in runs:
        track.append(mido.MetaMessage("key_signature", key=printed))
        for pitch in [*Key.parse(tonic).scale, Key.parse(tonic).degree(8)]:
            track += [
                mido.Message("note_on", note=pitch.midi),
                mido.Message("note_on", note=pitch.midi, velocity=0, time=480),
            ]
    out = io.BytesIO()
    mido.MidiFile(tracks=[track]).save(file=out)
    return out.getvalue()


def test_a_signature_that_changes_is_read_where_it_changes() -> None:
    found = from_bytes(in_a_row(("C", "C"), ("Db", "Db"), ("f#", "F#m")), "x.mid")
    assert [(change.onset, change.key.short) for change in found.keys] == [(0, "C"), (8, "Db"), (16, "f#")]
    assert all(
        found.key_at(note.onset).alteration_of(note.pitch.letter) == note.pitch.alteration for note in found.notes
    )
    again = from_bytes(in_a_row(("C", "C"), ("Db", "C"), ("D", "C")), "x.mid")
    assert len(again.keys) == 1, "the empty one, written again and again, is none"
    asked = from_bytes(in_a_row(("C", "C"), ("Db", "Db")), "x.mid", key=Key.parse("E"))
    assert [change.key.short for change in asked.keys] == ["E"], "the player's word stands above the file's"


def test_until_a_tempo_is_said_a_file_goes_at_the_usual_one() -> None:
    track = mido.MidiTrack()
    for said in (None, 1_000_000):
        track += [] if said is None else [mido.MetaMessage("set_tempo", tempo=said)]
        for _ in range(4):
            track += [mido.Message("note_on", note=60), mido.Message("note_off", note=60, time=480)]
    out = io.BytesIO()
    mido.MidiFile(tracks=[track]).save(file=out)
    found = from_bytes(out.getvalue(), "x.mid")
    assert (found.tempo, found.tempi) == (120, ((0, 120), (4, 60)))


def test_of_a_file_of_several_pieces_the_first_is_read() -> None:
    file = mido.MidiFile(type=2, tracks=[mido.MidiTrack() for _ in range(3)])
    for track, key in zip(file.tracks[1:], (60, 67), strict=True):
        track += [mido.Message("note_on", note=key), mido.Message("note_off", note=key, time=480)]
    out = io.BytesIO()
    file.save(file=out)
    assert [note.midi for note in from_bytes(out.getvalue(), "x.mid").notes] == [60]


def test_the_mode_of_a_signature_is_told_by_the_notes() -> None:
    for path in PIECES:
        piece = read(path)
        if len(piece.keys) == 1:
            key, sure = find_mode(list(piece.notes), piece.key.signature)
            assert key == piece.key or sure < 0.9


def test_hands_keep_within_reach_when_one_track_holds_everything() -> None:
    piece = read(bundled_folder() / "open" / "boat-at-dusk.musicxml")
    file = mido.MidiFile(file=io.BytesIO(as_midi(piece)))
    out = io.BytesIO()
    one = mido.MidiFile(type=0, ticks_per_beat=480)
    one.tracks.append(mido.merge_tracks(file.tracks))
    one.save(file=out)
    back = from_bytes(out.getvalue(), "x.mid")
    wanted = {(n.onset, n.midi): n.hand for n in piece.notes}
    agree = sum(wanted[n.onset, n.midi] == n.hand for n in back.notes)
    assert agree / len(back.notes) > 0.9
    assert {n.staff for n in back.notes if n.hand == LEFT} == {2}


@pytest.mark.parametrize(("microseconds", "tempo"), [(500_000, 120.0), (0, 120.0), (30_000, 120.0), (16_777_215, 120.0),
                                                     (1_000_000, 60.0)])  # fmt: skip
def test_a_nonsense_tempo_is_left_out(microseconds: int, tempo: float) -> None:
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=microseconds)])
    for pitch in (60, 62, 64, 65):
        track += [mido.Message("note_on", note=pitch), mido.Message("note_off", note=pitch, time=480)]
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    assert from_bytes(out.getvalue(), "tune.mid").tempo == tempo


def test_an_upbeat_written_as_a_bar_of_its_own_meter_is_bar_nought_of_the_next_one() -> None:
    track = mido.MidiTrack()
    file = mido.MidiFile(ticks_per_beat=4)
    file.tracks.append(track)
    track.append(mido.MetaMessage("time_signature", numerator=1, denominator=4))
    for number, key in enumerate((67, 72, 74, 76, 72)):
        if number == 1:
            track.append(mido.MetaMessage("time_signature", numerator=4, denominator=4))
        track.append(mido.Message("note_on", note=key, velocity=64))
        track.append(mido.Message("note_off", note=key, time=4))
    out = io.BytesIO()
    file.save(file=out)
    bars = from_bytes(out.getvalue(), "upbeat.mid").bars
    assert [(bar.number, bar.length, bar.meter) for bar in bars] == [(0, 1, (4, 4)), (1, 4, (4, 4))]


def test_a_recording_without_beats_is_read_and_its_bars_are_said_to_be_guesses(tmp_path: Path) -> None:
    take = bundled_folder() / "takes" / "petzold-minuet-in-e-flat.mid"
    assert "guesses" in left_out(take)
    assert len(read(take).notes) > 200
    for unsteady in (0.0, 0.06):
        steady = tmp_path / "steady.mid"
        steady.write_bytes(as_midi(read(PIECES[0]), unsteady))
        assert left_out(steady) == ""


def test_a_short_bar_that_comes_again_is_no_upbeat() -> None:
    track = mido.MidiTrack()
    file = mido.MidiFile(ticks_per_beat=4)
    file.tracks.append(track)
    for beats in (2, 3, 2, 3):
        track.append(mido.MetaMessage("time_signature", numerator=beats, denominator=4))
        for _ in range(beats):
            track.append(mido.Message("note_on", note=60, velocity=64))
            track.append(mido.Message("note_off", note=60, time=4))
    out = io.BytesIO()
    file.save(file=out)
    bars = from_bytes(out.getvalue(), "changing.mid").bars
    assert [(bar.number, bar.meter) for bar in bars] == [(1, (2, 4)), (2, (3, 4)), (3, (2, 4)), (4, (3, 4))]


Line = tuple[str, str, list[tuple[int, str]]]


def as_song(*lines: Line) -> bytes:
    """Tracks in quarters, each a name, notes one after another and words at their ticks."""
    file = mido.MidiFile(ticks_per_beat=4)
    for name, notes, words in lines:
        track = mido.MidiTrack()
        file.tracks.append(track)
        track.append(mido.MetaMessage("track_name", name=name))
        for at, pitch in enumerate(notes.split()):
            key = SpelledPitch.parse(pitch).midi
            said = [text for beat, text in words if beat == at]
            track.extend(mido.MetaMessage("lyrics", text=text) for text in said)
            track += [mido.Message("note_on", note=key, velocity=64), mido.Message("note_off", note=key, time=4)]
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


PIANO: list[Line] = [("Piano", "C5 E5 G5 C5", []), ("Piano", "C3 G3 E3 C3", [])]


@pytest.mark.parametrize(
    ("name", "words"), [("Baritone", []), ("Track 3", [(0, "Stay")]), ("Voz", [(0, "St\xc3\xa1y")])], ids=str
)
def test_of_a_song_the_keyboards_tracks_are_played_and_the_voice_stands_over_them(
    name: str, words: list[tuple[int, str]]
) -> None:
    song = from_bytes(as_song((name, "C3 D3 E3 C3", words), *PIANO), "song.mid")
    assert [(n.pitch.name, n.hand[0]) for n in song.notes if not n.onset] == [("C3", "l"), ("C5", "r")]
    assert len(song.notes) == 8
    assert [n.pitch.name for n in song.voice] == ["C3", "D3", "E3", "C3"]
    assert song.title == "Song", "the first track's name is the singer's"
    assert [word.text for word in song.lyrics] == ([words[0][1].replace("\xc3\xa1", "á")] if words else [])


def test_syllables_of_a_word_are_joined_where_words_end_with_a_space() -> None:
    words = [(0, "Eve"), (1, "ning "), (2, "falls "), (3, "/now")]
    song = from_bytes(as_song(("Voice", "C5 D5 E5 C5", words), *PIANO), "song.mid")
    assert [(word.onset, word.text) for word in song.lyrics] == [(0, "Eve-"), (1, "ning"), (2, "falls"), (3, "now")]


@pytest.mark.parametrize(
    ("words", "read"),
    [
        (["Eve", "ning", " falls", " now"], ["Eve-", "ning", "falls", "now"]),
        (["Eve", "ning", "falls\r", "now"], ["Eve", "ning", "falls", "now"]),
        (["Eve", "ning ", "falls/", "now"], ["Eve-", "ning", "falls", "now"]),
        (["Eve", "ning ", "falls", "\nnow"], ["Eve-", "ning", "falls", "now"]),
    ],
    ids=["a space before a word", "only lines are parted", "a line's end after", "a line's end before"],
)
def test_words_are_parted_as_the_file_parts_them(words: list[str], read: list[str]) -> None:
    song = from_bytes(as_song(("Voice", "C5 D5 E5 C5", list(enumerate(words))), *PIANO), "song.mid")
    assert [word.text for word in song.lyrics] == read


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ([(0, "the "), (0, "eve"), (24, "ning "), (48, "falls ")], ["the eve-", "ning", "falls"]),
        ([(0, "Ky"), (0, "ri"), (24, "e "), (48, "e")], ["Kyri-", "e", "e"]),
        ([(0, "Eve"), (23, "ning "), (51, "falls ")], ["Eve-", "ning", "falls"]),
        ([(0, "Eve - "), (24, "ning "), (48, "falls"), (72, "")], ["Eve-", "ning", "falls"]),
        ([(0, "Eve"), (24, "-"), (48, "ning "), (72, "_")], ["Eve-", "ning"]),
        ([(0, "Eve"), (12, "lost "), (24, "ning ")], ["Eve-", "ning"]),
    ],
    ids=[
        "an elision",
        "one word",
        "a little off the note",
        "a hyphen apart, and an empty word",
        "sung on",
        "where no note is",
    ],
)
def test_words_are_sung_at_the_note_they_are_nearest_to_and_several_together(
    said: list[tuple[int, str]], read: list[str]
) -> None:
    onsets = {tick: Fraction(tick, 24) for tick in (0, 24, 48, 72)}
    assert [word.text for word in words_at(onsets, said, 3)] == read


def test_two_singers_have_a_staff_each_and_of_three_the_women_share_one(tmp_path: Path) -> None:
    first: Line = ("Soprano", "C5 D5 E5 C5", [(0, "Stay")])
    second: Line = ("Baritone", "C3 D3 E3 C3", [(1, "May-"), (2, "be")])
    duet = from_bytes(as_song(first, second, *PIANO), "duet.mid")
    assert [n.pitch.name for n in duet.sung if n.staff == 2] == ["C3", "D3", "E3", "C3"]
    assert [n.pitch.name for n in duet.voice] == ["C5", "D5", "E5", "C5"]
    assert [word.text for word in duet.singers[1].words] == ["May-", "be"]
    path = tmp_path / "trio.mid"
    path.write_bytes(as_song(first, ("Alto", "G4 G4 G4 G4", []), ("Bass", "C3 D3 E3 C3", []), *PIANO))
    assert left_out(path) == ""
    trio = read(path)
    assert [singer.name for singer in trio.singers] == ["Soprano", "Alto", "Bass"]
    assert {n.pitch.name for n in trio.sung if n.staff == 1} == {"C5", "D5", "E5", "G4"}
    assert [n.pitch.name for n in trio.sung if n.staff == 2] == ["C3", "D3", "E3", "C3"]


def test_a_choir_alone_is_played_as_it_stands() -> None:
    choir: list[Line] = [(name, "C4 D4 E4 C4", []) for name in ("Soprano", "Alto", "Tenor", "Bass")]
    assert from_bytes(as_song(*choir), "choir.mid").sung == ()


def test_a_soloist_is_accompanied_and_a_hand_without_a_name_is_played() -> None:
    notes = "C5 D5 E5 C5"
    solo = from_bytes(as_song(("Clarinet in Bb", notes, []), *PIANO), "solo.mid")
    assert [n.pitch.name for n in solo.voice] == notes.split()
    assert len(solo.notes) == 8
    hands = from_bytes(as_song(PIANO[0], ("", "C3 G3 E3 C3", [])), "hands.mid")
    assert (len(hands.notes), hands.sung) == (8, ())
    trio = from_bytes(as_song(("Violin", notes, []), ("Cello", "C3 D3 E3 C3", []), *PIANO), "trio.mid")
    assert trio.sung == (), "chamber music is played as it stands"


def ensemble(parts: dict[str, int]) -> bytes:
    """A track of eight quarters for each part, on its own key and channel."""
    file = mido.MidiFile(ticks_per_beat=480)
    for channel, (name, key) in enumerate(parts.items()):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        for step in range(8):
            track.append(mido.Message("note_on", note=key + step % 3, velocity=70, channel=channel % 9))
            track.append(mido.Message("note_off", note=key + step % 3, time=480, channel=channel % 9))
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


WINDS = {"Flute": 84, "Oboe": 76, "Clarinet": 72, "Horn": 62, "Bassoon": 50, "Violin": 79, "Violoncello": 45}


@pytest.mark.parametrize(("parts", "played", "said"), [
    ({"Violin": 76, "Violoncello": 48, "Piano": 60}, 8,
     "Of 'x.mid' Piano is read, and Violin and Violoncello are left out: keep the score at hand."),
    ({**WINDS, "Piano": 60}, 8, "Flute, Oboe, Clarinet, Horn, Bassoon and 2 others are left out"),
    ({"Clarinet": 72, "Voice": 69, "Piano": 60}, 8, "Of 'x.mid' Piano is read, and Clarinet is left out"),
    (WINDS, 56, "'x.mid' has no keyboard part, so all its 7 parts are read: look for a piano reduction."),
    ({"Violin": 76, "Viola": 60, "Violoncello": 48}, 24, ""),
    ({"Clarinet": 72, "Piano": 60}, 8, ""),
    ({"Right": 72, "Left": 48}, 16, ""),
])  # fmt: skip
def test_of_a_file_for_many_players_it_is_said_what_of_it_two_hands_are_given(
    parts: dict[str, int], played: int, said: str, tmp_path: Path
) -> None:
    data = ensemble(parts)
    assert len(from_bytes(data, "x.mid").notes) == played
    path = tmp_path / "x.mid"
    path.write_bytes(data)
    assert said in left_out(path)
    assert bool(said) == bool(left_out(path))
