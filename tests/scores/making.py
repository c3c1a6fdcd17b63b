"""Pieces for the tests, made in code."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st

from trainer.music.keys import ALL_SIGNATURES, Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.pitch import SpelledPitch

HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list>{list}</part-list>{parts}</score-partwise>"""


def note(id: str, pitch: str, onset: object, length: object, hand: str = RIGHT, **more: Any) -> Note:
    """A note from plain words."""
    staff = 2 if hand == LEFT else 1
    return Note(id, SpelledPitch.parse(pitch), Fraction(str(onset)), Fraction(str(length)), hand,
                **{"staff": staff, **more})  # fmt: skip


def piece(*notes: Note, key: str = "C", bars: int = 2, meter: tuple[int, int] = (4, 4)) -> Piece:
    """Notes over full bars of one meter."""
    length = Fraction(4 * meter[0], meter[1])
    return Piece(
        title="Test",
        notes=sorted_notes(notes),
        bars=tuple(Bar(number + 1, length * number, length, meter) for number in range(bars)),
        keys=(KeyChange(Fraction(0), Key.parse(key)),),
    )


def score(*parts: str, names: tuple[str, ...] = ()) -> bytes:
    """A MusicXML document of parts given as the text of their measures."""
    listed = "".join(
        f'<score-part id="P{i}"><part-name>{names[i] if i < len(names) else "Piano"}</part-name></score-part>'
        for i in range(len(parts))
    )
    text = "".join(f'<part id="P{i}">{part}</part>' for i, part in enumerate(parts))
    return HEAD.format(list=listed, parts=text).encode()


def xml_note(pitch: str, duration: int, more: str = "", attributes: str = "", before: str = "") -> str:
    """One <note>; `pitch` as ``F#4``, or empty for a rest."""
    if pitch:
        spelled = SpelledPitch.parse(pitch)
        what = (f"<pitch><step>{spelled.letter}</step><alter>{spelled.alteration}</alter>"
                f"<octave>{spelled.octave}</octave></pitch>")  # fmt: skip
    else:
        what = "<rest/>"
    length = f"<duration>{duration}</duration>" if duration else ""
    return f"<note {attributes}>{before}{what}{length}{more}</note>"


_LENGTHS = [Fraction(n) for n in ("1/4", "1/2", "3/4", "1", "3/2", "2", "5/2", "3", "7/2", "4", "5", "1/3", "2/3")]


@st.composite
def pieces(draw: st.DrawFn) -> Piece:
    """Pieces for two hands with several voices, chords, triplets, notes over barlines, graces, fingers."""
    meter = draw(st.sampled_from([(4, 4), (3, 4), (6, 8), (2, 4), (5, 8), (2, 2)]))
    full = Fraction(4 * meter[0], meter[1])
    count = draw(st.integers(1, 4))
    pickup = draw(st.sampled_from([None, Fraction(1), Fraction(1, 2)])) if count > 1 else None
    bars, onset = [], Fraction(0)
    if pickup is not None and pickup < full:
        bars.append(Bar(0, onset, pickup, meter))
        onset += pickup
    for number in range(1, count + 1):
        bars.append(Bar(number, onset, full, meter))
        onset += full
    key = Key.from_signature(draw(st.sampled_from(ALL_SIGNATURES)), draw(st.sampled_from(["major", "minor"])))
    keys = [KeyChange(Fraction(0), key)]
    if len(bars) > 2 and draw(st.booleans()):
        other = Key.from_signature(draw(st.sampled_from([s for s in ALL_SIGNATURES if s != key.signature])), "major")
        keys.append(KeyChange(bars[2].onset, other))
    notes: list[Note] = []
    for hand, low in ((RIGHT, 35), (LEFT, 21)):
        for voice in range(1, draw(st.integers(0 if notes else 1, 2)) + 1):
            notes += _voice(draw, hand, voice, low, onset, len(notes))
    if not any(n.hand == RIGHT for n in notes):  # one hand alone is written on one staff
        notes = [replace(n, staff=1) for n in notes]
    return Piece(title="Made", notes=sorted_notes(notes), bars=tuple(bars), keys=tuple(keys),
                 tempo=96.0, tempi=((Fraction(0), 96.0),), composer="Nobody", source="the tests",
                 origin="made up", licence="CC0")  # fmt: skip


def _voice(draw: st.DrawFn, hand: str, voice: int, low: int, end: Fraction, count: int) -> list[Note]:
    notes: list[Note] = []
    onset = Fraction(0)
    while onset < end:
        length = min(draw(st.sampled_from(_LENGTHS)), end - onset)
        staff = 2 if hand == LEFT else 1
        if draw(st.integers(0, 4)):
            # Voices of one hand keep apart, so that no key is written twice at once.
            steps = draw(st.lists(st.integers(0, 6), min_size=1, max_size=3, unique=True))
            for step in steps:
                pitch = SpelledPitch("CDEFGAB"[(low + step) % 7], draw(st.integers(-1, 1)),
                                     (low + step + 7 * (voice - 1)) // 7)  # fmt: skip
                if any(n.onset == onset and n.midi == pitch.midi for n in notes):
                    continue
                notes.append(Note(f"a{count + len(notes)}", pitch, onset, length, hand, voice,
                                  draw(st.sampled_from([None, None, 1, 5])), staff=staff,
                                  ornament=draw(st.sampled_from(["", "", "", "trill", "mordent"]))))  # fmt: skip
            if not draw(st.integers(0, 9)):
                notes.append(Note(f"a{count + len(notes)}", SpelledPitch("G", 0, 4), onset, Fraction(0), hand, voice,
                                  grace=True, optional=True, staff=staff))  # fmt: skip
        onset += length
    return notes
