"""Driver time stamps on the program's clock."""

from __future__ import annotations

import random

from trainer.listening.clock import LOST_S, DriverClock


def test_lateness_of_a_busy_program_is_taken_out() -> None:
    rng = random.Random(4)
    clock, true, errors = DriverClock(), 100.0, []
    for n in range(400):
        delta = rng.uniform(0.02, 0.4)
        true += delta
        late = rng.choice([0.0002, 0.0004, 0.012, 0.060])
        errors.append(clock.stamp(delta if n else 0.0, true + late) - true)
    settled = errors[20:]
    assert max(settled) - min(settled) < 0.002
    assert max(map(abs, settled)) < 0.002


def test_quartz_drift_is_followed() -> None:
    clock, driver, true = DriverClock(), 0.0, 0.0
    for _ in range(6000):
        true += 0.1
        driver_delta = 0.1 * (1 - 1e-4)
        driver += driver_delta
        at = clock.stamp(driver_delta, true + 0.0005)
    assert abs(at - true) < 0.002


def test_stamps_never_run_backwards_nor_ahead() -> None:
    rng = random.Random(5)
    clock, last, arrived = DriverClock(), float("-inf"), 0.0
    for _ in range(500):
        arrived += rng.uniform(0.0, 0.05)
        at = clock.stamp(rng.choice([None, -1.0, 0.0, rng.uniform(0, 0.2)]), arrived)
        assert last <= at <= arrived
        last = at


def test_after_lost_deltas_the_clock_starts_anew() -> None:
    clock = DriverClock()
    clock.stamp(0.0, 10.0)
    assert clock.stamp(0.01, 10.01 + 2 * LOST_S) == 10.01 + 2 * LOST_S


def test_without_driver_times_the_arrival_counts() -> None:
    assert DriverClock().stamp(None, 7.5) == 7.5
