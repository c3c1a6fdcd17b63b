"""One take: presses in, marks out. The only place where the rooms meet.

A take begins with the first key press and ends with `Session.finish`. The window, a replayed take and the ``mark``
command all enter by `Session.hear`, so they give the same marks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

from trainer.following.follower import Follower
from trainer.following.marks import RIGHT, Mark, Move, Settled
from trainer.following.reach import reach
from trainer.following.stretches import double_of
from trainer.following.timing import Click, Timing, timing
from trainer.following.words import say, say_doubled
from trainer.hands.keyboard import ANY, Compass
from trainer.journal.values import KeptTake
from trainer.listening.press import Event, Press
from trainer.music.names import ENGLISH
from trainer.music.piece import BOTH, Piece
from trainer.music.solfege import LA_BASED
from trainer.music.transpose import Transposition, transposed

SENZA_MISURA = "senza misura"
A_TEMPO = "a tempo"
PRIMA_VISTA = "prima vista"
MODES = (SENZA_MISURA, A_TEMPO, PRIMA_VISTA)


@dataclass(frozen=True, slots=True)
class Summary:
    """A take in figures.

    Parameters
    ----------
    right : int
        Presses whose final cause is ``right``.
    played : int
        Presses. Neither here nor elsewhere in the figures are those of a false start or of other music after the end.
    written : int
        Notes to be played by the hands asked for; what is optional (ornaments, grace notes) does not count, nor what
        the player's keyboard has no key for.
    accuracy : float
        Right presses over presses and notes left out, 0-1: a note played right counts for, a slip and a note
        left out count against. In words it is said by `trainer.following.marks.right_of`.
    pulse_bpm : float or None
        Median pulse in felt beats a minute; None when too little was played to tell.
    seconds : float
        From the first press to the last.
    share : float or None
        How far it went, as `trainer.following.reach.Reach.share` tells it; None where that was not looked at.
    """

    right: int
    played: int
    written: int
    accuracy: float
    pulse_bpm: float | None
    seconds: float
    share: float | None = None


class Record(Protocol):
    """Where a take is written as it happens: `trainer.journal` keeps one, tests may keep another."""

    def press(self, press: Press, mark: Mark) -> None: ...
    def other(self, event: Event) -> None: ...
    def finish(self, settled: Settled, summary: Summary, timing: Timing) -> None: ...
    def discard(self) -> None: ...


def summarise(
    expected: Piece, hands: str, compass: Compass, presses: list[Press], settled: Settled, pulse: float | None
) -> Summary:
    """The figures of a settled take; see `Summary` for what each means."""
    presses = presses[settled.within]
    right = sum(1 for mark in settled.counted if mark.cause == RIGHT)
    against = len(presses) + len(settled.missed)
    written = sum(_has_key(expected, hands, compass))
    seconds = presses[-1].at - presses[0].at if presses else 0.0
    return Summary(right, len(presses), written, right / against if against else 0.0, pulse, seconds)


def _has_key(expected: Piece, hands: str, compass: Compass) -> list[bool]:
    """Of each note asked for, whether the player's keyboard has a key for it."""
    lowest, highest = compass
    asked = (note for note in expected.notes if not note.optional and hands in (BOTH, note.hand))
    return [lowest <= note.midi <= highest for note in asked]


class Session:
    """One take of a piece in a key.

    Parameters
    ----------
    piece : Piece
        As written.
    plan : Transposition
    hands : str
        ``both``, ``right`` or ``left``: the notes asked for.
    compass : (float, float)
        The lowest and the highest key of the player's keyboard: a note beyond is not left out when it is not played.
    minor : str
        Syllables in minor: ``la`` or ``do`` based.
    begins : int
        The moment at which the page lies when the take begins.
    record : Record, optional
        Written to before a mark is handed out.
    """

    def __init__(
        self,
        piece: Piece,
        plan: Transposition,
        *,
        hands: str = BOTH,
        compass: Compass = ANY,
        minor: str = LA_BASED,
        begins: int = 0,
        record: Record | None = None,
    ) -> None:
        self.written = piece
        self.plan = plan
        self.expected = transposed(piece, plan.interval)
        self.hands = hands
        self.compass = compass
        self.minor = minor
        self.presses: list[Press] = []
        self.marks: list[Mark] = []
        self.settled: Settled | None = None
        self.summary: Summary | None = None
        self.timing: Timing | None = None
        # What the player was asked to keep to, on the clock of the presses; told before the take ends.
        self.click: Click | None = None
        self._record = record
        self._follower = Follower(piece, self.expected, hands=hands, compass=compass, begins=begins)

    @property
    def place(self) -> int:
        """Index in ``written.moments`` of what is to be played next."""
        return self._follower.place

    @property
    def moves(self) -> list[Move]:
        """Going back, skipping and hesitating, as seen so far."""
        return self._follower.moves_so_far

    @property
    def beyond(self) -> int:
        """Notes of the hands asked for that the player's keyboard has no key for."""
        return _has_key(self.expected, self.hands, self.compass).count(False)

    @property
    def right(self) -> int:
        """Presses marked right so far."""
        return sum(1 for mark in self.marks if mark.cause == RIGHT)

    def hear(self, event: Event) -> Mark | None:
        """Take one event; a key press is answered by its first verdict, anything else by None."""
        if not isinstance(event, Press):
            if self._record is not None:
                self._record.other(event)
            return None
        mark = self._follower.hear(event)
        if self._record is not None:
            self._record.press(event, mark)
        self.presses.append(event)
        self.marks.append(mark)
        return mark

    @property
    def whole(self) -> Settled:
        """What is true of the whole take, to tell its marks by; in the middle of it what seems to be, and no marks."""
        return self.settled or Settled((), (), (), self._follower.found)

    def words(self, mark: Mark, letters: str = ENGLISH) -> str:
        """What a teacher would say of a mark, naming notes as players of that language do.

        In a take that lies elsewhere as a whole it is told from there.
        """
        whole, pressed = self.whole, self.presses[mark.press].pitch
        heard = self._follower.heard(whole.findings)
        twice = double_of(self.presses, whole.marks or self.marks, mark.press)
        if twice is not None:
            return say_doubled(twice, self.written, heard, minor=self.minor, language=letters)
        return say(whole.as_told(mark), self.written, heard, minor=self.minor, language=letters, pressed=pressed)

    def so_far(self) -> Settled:
        """The final verdicts as they would be if the take ended now."""
        return self._follower.settle()

    def finish(self) -> Settled:
        """End the take: final verdicts, timing and figures, written to the record. A second call changes nothing."""
        if self.settled is None:
            self.settled = self.so_far()
            within = self.settled.within
            self.timing = timing(self.written, self.presses[within], self.settled.counted, self.click)
            pulse = self.timing.pulse_bpm
            summary = summarise(self.expected, self.hands, self.compass, self.presses, self.settled, pulse)
            far = reach(self.written, self.plan, self.hands, self.settled, self.compass)
            self.summary = replace(summary, share=far.share if far is not None else 0.0)
            if self._record is not None:
                self._record.finish(self.settled, self.summary, self.timing)
        return self.settled


def heard_again(kept: KeptTake, compass: Compass = ANY) -> Session:
    """A take out of the journal, heard once more from its events and ended: what a take cut off is marked by."""
    session = Session(kept.piece, kept.plan, hands=kept.row.hands, compass=compass)
    for event in kept.events:
        session.hear(event)
    session.finish()
    return session
