"""The offset between click and keys, found by tapping along.

Taps come before the beat by some tens of milliseconds in most people (B. Repp, "Sensorimotor synchronization: a
review of the tapping literature", *Psychonomic Bulletin & Review* 12, 2005); what is measured here is that habit
and the delays of sound and keyboard together, which is what early and late must be counted from.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median, quantiles

from trainer.listening.press import Press
from trainer.sounding.voice import HIGH_BLOCK, LOW_BLOCK, PERCUSSION, Schedule, Sounded

TAPS = 16
# Beats to listen to before the first tap counts.
LEAD_IN = 4
TEMPO = 100.0
ENOUGH = 12
# Half the taps must lie within this many seconds, or they follow no beat.
STEADY_S = 0.12


@dataclass(frozen=True, slots=True)
class Offset:
    """How far the taps lie from the beats.

    Parameters
    ----------
    seconds : float
        Median of tap minus beat: negative when the taps come early.
    spread : float
        Seconds between the quartiles.
    taps : int
        How many were counted.
    """

    seconds: float
    spread: float
    taps: int

    @property
    def words(self) -> str:
        side = "early" if self.seconds < 0 else "late"
        return (
            f"{abs(self.seconds) * 1000:.0f} ms {side}, half of {self.taps} taps within {self.spread * 1000:.0f} ms: "
            "early and late are counted from there."
        )


def beats() -> Schedule:
    """The click to tap to: four beats to listen, then sixteen, accented by fours."""
    step = 60.0 / TEMPO
    return Schedule.of(
        Sounded(number * step, 0.03, LOW_BLOCK if number % 4 else HIGH_BLOCK, 88 if number % 4 else 112, PERCUSSION)
        for number in range(LEAD_IN + TAPS)
    )


class Tapping:
    """Collects taps against the beats of a click.

    Parameters
    ----------
    start : float
        When the first beat of `beats` is heard, on the clock the presses carry (`Player.started`).
    """

    def __init__(self, start: float) -> None:
        self._step = 60.0 / TEMPO
        self._beats = [start + number * self._step for number in range(LEAD_IN, LEAD_IN + TAPS)]
        self._taps: list[float] = []

    def hear(self, press: Press) -> int:
        """Take a tap; gives how many beats have one."""
        self._taps.append(press.at)
        return len(self._asynchronies())

    def result(self) -> Offset | None:
        """The offset; None while fewer than twelve beats have a tap or the taps follow no beat."""
        return offset(self._asynchronies())

    def _asynchronies(self) -> list[float]:
        """Tap minus beat for every beat with a tap nearer to it than to its neighbours, the nearest one."""
        found: dict[int, float] = {}
        for tap in self._taps:
            number = min(range(len(self._beats)), key=lambda at: abs(tap - self._beats[at]))
            apart = tap - self._beats[number]
            if abs(apart) < self._step / 2 and abs(apart) < abs(found.get(number, self._step)):
                found[number] = apart
        return list(found.values())


def offset(asynchronies: Iterable[float]) -> Offset | None:
    """Median and spread of asynchronies in seconds; None when too few, or spread too wide to mean anything."""
    listed: Sequence[float] = sorted(asynchronies)
    if len(listed) < ENOUGH:
        return None
    low, _, high = quantiles(listed, n=4, method="inclusive")
    return Offset(median(listed), high - low, len(listed)) if high - low <= STEADY_S else None
