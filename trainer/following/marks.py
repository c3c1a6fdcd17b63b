"""Mark, Cause, Move: what the teacher's pencil says. Plain values; codes as in the journal and in ``--json``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

RIGHT = "right"
OCTAVE = "octave"
AS_WRITTEN = "as-written"
SIGNATURE = "signature"
ACCIDENTAL = "accidental"
STEP = "step"
DISPLACED = "displaced"
BRUSHED = "brushed"
REPEATED = "repeated"
WRONG = "wrong"
EXTRA = "extra"
MISSED = "missed"
CAUSES = (RIGHT, OCTAVE, AS_WRITTEN, SIGNATURE, ACCIDENTAL, STEP, DISPLACED, BRUSHED, REPEATED, WRONG, EXTRA)

WENT_BACK = "went-back"
SKIPPED = "skipped"
HESITATED = "hesitated"
MOVES = (WENT_BACK, SKIPPED, HESITATED)

# Findings about a whole take.
OTHER_OCTAVE = "other-octave"
OTHER_KEY = "other-key"
PIANO_TRANSPOSES = "piano-transposes"
ONE_HAND = "one-hand"


@dataclass(frozen=True, slots=True)
class Mark:
    """What is said of one press.

    Parameters
    ----------
    press : int
        Index of the press in the take, from 0.
    note : int or None
        Index in `Piece.notes` of the note it was meant for; None when no written note answers it.
    cause : str
        One of `CAUSES`.
    probability : float
        Of this cause, 0-1, all causes weighed together.
    others : tuple of (cause, probability)
        The other causes that fit, likeliest first.
    offset : int
        Semitones from the expected pitch to the pitch that sounded; 0 when right or when `note` is None.
    """

    press: int
    note: int | None
    cause: str
    probability: float = 1.0
    others: tuple[tuple[str, float], ...] = ()
    offset: int = 0


@dataclass(frozen=True, slots=True)
class Move:
    """The player went back, skipped or hesitated.

    Parameters
    ----------
    kind : str
        One of `MOVES`.
    at : float
        Seconds; for `hesitated` the moment the waiting ended.
    origin, goal : int
        Indices in `Piece.notes`: the last note played before, the first played after.
    seconds : float
        How long the pause was; for `hesitated`, how much longer than the music asked for.
    """

    kind: str
    at: float
    origin: int
    goal: int
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Finding:
    """Something true of the whole take: kind, a sentence for the player, semitones where that is meant."""

    kind: str
    words: str
    semitones: int = 0


@dataclass(frozen=True, slots=True)
class Settled:
    """Final verdicts of a take: one mark a press, the notes nobody played, the moves, whole-take findings.

    Parameters
    ----------
    span : (int, int), optional
        The first mark that is of the piece and the first one after it, where a false start goes before or other music
        comes after: only what lies between counts in the figures. None: all of it does.
    """

    marks: tuple[Mark, ...]
    missed: tuple[int, ...]
    moves: tuple[Move, ...]
    findings: tuple[Finding, ...] = ()
    span: tuple[int, int] | None = None

    @property
    def counted(self) -> tuple[Mark, ...]:
        """The marks that count in the figures."""
        return self.marks[self.within]

    @property
    def within(self) -> slice:
        """Where the marks that count, and their presses, stand among all of them."""
        return slice(*self.span) if self.span is not None else slice(0, len(self.marks))

    @property
    def shift(self) -> int:
        """The semitones by which the whole take lay beside what was asked for; 0 when it did not."""
        return shift_of(self.findings)

    def is_of_all(self, mark: Mark) -> bool:
        """Whether a press is a slip only because the whole take lay elsewhere: to be said once, not at every note."""
        return mark.offset == self.shift != 0 and mark.cause != REPEATED

    @property
    def right_as_it_lay(self) -> int:
        """Presses that count and were right where the whole take lay."""
        return self.right_among(self.counted)

    def right_among(self, marks: Iterable[Mark]) -> int:
        """How many of some marks of the take were right where it lay."""
        return sum(mark.cause == RIGHT or self.is_of_all(mark) for mark in marks)

    def as_told(self, mark: Mark) -> Mark:
        """A mark as it is said and drawn: a slip in a take that lay elsewhere by how far it missed what was meant."""
        if not self.shift or mark.note is None or mark.cause == RIGHT or self.is_of_all(mark):
            return mark
        return replace(mark, offset=mark.offset - self.shift)


def shift_of(findings: Iterable[Finding]) -> int:
    """The semitones by which a whole take lay beside what was asked for, by what was found; 0 when it did not."""
    return next((one.semitones for one in findings if one.kind in (OTHER_OCTAVE, OTHER_KEY)), 0)


def right_of(right: int, played: int, missed: int = 0) -> str:
    """The first figure of a take in words, the same wherever it is said: right presses of all that counts.

    What counts are the keys struck and the notes left out together; accuracy is the one over the other.

    >>> right_of(189, 217, 14)
    '189 of 231'
    """
    return f"{right} of {played + missed}"
