"""Honest bands round figures: how much of a number may be chance."""

from __future__ import annotations

import math

# Slips come in clusters, so notes are worth fewer independent trials than there are notes (our constant).
CLUSTER = 2.5
SURE = 1.96  # two-sided 95 in 100 of a normal distribution


def share_band(right: int, n: int) -> tuple[float, float]:
    """95 % band of a share, notes counted as ``n / CLUSTER`` trials.

    Source: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", JASA 22 (1927).

    >>> low, high = share_band(90, 100)
    >>> round(low, 2), round(high, 2)
    (0.77, 0.96)
    >>> share_band(0, 0)
    (0.0, 1.0)
    """
    trials = n / CLUSTER
    if trials <= 0:
        return 0.0, 1.0
    share, square = right / n, SURE * SURE
    middle = (share + square / (2 * trials)) / (1 + square / trials)
    half = SURE / (1 + square / trials) * math.sqrt(share * (1 - share) / trials + square / (4 * trials * trials))
    # Rounding must not leave the share itself outside.
    return max(0.0, min(middle - half, share)), min(1.0, max(middle + half, share))


def difference_band(right_a: int, n_a: int, right_b: int, n_b: int) -> tuple[float, float]:
    """95 % band of how much larger the second share is than the first.

    Newcombe's hybrid of two Wilson bands (R. G. Newcombe, Statistics in Medicine 17 (1998), method 10).

    >>> low, high = difference_band(800, 1000, 900, 1000)
    >>> round(low, 2), round(high, 2)
    (0.05, 0.15)
    """
    a, b = (right / n if n else 0.5 for right, n in ((right_a, n_a), (right_b, n_b)))
    (la, ha), (lb, hb) = share_band(right_a, n_a), share_band(right_b, n_b)
    return b - a - math.hypot(b - lb, ha - a), b - a + math.hypot(hb - b, a - la)


def mean_band(n: int, total: float, squares: float) -> tuple[float, float, float] | None:
    """(mean, low, high) from a count, a sum and a sum of squares; None for fewer than two.

    The half width is Student's t for n - 1 at 95 %, by the expansion of Abramowitz & Stegun 26.7.5.
    """
    if n < 2:
        return None
    mean = total / n
    variance = max(0.0, (squares - n * mean * mean) / (n - 1))
    half = student(n - 1) * math.sqrt(variance / n)
    return mean, mean - half, mean + half


def student(freedom: int) -> float:
    """Two-sided 95 % point of Student's t, good to a hundredth from three degrees on."""
    exact = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776}
    if freedom in exact:
        return exact[freedom]
    x = 1.959964
    return (
        x
        + (x**3 + x) / (4 * freedom)
        + (5 * x**5 + 16 * x**3 + 3 * x) / (96 * freedom**2)
        + (3 * x**7 + 19 * x**5 + 17 * x**3 - 15 * x) / (384 * freedom**3)
    )
