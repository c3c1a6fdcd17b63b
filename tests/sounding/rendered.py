"""What SDL's disk driver wrote: the very samples a sound card would have been given."""

from __future__ import annotations

import pathlib
import time
from typing import Any

import numpy as np

from trainer.sounding.samples import RATE

FULL = 32767.0


def samples(path: pathlib.Path) -> Any:
    """The file as numbers from -1 to 1, shape (samples,)."""
    return np.fromfile(path, dtype=np.int16).astype(np.float64) / FULL


def wait_for(path: pathlib.Path, seconds: float, more: float = 60.0) -> None:
    """Until so many seconds of sound are in the file."""
    until = time.monotonic() + seconds + more
    while not path.exists() or path.stat().st_size < 2 * RATE * seconds:
        assert time.monotonic() < until, "the disk driver has stopped"
        time.sleep(0.01)


def onsets(wave: Any, quiet: float = 0.002, gap_s: float = 0.03) -> Any:
    """Seconds at which sound begins after at least `gap_s` of near silence."""
    loud = np.flatnonzero(np.abs(wave) > quiet)
    starts = loud[np.concatenate([[True], np.diff(loud) > gap_s * RATE])]
    return starts / RATE


def frequency(wave: Any, near: float) -> float:
    """The frequency of the strongest partial within a semitone of `near`, in hertz.

    A Gaussian window makes the peak of the log spectrum a parabola, so three bins give its top exactly.
    """
    from scipy.signal.windows import gaussian

    windowed = wave * gaussian(len(wave), len(wave) / 8)
    size = 4 * len(wave)
    spectrum = np.log(np.abs(np.fft.rfft(windowed, size)) + 1e-12)
    low, high = int(near * 2 ** (-1 / 12) * size / RATE), int(near * 2 ** (1 / 12) * size / RATE) + 2
    top = low + int(np.argmax(spectrum[low:high]))
    left, mid, right = spectrum[top - 1 : top + 2]
    return float((top + (left - right) / (2 * (left - 2 * mid + right))) * RATE / size)
