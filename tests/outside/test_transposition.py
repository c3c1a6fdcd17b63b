"""Spelling after transposition beside two independent references: music21's transposition and verovio's."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pytest

from tests.outside.references import chosen, ours
from trainer.music.keys import ALL_SIGNATURES, MAX_ACCIDENTALS, Key
from trainer.music.piece import Piece
from trainer.music.pitch import Interval, SpelledPitch
from trainer.music.transpose import OCTAVES, interval_between, transposed
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import read
from trainer.scores.shelf.library import bundled_folder

BUNDLED = sorted(bundled_folder().rglob("*.musicxml"))
# Folk songs, rags and quartets, each with its own kind of accidentals.
CORPUS = [*chosen("ryansMammoth/*.abc", 3), *chosen("joplin/*.mxl", 1), *chosen("haydn/opus17no*/*.mxl", 1, 30_000),
          *chosen("*/bwv*.mxl", 3, 9_000)]  # fmt: skip


def targets(written: Key) -> list[Key]:
    return [Key.from_signature(signature, written.mode) for signature in ALL_SIGNATURES]


@cache
def by_music21(pitch: SpelledPitch, interval: Interval) -> tuple[str, int, int]:
    """Letter, alteration and octave after music21's own interval arithmetic."""
    from music21 import interval as m21interval
    from music21 import pitch as m21pitch

    start = m21pitch.Pitch(step=pitch.letter, octave=pitch.octave)
    start.accidental = m21pitch.Accidental(pitch.alteration)
    generic = interval.steps + (1 if interval.steps >= 0 else -1)
    chromatic = m21interval.ChromaticInterval(interval.semitones)
    whole = m21interval.intervalFromGenericAndChromatic(m21interval.GenericInterval(generic), chromatic)
    end = whole.transposePitch(start, maxAccidental=None)
    return end.step, int(end.accidental.alter if end.accidental else 0), end.octave


def check_against_music21(piece: Piece, target: Key, octave: str) -> None:
    interval = interval_between(piece.key, target, octave)
    if any(abs(change.key.transposed(interval).signature) > MAX_ACCIDENTALS for change in piece.keys):
        return  # respelled passages are checked in tests/music
    moved = transposed(piece, interval)
    assert moved.key == target
    for before, after in zip(piece.notes, moved.notes, strict=True):
        spelled = (after.pitch.letter, after.pitch.alteration, after.pitch.octave)
        assert spelled == by_music21(before.pitch, interval)


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_every_bundled_piece_in_all_keys_beside_music21(path: Path) -> None:
    piece = read(path)
    for target in targets(piece.key):
        for octave in OCTAVES:
            check_against_music21(piece, target, octave)


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_corpus_scores_through_the_keys_and_back(path: Path) -> None:
    piece = ours(path)
    wanted = targets(piece.key)
    for target in wanted if len(piece.notes) < 1000 else wanted[::5]:
        check_against_music21(piece, target, "nearest")
        interval = interval_between(piece.key, target)
        there = transposed(piece, interval)
        assert [n.midi for n in there.notes] == [n.midi + interval.semitones for n in piece.notes]
        back = transposed(there, -interval)
        if all(abs(change.key.transposed(interval).signature) <= MAX_ACCIDENTALS for change in piece.keys):
            assert back.notes == piece.notes
            assert back.keys == piece.keys


_ALTERATIONS = {"s": 1, "f": -1, "n": 0, "x": 2, "ss": 2, "ff": -2, "xs": 3, "sx": 3, "ts": 3, "tf": -3, "": 0}


def by_verovio(document: str, interval: Interval) -> dict[int, tuple[str, int, int]]:
    """Every note after verovio's own transposition, by its index."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"transpose": interval.short, "xmlIdSeed": 1})
    assert toolkit.loadData(document)
    mei = re.sub(r'\sxmlns="[^"]+"', "", toolkit.getMEI(), count=1)
    found = {}
    for note in ET.fromstring(mei).iter("note"):
        name = note.get("{http://www.w3.org/XML/1998/namespace}id", "")
        sign = note.get("accid.ges") or note.get("accid") or ""
        for accid in note.iter("accid"):
            sign = accid.get("accid") or accid.get("accid.ges") or sign
        if re.fullmatch(r"k\d+", name):
            found[int(name[1:])] = (note.get("pname", "").upper(), _ALTERATIONS[sign], int(note.get("oct", 0)))
    return found


# verovio reads a score anew for every key, so each bundled piece takes one key, and together they take all.
ROUNDS = [(path, ALL_SIGNATURES[4 * number % len(ALL_SIGNATURES)]) for number, path in enumerate(BUNDLED)]


def test_the_rounds_take_every_signature() -> None:
    assert {signature for _, signature in ROUNDS} == set(ALL_SIGNATURES)


@pytest.mark.parametrize(("path", "signature"), ROUNDS, ids=lambda value: getattr(value, "stem", value))
def test_every_bundled_piece_beside_verovio(path: Path, signature: int) -> None:
    piece = read(path)
    interval = interval_between(piece.key, Key.from_signature(signature, piece.key.mode))
    if any(abs(change.key.transposed(interval).signature) > MAX_ACCIDENTALS for change in piece.keys):
        pytest.skip("a passage is respelled")
    theirs = by_verovio(to_musicxml(piece, Print()), interval)
    for index, note in enumerate(transposed(piece, interval).notes):
        assert theirs[index] == (note.pitch.letter, note.pitch.alteration, note.pitch.octave)
