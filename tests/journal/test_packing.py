"""What is packed comes out as it went in: events, marks, whole pieces."""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.journal.played import SCALE
from trainer.following.marks import CAUSES, MOVES, Finding, Mark, Move, Settled
from trainer.journal.columns import columns_of
from trainer.journal.errors import JournalError
from trainer.journal.packing import (
    event_row,
    opened,
    pack_events,
    pack_piece,
    pack_verdicts,
    piece_key,
    unpack_columns,
    unpack_events,
    unpack_piece,
    unpack_verdicts,
)
from trainer.journal.tally import PieceLabels, canonical
from trainer.listening.press import Pedal, Press, Release
from trainer.music.keys import ALL_SIGNATURES, TWENTY_FOUR, Key
from trainer.scores import reading
from trainer.scores.shelf import library

# A busy machine draws slowly; that is no fault.
calm = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
# Eight hours into a take, to the microsecond.
times = st.integers(0, 8 * 3600 * 10**6).map(lambda us: us / 1e6)
pitches = st.integers(0, 127)
events = st.one_of(
    st.builds(Press, times, pitches, st.integers(1, 127)),
    st.builds(Release, times, pitches),
    st.builds(Pedal, times, st.sampled_from(["sustain", "sostenuto", "soft"]), pitches),
)
shares = st.integers(0, 10_000).map(lambda n: n / 10_000)
notes = st.none() | st.integers(0, 5000)


@st.composite
def settled_takes(draw: st.DrawFn) -> tuple[list[Mark], Settled]:
    count = draw(st.integers(1, 30))

    def mark(at: int, others: bool) -> Mark:
        more = tuple(draw(st.lists(st.tuples(st.sampled_from(CAUSES), shares), max_size=2))) if others else ()
        return Mark(at, draw(notes), draw(st.sampled_from(CAUSES)), draw(shares), more, draw(st.integers(-40, 40)))

    final = tuple(mark(at, True) for at in range(count))
    first = [final[at] if draw(st.booleans()) else mark(at, False) for at in range(count)]
    moves = st.builds(Move, st.sampled_from(MOVES), times, st.integers(0, 999), st.integers(0, 999), times)
    findings = st.builds(Finding, st.just("other-key"), st.text(max_size=20), st.integers(-12, 12))
    ends = sorted(draw(st.sets(st.integers(0, len(final)), min_size=2, max_size=2)))
    return first, Settled(
        final,
        tuple(sorted(draw(st.sets(st.integers(0, 5000), max_size=9)))),
        tuple(draw(st.lists(moves, max_size=4))),
        tuple(draw(st.lists(findings, max_size=2))),
        draw(st.none() | st.just((ends[0], ends[1]))),
    )


@calm
@given(st.lists(events, max_size=60))
def test_events(heard: list[Press | Release | Pedal]) -> None:
    assert list(unpack_events(pack_events([event_row(event) for event in heard]))) == heard


@calm
@given(settled_takes(), st.data())
def test_what_is_counted_is_unpacked_alike(take: tuple[list[Mark], Settled], data: st.DataObject) -> None:
    """`unpack_columns` says what the values of every press and mark say."""
    first, settled = take
    count = len(settled.marks)
    ats = sorted(data.draw(st.lists(times, min_size=count, max_size=count)))
    heard: list[Press | Release | Pedal] = [Press(at, 60, 64) for at in ats]
    for at in data.draw(st.lists(st.integers(0, count), max_size=5)):
        heard.insert(at, Release(ats[min(at, count - 1)], 60))
    found = unpack_columns(pack_events([event_row(event) for event in heard]), pack_verdicts(first, settled))
    meant = columns_of([event for event in heard if isinstance(event, Press)], settled)
    assert found.times.tolist() == meant.times.tolist()
    assert found.notes.tolist() == meant.notes.tolist()
    assert found.offsets.tolist() == meant.offsets.tolist()
    assert (list(found.causes), list(found.missed)) == (list(meant.causes), list(meant.missed))


@calm
@given(settled_takes())
def test_verdicts(take: tuple[list[Mark], Settled]) -> None:
    first, settled = take
    again, same = unpack_verdicts(pack_verdicts(first, settled))
    assert same == settled
    assert [(m.note, m.cause, m.offset) for m in again] == [(m.note, m.cause, m.offset) for m in first]


