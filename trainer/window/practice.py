"""The take in hand: what was asked for, and what has been played of it. Knows nothing of drawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from trainer.following.marks import RIGHT, Mark, Move, Settled
from trainer.following.outside import CHORD_S, TELLING, is_other_music
from trainer.following.timing import Click, Timing, timing
from trainer.hands.keyboard import ANY, Compass
from trainer.listening.clock import now
from trainer.listening.press import Event, Pedal, Press
from trainer.music.piece import BOTH, Piece
from trainer.music.solfege import LA_BASED
from trainer.session import PRIMA_VISTA, SENZA_MISURA, Record, Session
from trainer.window.wish import Wish, written_tempo

# Fewer presses are a stray key and no take, unless they are all there is to play (ours).
FEWEST = 4
# While a take is played its pulse is that of so many presses, so that the work does not grow with the take.
LATELY = 64
READY, LOOKING, COUNTING, PLAYING, ENDED = "ready", "looking", "counting", "playing", "ended"


class Practice:
    """A wish and its take in hand.

    Parameters
    ----------
    wish : Wish
    minor : str
        Syllables in minor.
    record : callable
        Makes the record of a new take, or gives None.
    compass : (float, float)
        The lowest and the highest key of the player's keyboard.
    """

    def __init__(
        self,
        wish: Wish,
        minor: str = LA_BASED,
        record: Callable[[Piece, Wish], Record | None] | None = None,
        compass: Compass = ANY,
    ) -> None:
        self.wish = wish
        self.minor = minor
        self.compass = compass
        self.make_record = record
        # How far down each pedal is, from take to take.
        self.pedals: dict[str, int] = {}
        self._fresh()

    def _fresh(self) -> None:
        """Nothing played yet."""
        self.phase = READY
        self.marks: list[Mark] = []
        self.right = 0
        self.presses: list[Press] = []
        self.events: list[Event] = []
        self.glimpsed = False
        self.began: float | None = None
        self.last_at: float | None = None
        # When onset 0 is due for this player, on the clock the presses come with; None without a click.
        self.clicked: float | None = None
        self._after: int | None = None  # how many presses there were when all had been played
        # Where the page lies until a key is struck.
        self.waits_at = self.wish.begins if self.wish.loop is None else 0
        self.timing = Timing()
        self._timed = 0
        piece = self.wish.piece
        if self.wish.loop is not None:
            piece = piece.with_notes(piece.notes[i] for i in self.wish.part)
        self._piece = piece
        # What was said of all of it in the middle of the take: another key, a piano that transposes.
        self.elsewhere = ""
        self.record = self.make_record(piece, self.wish) if self.make_record else None
        self._session: Session | None = None

    @property
    def session(self) -> Session:
        """The take itself, made when it is first needed (about 10 ms for two pages)."""
        if self._session is None:
            wish = self.wish
            self._session = Session(
                self._piece, wish.plan, hands=wish.hands, compass=self.compass, minor=self.minor, begins=self.waits_at,
                record=self.record,
            )  # fmt: skip
        return self._session

    def wait_at(self, place: int) -> None:
        """Let the page of a take that has not begun lie at a moment in the middle."""
        self.waits_at, self._session = place, None

    def played_on(self, compass: Compass) -> None:
        """Another keyboard may have been chosen; a take that has begun keeps its own."""
        if compass != self.compass and not self.presses:
            self.compass, self._session = compass, None

    def prepare(self) -> bool:
        """Make the take ready before the first key is struck; False when it was."""
        return self._session is None and self.session is not None

    @property
    def place(self) -> int:
        """Index in the whole piece's moments of what is to be played next; past the last when all was, but a loop."""
        place = self._session.place if self._session is not None else self.waits_at
        moments = self._piece.moments
        if self.wish.loop is None:
            return place
        if not moments:
            return 0
        return self.wish.piece.moment_of[self.wish.part[moments[place % len(moments)].notes[0]]]

    @property
    def finished(self) -> bool:
        """Whether everything there is to play has been played; a closing chord after it begins nothing anew."""
        done = bool(self.presses) and self.session.place >= len(self._piece.moments)
        if done or self._after is None or self.wish.loop is not None:
            return done
        return self.presses[-1].at - self.presses[self._after].at <= CHORD_S

    def goes_round(self, press: Press) -> bool:
        """Whether a press begins the next round of a loop in senza misura, rather than end this one."""
        wish = self.wish
        if wish.loop is None or wish.mode != SENZA_MISURA or self.phase != PLAYING or not self.finished:
            return False
        notes = wish.expected.notes
        lowest, highest = self.compass
        asked = [
            note for note in wish.part
            if wish.hands in (BOTH, notes[note].hand) and lowest <= notes[note].midi <= highest
        ]  # fmt: skip
        opening = {notes[note].midi for note in asked if notes[note].onset == notes[asked[0]].onset}
        right = {mark.note for mark in self.marks if mark.cause == RIGHT}
        owed = {notes[note].midi for note in asked if notes[note].onset == notes[asked[-1]].onset and note not in right}
        return press.pitch in opening - owed

    @property
    def stray(self) -> bool:
        """Whether what was played is no take and will not be kept: too little, or, where nobody was counted in, nothing
        of the piece; at sight every take counts.
        """
        if self.wish.mode == PRIMA_VISTA or self.settled is not None or not self.presses:
            return False
        if len(self.presses) >= FEWEST:
            # A few keys may be the middle of the piece, begun badly; of a take a quarter right there is no doubt.
            doubtful = len(self.presses) >= max(TELLING, 4 * self.right + 1) and self.wish.mode == SENZA_MISURA
            return doubtful and is_other_music(self._piece, self.session.so_far(), asked_for=True)
        asked = sum(self.wish.hands in (BOTH, note.hand) for note in self._piece.notes)
        return len(self.presses) < asked

    def hear(self, event: Event) -> Mark | None:
        """One event on the house's clock; gives the mark of a press, its note counted in the whole piece."""
        if isinstance(event, Pedal):
            self.pedals[event.pedal] = event.value
        if isinstance(event, Press) and self.began is None:
            self.began = event.at
            for pedal in [Pedal(event.at, name, value) for name, value in self.pedals.items() if value]:
                self.hear(pedal)
        if self.began is None or self.phase == ENDED:
            return None
        if isinstance(event, Press):
            self.last_at = now()
            if self.phase == READY:
                self.phase = PLAYING
        moved = replace(event, at=event.at - self.began)
        self.events.append(moved)
        said = self.session.hear(moved)
        if said is None or not isinstance(moved, Press):
            return None
        mark = self.whole(said)
        self.marks.append(mark)
        self.right += mark.cause == RIGHT
        self.presses.append(moved)
        if self._after is None and self.finished:
            self._after = len(self.presses)
        return mark

    def whole(self, mark: Mark) -> Mark:
        """A mark of the session with its note counted in the whole piece."""
        if mark.note is None or self.wish.loop is None:
            return mark
        return replace(mark, note=self.wish.part[mark.note])

    def whole_moves(self, moves: Sequence[Move]) -> list[Move]:
        """Moves of the session, their notes counted in the whole piece."""
        return [replace(move, origin=self.wish.part[move.origin], goal=self.wish.part[move.goal]) for move in moves]

    def whole_missed(self, settled: Settled) -> list[int]:
        return [self.wish.part[note] for note in settled.missed]

    def words(self, mark_index: int, letters: str) -> str:
        """What a teacher says of the mark at that place, at the end of a take for good."""
        settled = self.session.settled
        return self.session.words((settled.marks if settled is not None else self.session.marks)[mark_index], letters)

    @classmethod
    def of(cls, session: Session, mode: str = SENZA_MISURA) -> Practice:
        """A take played elsewhere, to be looked at."""
        wish = Wish(session.written, session.plan, session.hands, mode, written_tempo(session.written))
        practice = cls(wish, session.minor, compass=session.compass)
        practice._session = session
        practice.marks, practice.presses = list(session.marks), list(session.presses)
        practice.right = session.right if session.summary is None else session.summary.right
        practice.events = list(session.presses)
        practice.phase = ENDED if session.settled is not None else PLAYING if session.presses else READY
        practice.measure()
        return practice

    @property
    def settled(self) -> Settled | None:
        return self._session.settled if self._session is not None else None

    @property
    def within(self) -> slice:
        """Where the presses that count stand: at the end those of the piece alone."""
        return self.settled.within if self.settled is not None else slice(None)

    def measure(self) -> Timing:
        """Pulse and steadiness lately, of a take at its end the whole; worked out again only after new presses."""
        if len(self.presses) != self._timed:
            self._timed = len(self.presses)
            lately = 0 if self.phase == ENDED else max(0, len(self.presses) - LATELY)
            session, kept = self.session, lately > 0 and not self.timing.elsewhere
            self.timing = timing(self._piece, session.presses[lately:], session.marks[lately:], self._click, kept)
        return self.timing

    @property
    def _click(self) -> Click | None:
        """The click of this take, counted from its first press; none where the tempo is written to change."""
        if self.clicked is None or self.began is None or len(self.wish.piece.tempi) > 1:
            return None
        return Click(self.clicked - self.began, self.wish.quarters)

    def finish(self) -> None:
        """End the take in hand; a stray key leaves nothing behind."""
        if self.stray:
            if self.record is not None:
                self.record.discard()
        elif self.presses:
            self.session.click = self._click
            settled = self.session.finish()
            self.marks = [self.whole(mark) for mark in settled.marks]
            self.right = sum(mark.cause == RIGHT for mark in settled.counted)
            self.timing = self.session.timing or self.timing
        self.phase = ENDED

    def again(self) -> None:
        """End the take in hand and be ready for another of the same wish."""
        self.finish()
        self._fresh()
