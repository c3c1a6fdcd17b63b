"""The coach against the world: the scheduler's own vectors, a statistics library, published bands.

Sources: the test vectors of the ``fsrs`` package (open-spaced-repetition/py-fsrs, tests/test_basic.py of the installed
release line, MIT licence); SciPy's optimiser and distributions as independent references; E. B. Wilson's interval as
computed in A. Agresti, *Categorical Data Analysis*, and by ``scipy.stats``; R. G. Newcombe, Statistics in Medicine
17 (1998), table II, for the band of a difference (from memory); Friberg & Sundberg (1995) for the threshold of a
changed tempo (from memory).
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

from trainer.coaching.path import memory
from trainer.coaching.progress.habits import JUST_NOTICEABLE
from trainer.coaching.sight.sight import PRIOR_MEAN, PRIOR_SPREAD, Answer, Rating, estimate
from trainer.journal.bands import CLUSTER, SURE, difference_band, mean_band, share_band, student

scipy_stats = pytest.importorskip("scipy.stats")
scipy_optimize = pytest.importorskip("scipy.optimize")


def test_the_schedulers_own_vectors() -> None:
    """py-fsrs 6.3.2, test_memo_state: stability and difficulty after these ratings at these distances."""
    from fsrs import Card, Scheduler
    from fsrs import Rating as Grade

    scheduler = Scheduler()
    card, at = Card(), datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    grades = (Grade.Again, *[Grade.Good] * 5)
    for grade, days in zip(grades, (0, 0, 1, 3, 8, 21), strict=True):
        at += timedelta(days=days)
        card, _ = scheduler.review_card(card, grade, at)
    assert card.stability == pytest.approx(53.62691, abs=1e-4)
    assert card.difficulty == pytest.approx(6.3574867, abs=1e-4)


def test_the_schedulers_own_intervals() -> None:
    """py-fsrs, test_review_card: days to the next review, each taken on the day it was due."""
    from fsrs import Card, Scheduler
    from fsrs import Rating as Grade

    scheduler = Scheduler(enable_fuzzing=False)
    card, at, days = Card(), datetime(2022, 11, 29, 12, 30, tzinfo=UTC), []
    for grade in (*[Grade.Good] * 6, Grade.Again, Grade.Again, *[Grade.Good] * 5):
        card, _ = scheduler.review_card(card, grade, at)
        assert card.last_review is not None
        days.append((card.due - card.last_review).days)
        at = card.due
    assert days == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


def test_our_use_of_the_scheduler_follows_its_published_formulas() -> None:
    """First stability is a parameter by rating; the interval at nine in ten remembered is the stability itself, whole
    days, at least one (FSRS-6 as written down by its authors in the package's wiki, "The Algorithm")."""
    from fsrs.scheduler import DEFAULT_PARAMETERS

    now = datetime(2026, 1, 1, 12, tzinfo=UTC)
    for rating, stability in zip(memory.RATINGS, DEFAULT_PARAMETERS[:4], strict=True):
        card, due = memory.reviewed("", rating, now)
        assert (due - now.date()).days == max(1, round(stability))
        decay = -DEFAULT_PARAMETERS[20]
        factor = 0.9 ** (1 / decay) - 1
        for days in (1, 10, 100):
            expected = (1 + factor * days / stability) ** decay
            assert memory.recall(card, now + timedelta(days=days)) == pytest.approx(expected)


def _reference(answers: list[Answer]) -> tuple[float, float]:
    """Mode of the posterior and its curvature, by SciPy's bounded minimiser and a numerical second derivative."""

    def loss(ability: float) -> float:
        total = -scipy_stats.norm.logpdf(ability, PRIOR_MEAN, PRIOR_SPREAD)
        for answer in answers:
            p = 1 / (1 + math.exp(answer.difficulty - ability))
            total -= scipy_stats.binom.logpmf(answer.right, answer.notes, p) / CLUSTER
        return float(total)

    found = scipy_optimize.minimize_scalar(loss, bounds=(-8, 12), method="bounded", options={"xatol": 1e-10})
    at, step = float(found.x), 1e-4
    curvature = (loss(at + step) - 2 * loss(at) + loss(at - step)) / step**2
    return at, 1 / math.sqrt(curvature)


@pytest.mark.parametrize("seed", range(12))
def test_rasch_estimates_against_a_statistics_library(seed: int) -> None:
    rng = Random(seed)
    ability = rng.gauss(1, 1.5)
    answers = []
    for _ in range(rng.randint(1, 9)):
        difficulty, notes = rng.uniform(-2, 3), rng.randint(8, 120)
        p = 1 / (1 + math.exp(difficulty - ability))
        answers.append(Answer(difficulty, sum(rng.random() < p for _ in range(notes)), notes))
    mode, spread = _reference(answers)
    ours = estimate(answers)
    assert ours.ability == pytest.approx(mode, abs=1e-5)
    assert ours.spread == pytest.approx(spread, rel=1e-3)


def test_all_right_and_all_wrong_have_an_estimate_too() -> None:
    for right in (0, 60):
        answers = [Answer(0.0, right, 60)] * 3
        assert estimate(answers).ability == pytest.approx(_reference(answers)[0], abs=1e-4)


def test_one_after_the_other_is_nearly_all_at_once() -> None:
    answers = [Answer(d / 2, 40 - 4 * d, 50) for d in range(6)]
    rating = Rating()
    for answer in answers:
        rating = estimate([answer], rating)
    whole = estimate(answers)
    assert rating.ability == pytest.approx(whole.ability, abs=0.15 * whole.spread)
    assert rating.spread == pytest.approx(whole.spread, rel=0.05)


@pytest.mark.parametrize(("right", "n"), [(3, 25), (14, 22), (90, 100), (997, 1000), (29, 30)])
def test_the_band_of_a_share_is_wilsons(right: int, n: int) -> None:
    """Against SciPy's Wilson interval, at the number of trials that clustered notes are worth."""
    trials = n / CLUSTER
    z = SURE
    share = right / n

    # SciPy's interval takes whole counts only, so its root finder solves the score equation at the trials as they are.
    def score(p: float) -> float:
        return (p - share) ** 2 - z * z * p * (1 - p) / trials

    low, high = scipy_optimize.brentq(score, 0.0, share), scipy_optimize.brentq(score, share, 1.0)
    assert share_band(right, n) == pytest.approx((low, high), abs=1e-9)
    assert share_band(0, n)[0] == 0.0
    assert share_band(n, n)[1] == 1.0
    scaled = scipy_stats.binomtest(right * 10, n * 10).proportion_ci(0.95, method="wilson")
    assert share_band(round(right * 10 * CLUSTER), round(n * 10 * CLUSTER)) == pytest.approx(
        (scaled.low, scaled.high), abs=1e-5
    )


@pytest.mark.parametrize(
    ("one", "other", "band"),
    [((48, 80), (56, 70), (0.0524, 0.3339)), ((0, 20), (10, 10), (0.6791, 1.0))],
)
def test_the_band_of_a_difference_is_newcombes(
    one: tuple[int, int], other: tuple[int, int], band: tuple[float, float]
) -> None:
    """His worked examples, method 10, in as many notes as make his trials."""
    notes = [round(count * CLUSTER) for count in (*one, *other)]
    assert difference_band(*notes) == pytest.approx(band, abs=5e-5)
    low, high = difference_band(*notes[2:], *notes[:2])
    assert (-high, -low) == pytest.approx(band, abs=5e-5)


def test_a_share_lies_in_its_own_band() -> None:
    """Rounding left 1 outside where 98 of 98 were right."""
    for n in range(1, 300):
        for right in (0, n // 2, n):
            low, high = share_band(right, n)
            assert 0.0 <= low <= right / n <= high <= 1.0


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 8, 15, 40, 200])
def test_the_band_of_a_mean_is_students(freedom: int) -> None:
    assert student(freedom) == pytest.approx(float(scipy_stats.t.ppf(0.975, freedom)), abs=0.01)
    values = [math.sin(n) + 2 for n in range(freedom + 1)]
    ours = mean_band(len(values), sum(values), sum(v * v for v in values))
    assert ours is not None
    reference = scipy_stats.t.interval(0.95, freedom, loc=sum(values) / len(values), scale=scipy_stats.sem(values))
    assert ours[1:] == pytest.approx(reference, abs=0.01)


def test_a_change_of_tempo_that_cannot_be_heard_is_not_told() -> None:
    """Friberg & Sundberg 1995: about 2.5 % of the interval, for intervals above some 240 ms (from memory)."""
    assert JUST_NOTICEABLE == 0.025
