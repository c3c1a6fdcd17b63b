"""Letters for key numbers: a MIDI file knows only which keys sounded."""

from __future__ import annotations

from functools import cache

from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch, pitch_from_fifths

# Places on the line of fifths counted from the tonic that each mode's chromatic notes usually take: in major the
# raised fourth, first, fifth, second, and the lowered seventh; in minor the raised sixth and seventh, the lowered
# second, the raised third and fourth. Common practice, e.g. W. Piston, *Harmony* (1941), on secondary dominants
# (from memory).
_WINDOW = {"major": (-2, 9), "minor": (-5, 6)}


@cache
def spell(midi: int, key: Key) -> SpelledPitch:
    """The usual spelling of a key number in a key.

    >>> [spell(n, Key.parse("Eb")).name for n in (58, 66, 63)]
    ['Bb3', 'F#4', 'Eb4']
    >>> spell(68, Key.parse("a")).name
    'G#4'
    """
    low, high = _WINDOW[key.mode]
    tonic = key.tonic.fifths
    fifths = next(f for f in range(tonic + low, tonic + high + 1) if (f * 7) % 12 == midi % 12)
    pitch = pitch_from_fifths(fifths, 4)
    return SpelledPitch(pitch.letter, pitch.alteration, pitch.octave + (midi - pitch.midi) // 12)
