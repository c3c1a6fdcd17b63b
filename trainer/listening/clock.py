"""One clock for everything heard and played.

`now` is `time.perf_counter`: the finest steady clock on every system (`time.monotonic` moves in steps of 16 ms on
Windows before Python 3.13).

A driver tells the time between two messages of a port, exactly, but not when that was; the moment a message
reaches Python is known, but late by as much as the program was busy. A message is never early, so the least
lateness seen so far is the best guess of the distance between the two clocks.
"""

from __future__ import annotations

import time

now = time.perf_counter
# Two quartz clocks part by less than this many seconds a second.
DRIFT = 2e-4
# Beyond this the driver's count is not to be trusted (a suspended machine, deltas lost): start anew.
LOST_S = 0.25


class DriverClock:
    """Time stamps of one port, from the driver's deltas, on the program's clock; never backwards, never ahead."""

    def __init__(self) -> None:
        self._driver = 0.0
        self._distance: float | None = None
        self._last = float("-inf")
        self._heard = 0.0

    def stamp(self, delta: float | None, arrived: float) -> float:
        """When a message happened.

        Parameters
        ----------
        delta : float or None
            Seconds since the port's last message as the driver says; None when it says nothing.
        arrived : float
            Seconds on the program's clock when the message came in.
        """
        if delta is None or delta < 0:
            at = arrived
        else:
            self._driver += delta
            distance = arrived - self._driver
            if self._distance is None or distance - self._distance > LOST_S:
                self._distance = distance
            else:
                self._distance = min(distance, self._distance + DRIFT * max(0.0, arrived - self._heard))
            at = self._driver + self._distance
        self._heard = arrived
        self._last = max(self._last, min(at, arrived))
        return self._last
