"""A story: one reading of what the player has done so far."""

from __future__ import annotations

from math import exp, log
from typing import NamedTuple, TypeAlias

from trainer.following.model import MODEL

# What a press was taken for.
HIT = "hit"
AGAIN = "again"
SLIP = "slip"
BRUSH = "brush"
ORNAMENT = "ornament"
NOTHING = "nothing"


NEITHER = -1  # no hand
UNKNOWN = -1.0  # when a place was begun, right after a jump


class Step(NamedTuple):
    """One press in a story: linked to the steps before it, so that stories share their past."""

    before: Step | None
    press: int
    note: int  # -1: answers no note
    kind: str
    shift: int  # displacement of the hand that played it, in semitones; of a slip how far off its note it was
    place: int  # latest moment begun after this press
    jumped: bool


class Line:
    """One story.

    `sounded` and `tried` are bit sets over notes, bit 0 standing for note `base`; `slipped` holds for each hand how far
    off its last press was when that was a slip, else 0; `silent` names the hand that does not play at all, `idle`
    (bits) those that have left out their notes of late while the other went on. `begun` and `latest` are the times of
    the first and of the last press of the place.
    """

    __slots__ = (
        "base",
        "begun",
        "idle",
        "latest",
        "left",
        "place",
        "resting",
        "score",
        "shifts",
        "silent",
        "slipped",
        "sounded",
        "step",
        "tempo",
        "tried",
    )

    def __init__(
        self,
        score: float,
        place: int,
        shifts: tuple[int, int],
        base: int,
        sounded: int,
        tried: int,
        begun: float,
        tempo: float,
        step: Step | None,
        slipped: tuple[int, int] = (0, 0),
        silent: int = NEITHER,
        latest: float = UNKNOWN,
        idle: int = 0,
    ) -> None:
        self.score = score
        self.place = place
        self.shifts = shifts
        self.base = base
        self.sounded = sounded
        self.tried = tried
        self.begun = begun
        self.tempo = tempo
        self.step = step
        self.slipped = slipped
        self.silent = silent
        self.latest = latest
        self.idle = idle
        # What a guesser has found out about it already: see `unanswered` and `idle` there.
        self.left = -1.0
        self.resting = -1

    def scored(self, score: float) -> Line:
        """The same story at another score."""
        return Line(
            score, self.place, self.shifts, self.base, self.sounded, self.tried, self.begun, self.tempo, self.step,
            self.slipped, self.silent, self.latest, self.idle,
        )  # fmt: skip


# A story with one more press, not yet built: score, story, note (-1: none), what the press was taken for,
# displacements of the hands after it, displacement of the hand that played it (of a slip how far off it was).
Guess: TypeAlias = tuple[float, Line, int, str, tuple[int, int], int]


def pace(waited: float, due: float) -> float:
    """Log weight of a wait of `waited` seconds where `due` were expected (0 at best)."""
    spread = 0.04 + MODEL.stretch * due
    z = (waited - due) / spread
    if z < 0.0:
        return max(-0.5 * z * z, -4.5)
    return max(-0.7 * log(1.0 + z * z), -3.0)


def tempo_after(tempo: float, waited: float, quarters: float) -> float:
    """Seconds a quarter, moved toward what was just played; a wait out of proportion moves it little."""
    if quarters <= 0.0 or waited <= 0.02:
        return tempo
    off = log(waited / quarters / tempo)
    if abs(off) > 1.2:
        off *= 0.25
    return tempo * exp(0.25 * off)
