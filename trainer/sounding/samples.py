"""The built-in tone and the click, made from partials with numpy at first use and kept in the cache folder.

Frequencies: equal temperament, A4 = 440 Hz (ISO 16:1975), partials harmonic so that the pitch is exact. The shape
of the spectrum, a string struck at an eighth of its length with quicker decay above, is textbook acoustics (Fletcher
and Rossing, *The Physics of Musical Instruments*, ch. 12, from memory); its figures are ours, chosen by ear.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.scores import cache
from trainer.sounding.voice import HIGH_BLOCK, LOW_BLOCK

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RATE = 48_000
LOWEST, HIGHEST = 21, 108
SECONDS = 3.5
# Peak of one note before velocity: eight notes of middling velocity at once stay below full scale.
PEAK = 0.8
_VERSION = 1
_ATTACK_S, _FADE_S = 0.004, 0.15
_MOST_PARTIALS, _HIGHEST_HZ = 16, 9_000.0
_STRUCK_AT = 8
_CLICKS = {HIGH_BLOCK: (1760.0, 1.0), LOW_BLOCK: (1174.66, 0.8)}
_CLICK_S = 0.035


def hertz(pitch: int) -> float:
    """Frequency of a MIDI note in equal temperament, A4 = 440 Hz (ISO 16).

    >>> hertz(69), round(hertz(60), 3)
    (440.0, 261.626)
    """
    return float(440.0 * 2.0 ** ((pitch - 69) / 12))


def tone(pitch: int, seconds: float = SECONDS) -> NDArray[np.float32]:
    """One struck note, peak `PEAK`, shape (samples,), `RATE` samples a second."""
    import numpy as np

    first = hertz(pitch)
    count = max(1, min(_MOST_PARTIALS, int(_HIGHEST_HZ / first)))
    time = np.arange(int(seconds * RATE), dtype=np.float64) / RATE
    slowest = float(np.clip(2.2 * (261.6 / first) ** 0.45, 0.35, 4.0))
    sound = np.zeros(len(time), dtype=np.float32)
    for partial in range(1, count + 1):
        loud = abs(np.sin(np.pi * partial / _STRUCK_AT)) * partial**-1.1
        decay = np.exp((time * (-(1 + 0.35 * (partial - 1)) / slowest)).astype(np.float32))
        # Whole turns are taken off in double precision; what is left is exact enough in single.
        turns = time * (first * partial)
        sound += np.float32(loud) * decay * np.sin(((turns - np.floor(turns)) * (2 * np.pi)).astype(np.float32))
    shaped = _shaped(sound)
    shaped *= np.float32(PEAK / max(float(np.abs(shaped).max()), 1e-9))
    return shaped


def click(pitch: int) -> NDArray[np.float32]:
    """One click: the accent for the high wood block, the beat for the low one; it starts at its first sample."""
    import numpy as np

    frequency, loud = _CLICKS.get(pitch, _CLICKS[LOW_BLOCK])
    time = np.arange(int(_CLICK_S * RATE)) / RATE
    sound = np.cos(2 * np.pi * frequency * time) * np.exp(-time / 0.006) * loud * PEAK
    faded: NDArray[np.float32] = (sound * np.linspace(1.0, 0.0, len(time))).astype(np.float32)
    return faded


def _shaped(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """A soft start and an end without a click."""
    import numpy as np

    rise, fall = int(_ATTACK_S * RATE), min(int(_FADE_S * RATE), len(sound) // 2)
    sound[:rise] *= (0.5 - 0.5 * np.cos(np.linspace(0, np.pi, rise))).astype(np.float32)
    sound[-fall:] *= np.linspace(1, 0, fall, dtype=np.float32)
    return sound


@lru_cache(maxsize=128)
def sample(pitch: int, percussion: bool = False) -> NDArray[np.float32]:
    """A note or a click, from memory, from the cache folder, or made now (a few hundredths of a second)."""
    import numpy as np

    if percussion:
        return click(pitch)
    name = cache.name_for("tone", f"{_VERSION} {RATE} {SECONDS} {pitch}")
    length = int(SECONDS * RATE)
    try:
        kept = np.load(io.BytesIO(cache.fetch_bytes(name)), allow_pickle=False)
        if kept.shape == (length,) and kept.dtype == np.int16:
            wave: NDArray[np.float32] = kept.astype(np.float32) / np.float32(32767)
            return wave
    except (ValueError, EOFError):
        pass
    made = tone(pitch)
    buffer = io.BytesIO()
    np.save(buffer, (made * 32767).astype(np.int16))
    cache.keep_bytes(name, buffer.getvalue())
    return made