def bundled() -> list[Path]:
    """Every fourth piece of the shelf, of all levels."""
    return sorted(library.bundled_folder().rglob("*.musicxml"))[::4]


@pytest.mark.parametrize("path", bundled(), ids=lambda path: path.stem)
def test_pieces(path: Path) -> None:
    piece = reading.read(path)
    again = unpack_piece(pack_piece(piece))
    assert again == piece
    assert again.voice_line == piece.voice_line
    assert piece_key(again) == piece_key(piece)


OLD_KEY = "bb03448d7c8d7784931239a782c38877"
OLD_BODY = (
    "eJytUstOwzAQ/BefLRS3KdBeS+EjqqgKqZNaddeV4yBViH9nZx1yQKIqiDxGfsyOJzt5V26vVltFhdKKDGAGmANKwAJwD3gAPAKWQs4lUmOkyEiVkTKz"
    "UJVWZ5eaA/TXWHwCbADPgJdptJl2f+Rtpl0GVg7U2wRluIAHOMD5oMAzLMMxDMOv2BW3Yla8itXs1Fvqklg1o+DfXpY61MQ9VfHbxdtvwTWWzzD66s0a"
    "raPORqbS4L3+P2DpLtZiotBXb/T4nFyg2t9GjlSfLEkm/Km/eLi4T3Xb3tSY1zr2TGSmJM8Blrqs9HaWk5/m85z8NC/H3McFVjraiyiJzlphKbnkuTUq"
    "DWR5sQmnc+gRA3yG6DpHedyHIaKJGHvOlL4myXKJWi2LuyJPHB+RD9s1gVq3z1yD/eYQ4r7PBH+JrhnH8pvsvCPEVH18Am+M5CE="
)


def test_a_piece_of_the_first_journals_is_read_and_known_again() -> None:
    """Packed by the first version; players' journals hold such rows."""
    assert unpack_piece(base64.b64decode(OLD_BODY)) == SCALE
    assert piece_key(SCALE) == OLD_KEY


def test_a_song_keeps_its_voice_part() -> None:
    song = replace(SCALE, sung=SCALE.notes[::2])
    assert unpack_piece(pack_piece(song)).sung == song.sung
    assert piece_key(song) == piece_key(SCALE)


def test_a_piece_is_known_by_its_music_not_by_its_title() -> None:
    assert piece_key(replace(SCALE, title="another")) == piece_key(SCALE)
    lower = replace(SCALE.notes[0], pitch=SCALE.notes[1].pitch)
    assert piece_key(SCALE.with_notes([lower, *SCALE.notes[1:]])) != piece_key(SCALE)


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty", "other"])
def test_a_damaged_row_is_told_from_a_good_one(damage: str) -> None:
    good = pack_events([event_row(Press(at / 7, 60 + at, 64)) for at in range(30)])
    flipped = bytearray(good)
    flipped[len(good) // 2] ^= 4
    bad = {"cut": good[:-5], "flipped": bytes(flipped), "empty": b"", "other": b"{}"}[damage]
    with pytest.raises(JournalError, match="damaged"):
        opened(bad)


def test_the_format_is_read_with_two_standard_tools() -> None:
    """The columns as DEVELOPERS.md lists them."""
    packed = pack_events([event_row(e) for e in (Press(1.5, 60, 70), Release(1.75, 60), Pedal(2.0, "soft", 127))])
    assert json.loads(zlib.decompress(packed)) == {
        "t": [1_500_000, 250_000, 250_000], "k": "014", "p": [60, 60, 0], "v": [70, 0, 127],
    }  # fmt: skip


def test_every_key_has_one_name_of_twenty_four() -> None:
    names = {key.short for key in TWENTY_FOUR}
    for signature in ALL_SIGNATURES:
        for mode in ("major", "minor"):
            key = Key.from_signature(signature, mode)
            name = canonical(key)
            assert name in names
            assert Key.parse(name).tonic.pitch_class == key.tonic.pitch_class
            assert Key.parse(name).mode == mode


def test_labels_of_notes() -> None:
    labels = PieceLabels(SCALE)
    assert labels.degrees[:5] == ["1", "2", "3", "4", "5"]
    assert labels.intervals[:6] == ["", "+M2", "+M2", "+m2", "+M2", "-M2"]
