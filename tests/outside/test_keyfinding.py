"""Key-finding beside music21's Krumhansl-Kessler analysis; level and compass over folk collections."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.outside.references import chosen, folk_tunes, our_tune, ours
from trainer.music.compass import LEVELS, compass, level
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.scores.notation.keyfinding import PROFILES, correlations, durations, find_key

SCORES = [*chosen("*/bwv*.mxl", 10, 9_000), *chosen("ryansMammoth/*.abc", 4), *chosen("ciconia/*.mxl", 1)]
TUNES = [tune for book in ("altdeu10", "ballad10") for tune in folk_tunes(book, 8)]


def stream_of(piece: Piece) -> Any:
    """The same notes for music21 to analyse."""
    from music21 import note, stream

    line = stream.Stream()
    for one in piece.notes:
        if one.length:
            line.insert(float(one.onset), note.Note(one.midi, quarterLength=one.length))
    return line


def test_the_profiles_are_those_music21_prints() -> None:
    from music21.analysis.discrete import KrumhanslKessler

    analysis = KrumhanslKessler()
    for mode, profile in PROFILES.items():
        assert list(profile) == pytest.approx(analysis.getWeights(mode))


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
def test_the_same_key_and_the_same_correlations(path: Path) -> None:
    from music21.analysis.discrete import KrumhanslKessler

    piece = ours(path)
    analysis = KrumhanslKessler()
    theirs = analysis.getSolution(stream_of(piece))
    ranked = correlations(durations(piece.notes))
    fit, key = ranked[0]
    assert (key.tonic.pitch_class, key.mode) == (theirs.tonic.pitchClass, theirs.mode)
    assert fit == pytest.approx(theirs.correlationCoefficient, abs=1e-6)
    assert ranked[1][0] == pytest.approx(theirs.alternateInterpretations[0].correlationCoefficient, abs=1e-6)


def test_sureness_is_as_often_right_as_it_says() -> None:
    """A chorale ends on its tonic more often than not (common practice, no source)."""
    said, right = [], []
    for path in chosen("*/bwv*.mxl", 60, 9_000):
        piece = ours(path)
        key, sure = find_key(piece.notes)
        bass = min((piece.notes[i] for i in piece.moments[-1].notes), key=lambda n: n.midi)
        said.append(sure)
        right.append(key.tonic.pitch_class == bass.midi % 12)
    assert abs(sum(said) / len(said) - sum(right) / len(right)) < 0.12
    surest = [hit for hit, sure in zip(right, said, strict=True) if sure > 0.85]
    assert len(surest) >= 8
    assert sum(surest) / len(surest) > 0.8


def test_compass_of_folk_songs_beside_music21s_ambitus(capsys: pytest.CaptureFixture[str]) -> None:
    """music21's `Ambitus` measures the same tunes; the spread of levels is printed (run with -s to see it)."""
    from music21.analysis.discrete import Ambitus

    levels: Counter[str] = Counter()
    for tune in TUNES:
        piece = our_tune(tune)
        span = compass(piece.notes)
        assert span is not None
        low, high = Ambitus().getPitchSpan(stream_of(piece))
        assert (span.low.midi, span.high.midi) == (low.midi, high.midi)
        levels[level(piece)] += 1
    print({name: levels[name] for name in LEVELS})
    assert sum(levels.values()) == len(TUNES)
    # Songs of grown-up singers mostly pass an octave; none of these lies in three notes.
    assert levels["open"] > levels["hexachord"] > levels["trichord"] == 0


def test_nothing_can_be_told_of_silence_or_of_all_notes_alike() -> None:
    assert find_key([]) == (Key.parse("C"), 0.0)
    assert correlations((1.0,) * 12) == []
