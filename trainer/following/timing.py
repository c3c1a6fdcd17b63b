"""Pulse, steadiness, hesitations, hands together, chords together, and the click.

Thresholds
----------
Pianists' hands and chord notes usually fall within 30 to 50 ms, and listeners hear two onsets as two from about
20 to 30 ms on (R. Rasch, "Synchronization in performed ensemble music", Acustica 43 (1979); W. Goebl, "Melody lead in
piano performance", JASA 110 (2001); both from memory). What counts as a hesitation or a rolled chord here is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

from trainer.following.marks import EXTRA, REPEATED, RIGHT, Mark
from trainer.following.repeats import Repeats
from trainer.listening.press import Press
from trainer.music.piece import LEFT, Piece
from trainer.music.piece import RIGHT as RIGHT_HAND

APART_S = 0.05  # hands further apart than this are told
ROLLED_S = 0.09  # a chord spread wider than this, its notes in order of pitch, is rolled
WAIT_RATIO = 1.9  # a gap this many times the due one may be a hesitation
WAIT_S = 0.45  # and must be this much longer than due
WINDOW = 9  # gaps on either side that tell the player's pulse at a gap
HELD = "fermata"  # the sign in `Note.signs`
TOGETHER_S = 0.5  # a note this late still belongs to the moment before


@dataclass(frozen=True, slots=True)
class Click:
    """A click the player was asked to keep to: when onset 0 of the piece is due, and quarters a minute."""

    start: float
    tempo: float


@dataclass(frozen=True, slots=True)
class Hesitation:
    """A wait out of proportion: when it ended (s), the notes before and after it, how long it was and was due (s)."""

    at: float
    origin: int
    note: int
    seconds: float
    due: float

    @property
    def beyond(self) -> float:
        """Seconds it was longer than the music asked for: what a listener hears as waiting."""
        return self.seconds - self.due


@dataclass(frozen=True, slots=True)
class Apart:
    """At one moment the hands (or the notes of a chord) fell apart: the first note, seconds from first to last.

    For hands the sign tells which led: positive when the left hand came first.
    """

    note: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Timing:
    """How a take lay in time.

    Parameters
    ----------
    pulse_bpm : float or None
        Median pulse in felt beats a minute; None when fewer than two moments were played.
    bars : tuple of (index in `Piece.bars`, felt beats a minute)
        In the order played; a bar played twice is there twice.
    steadiness : float or None
        1 is a clock: one less the median relative distance of a gap from the local pulse.
    hesitations : tuple of Hesitation
    hands_apart : tuple of Apart
        Moments at which the hands fell apart by more than 50 ms.
    hands_met : int
        Moments at which both hands struck.
    rolled : tuple of Apart
        Chords of one hand spread in order of pitch, where no arpeggio is written.
    against_click_s : float or None
        Median distance from the click of the moments within a bar of it, or further by falling back or hurrying little
        by little, seconds, positive late; None without a click, and where most moments were elsewhere.
    early, late : int
        Of these the moments more than 60 ms before and after the click.
    elsewhere : int
        Moments that leapt more than a bar from the click: played in another bar than it, and neither early nor late.
    """

    pulse_bpm: float | None = None
    bars: tuple[tuple[int, float], ...] = ()
    steadiness: float | None = None
    hesitations: tuple[Hesitation, ...] = ()
    hands_apart: tuple[Apart, ...] = ()
    hands_met: int = 0
    rolled: tuple[Apart, ...] = ()
    against_click_s: float | None = None
    early: int = 0
    late: int = 0
    elsewhere: int = 0


@dataclass
class Sounded:
    """One moment as played once: its first press and every right press of it.

    Right keys that came so late that the moment was over lie in `late`, unless the note had been struck wrongly before.
    Where grace notes go before its notes it `began` with them, and is `at` the first of the notes they lean on.
    """

    moment: int
    began: float
    at: float
    presses: list[tuple[float, int]] = field(default_factory=list)
    late: list[tuple[float, int]] = field(default_factory=list)
    tried: set[int] = field(default_factory=set)
    leans: bool = False  # only grace notes so far

    @property
    def last(self) -> float:
        """When its last note sounded: of a rolled chord well after the first."""
        return self.presses[-1][0] if self.presses else self.at


def timing(
    piece: Piece, presses: Sequence[Press], marks: Sequence[Mark], click: Click | None = None, goes_on: bool = False
) -> Timing:
    """Measure a take.

    Parameters
    ----------
    piece : Piece
        Written or expected: only onsets, bars and hands are read.
    presses, marks : sequences of equal length
    click : Click, optional
    goes_on : bool
        The presses go on from others that kept to the click's bar: the first may lie far from it and is no leap.
    """
    rounds = passes(piece, presses, marks)
    # Two moments struck at one time have no tempo between them; a note under a fermata is held as long as one likes.
    held = {piece.moment_of[index] for index, note in enumerate(piece.notes) if HELD in note.signs}
    gaps = [(a, b) for played in rounds for a, b in pairwise(played) if b.at > a.at and a.moment not in held]
    onsets = [float(moment.onset) for moment in piece.moments]
    rates = [(b.at - a.at) / (onsets[b.moment] - onsets[a.moment]) for a, b in gaps]
    if not rates:
        return Timing()
    local = _local(rates)
    waits = [_hesitation(a, b, onsets, tempo) for (a, b), tempo in zip(gaps, local, strict=True)]
    steady = [abs(r / t - 1.0) for r, t, w in zip(rates, local, waits, strict=True) if w is None]
    bars = _bars(piece, gaps, waits)
    off, elsewhere = _against(click, piece, rounds, goes_on)
    together = _together(piece, rounds)
    return Timing(
        pulse_bpm=median(bpm for _, bpm in bars) if bars else None,
        bars=bars,
        steadiness=max(0.0, 1.0 - median(steady)) if steady else None,
        hesitations=_hesitations(piece, presses, marks, [(a.moment, w) for (a, _), w in zip(gaps, waits, strict=True)]),
        hands_apart=tuple(met for met in together if abs(met.seconds) > APART_S),
        hands_met=len(together),
        rolled=_rolled(piece, rounds),
        against_click_s=median(off) if off and len(off) >= elsewhere else None,
        early=sum(seconds < -0.06 for seconds in off),
        late=sum(seconds > 0.06 for seconds in off),
        elsewhere=elsewhere,
    )


def passes(piece: Piece, presses: Sequence[Press], marks: Sequence[Mark]) -> list[list[Sounded]]:
    """The moments as they were played, cut where the player went back, skipped far or left out a repeat."""
    repeats = Repeats(piece)
    found: list[list[Sounded]] = []
    current: list[Sounded] = []
    for press, mark in zip(presses, marks, strict=True):
        if mark.note is None or mark.cause in (EXTRA, REPEATED):
            continue
        moment, grace = piece.moment_of[mark.note], piece.notes[mark.note].grace
        recent = next((s for s in current[-3:] if s.moment == moment), None)
        if recent is not None:
            late = press.at - recent.last >= TOGETHER_S
            if recent.leans and not grace and not late:
                recent.at, recent.leans = press.at, False
            if mark.cause != RIGHT:
                recent.tried.add(mark.note)
            elif not late:
                recent.presses.append((press.at, mark.note))
            elif mark.note not in recent.tried:
                recent.late.append((press.at, mark.note))
            if recent is current[-1] or not late or mark.note not in (note for _, note in recent.presses):
                continue
            # A key of an earlier moment that was right once and is so again: the player has gone back.
        came = current[-1].moment if current else moment
        if current and (not 0 < moment - came <= 6 or repeats.is_left_out(came, moment)):
            found.append(current)
            current = []
        right = mark.cause == RIGHT
        struck, tried = ([(press.at, mark.note)], set()) if right else ([], {mark.note})
        current.append(Sounded(moment, press.at, press.at, struck, tried=tried, leans=grace))
    return [*found, current]


def _local(rates: Sequence[float]) -> list[float]:
    """Seconds a quarter round each gap: the median of the gaps on either side and itself."""
    return [median(rates[max(0, i - WINDOW) : i + WINDOW + 1]) for i in range(len(rates))]


def _is_wait(gap: float, due: float) -> bool:
    """Whether a gap is out of proportion to the one due, both in seconds."""
    return gap > WAIT_RATIO * due and gap - due > WAIT_S


def _hesitation(a: Sounded, b: Sounded, onsets: list[float], tempo: float) -> Hesitation | None:
    due = (onsets[b.moment] - onsets[a.moment]) * tempo
    gap = b.began - a.last
    if _is_wait(gap, due) and b.presses:
        # Both hands waited, whichever came first: told, and drawn, at the upper note.
        before, after = (max((note for _, note in one.presses), default=-1) for one in (a, b))
        return Hesitation(b.began, before if before >= 0 else after, after, gap, due)
    return None


def _hesitations(
    piece: Piece, presses: Sequence[Press], marks: Sequence[Mark], waits: Sequence[tuple[int, Hesitation | None]]
) -> tuple[Hesitation, ...]:
    """The waits that are told, of those after moments.

    Who stops, strikes the same once more and goes on in time is told that, and no wait; so is who puts a slip right.
    """
    again: list[tuple[int, float]] = []
    mended: list[tuple[int, float]] = []
    tried: set[int] = set()
    for press, mark in zip(presses, marks, strict=True):
        if mark.note is None:
            continue
        if mark.cause == REPEATED:
            again.append((piece.moment_of[mark.note], press.at))
        elif mark.cause != RIGHT:
            tried.add(mark.note)
        elif mark.note in tried:
            tried.discard(mark.note)
            mended.append((piece.moment_of[mark.note], press.at))

    def explained(here: int, wait: Hesitation) -> bool:
        begun = wait.at - wait.seconds
        struck, put_right = (
            [at for one, at in some if one == here and begun < at < wait.at] for some in (again, mended)
        )
        if struck and not _is_wait(wait.at - max(struck), wait.due):
            return True
        in_time = put_right and not _is_wait(wait.at - max(put_right), wait.due)
        return bool(in_time) and not _is_wait(min(put_right) - begun, wait.due)

    return tuple(wait for here, wait in waits if wait is not None and not explained(here, wait))


def _bars(
    piece: Piece, gaps: list[tuple[Sounded, Sounded]], waits: list[Hesitation | None]
) -> tuple[tuple[int, float], ...]:
    """Felt beats a minute of each bar as played, hesitations left out."""
    found: list[list[float]] = []
    for (a, b), wait in zip(gaps, waits, strict=True):
        onset = piece.moments[a.moment].onset
        index = piece.bar_index(onset)
        if not found or found[-1][0] != index:
            found.append([index, 0.0, 0.0])
        if wait is None:
            found[-1][1] += b.at - a.at
            found[-1][2] += float((piece.moments[b.moment].onset - onset) / piece.bars[index].beat_quarters)
    return tuple((int(index), 60.0 * beats / seconds) for index, seconds, beats in found if seconds > 0.0)


def _together(piece: Piece, rounds: list[list[Sounded]]) -> list[Apart]:
    """How far apart the hands were, wherever both struck.

    Grace notes go before the beat and do not count, nor what an ornament may begin with another note than its own.
    """
    met = []
    for sounded in (s for played in rounds for s in played):
        first: dict[str, float] = {}
        for at, number in (*sounded.presses, *sounded.late):
            note = piece.notes[number]
            if not note.grace and not note.ornament:
                first[note.hand] = min(at, first.get(note.hand, at))
        if len(first) == 2:
            met.append(Apart((*sounded.presses, *sounded.late)[0][1], first[RIGHT_HAND] - first[LEFT]))
    return met


def _rolled(piece: Piece, rounds: list[list[Sounded]]) -> tuple[Apart, ...]:
    rolled = []
    for sounded in (s for played in rounds for s in played):
        for hand in (RIGHT_HAND, LEFT):
            chord = [(at, note) for at, note in sounded.presses if piece.notes[note].hand == hand]
            pitches = [piece.notes[note].midi for _, note in chord]
            written = any(piece.notes[note].ornament == "arpeggio" or piece.notes[note].grace for _, note in chord)
            if written or len(chord) < 3 or chord[-1][0] - chord[0][0] <= ROLLED_S:
                continue
            if pitches in (sorted(pitches), sorted(pitches, reverse=True)):
                rolled.append(Apart(chord[0][1], chord[-1][0] - chord[0][0]))
    return tuple(rolled)


def _against(click: Click | None, piece: Piece, rounds: list[list[Sounded]], goes_on: bool) -> tuple[list[float], int]:
    """Seconds each moment came after its click (before it: negative), and how many were in another bar than it.

    Half a bar as the most of one moment to the next is ours.
    """
    if click is None:
        return [], 0
    quarter = 60.0 / click.tempo
    # The usual bar: an upbeat or a bar cut in two is no measure.
    bar = float(median(bar.length for bar in piece.bars)) * quarter
    moments = [s for played in rounds for s in played]
    due = [click.start + float(piece.moments[s.moment].onset) * quarter for s in moments]
    # Grace notes go before the beat or begin on it: both are in time.
    off = [min(s.began - at, s.at - at, key=abs) for s, at in zip(moments, due, strict=True)]
    near, with_it, before = [], True, off[0] if off and goes_on else 0.0
    for seconds in off:
        # Who falls back or hurries little by little is still at the click's bar, however far; who leaps is not.
        with_it = abs(seconds) <= bar or (with_it and abs(seconds - before) <= bar / 2)
        before = seconds
        if with_it:
            near.append(seconds)
    return near, len(off) - len(near)
