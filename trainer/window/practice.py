"""What is being practised: a piece in a key, a way of playing it, and the take in hand. Knows nothing of drawing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from trainer.following.marks import RIGHT, Mark, Move, Settled
from trainer.following.outside import CHORD_S, TELLING, is_other_music
from trainer.following.reach import MOST
from trainer.following.timing import Click, Timing, timing
from trainer.hands.keyboard import ANY, Compass
from trainer.hands.position import five_finger
from trainer.journal.values import PIECE
from trainer.listening.clock import now
from trainer.listening.press import Event, Pedal, Press
from trainer.music.compass import OPEN, level
from trainer.music.piece import BOTH, Piece
from trainer.music.solfege import LA_BASED, do_of
from trainer.music.transpose import Transposition, transposed
from trainer.session import PRIMA_VISTA, SENZA_MISURA, Record, Session
from trainer.sounding.tempo import FASTEST, SLOWEST
from trainer.window.tempi import TEMPO_STEPS, felt_tempo

# Fewer presses are a stray key and no take, unless they are all there is to play (ours).
FEWEST = 4
# While a take is played its pulse is that of so many presses, so that the work does not grow with the take.
LATELY = 64
READY, LOOKING, COUNTING, PLAYING, ENDED = "ready", "looking", "counting", "playing", "ended"


@dataclass(frozen=True)
class Wish:
    """What the player asked for.

    Parameters
    ----------
    piece : Piece
        As written.
    plan : Transposition
    hands, mode : str
    tempo : float
        Felt beats a minute.
    loop : (int, int) or None
        Indices of the first and last bar.
    name : str
        Where the piece came from.
    kind : str
        What it is played for: ``piece``, or ``pattern`` for a pattern or a step of a warm-up, which open no key.
    start : int
        Index of the bar it is begun at; a loop has its own.
    """

    piece: Piece
    plan: Transposition
    hands: str = BOTH
    mode: str = SENZA_MISURA
    tempo: float = 72.0
    loop: tuple[int, int] | None = None
    name: str = ""
    kind: str = PIECE
    start: int = 0

    @cached_property
    def expected(self) -> Piece:
        return transposed(self.piece, self.plan.interval)

    @cached_property
    def ends(self) -> tuple[int, ...]:
        """The lowest and the highest key asked for; none where there is no note."""
        keys = [note.midi for note in self.expected.notes if self.hands in (BOTH, note.hand)]
        return (min(keys), max(keys)) if keys else ()

    @cached_property
    def part(self) -> tuple[int, ...]:
        """Indices of the notes inside the loop; all without one."""
        if self.loop is None:
            return tuple(range(len(self.piece.notes)))
        first, last = self.loop
        return tuple(i for i, n in enumerate(self.piece.notes) if first <= self.piece.bar_index(n.onset) <= last)

    @cached_property
    def is_part(self) -> bool:
        """Whether the loop holds less than most of the notes asked for, each counted once that a repeat has again."""
        notes = self.piece.notes
        asked = {note.id for note in notes if self.hands in (BOTH, note.hand)}
        return self.loop is not None and len(asked & {notes[at].id for at in self.part}) < MOST * len(asked)

    @property
    def bars(self) -> tuple[int, int] | None:
        """Indices of the first and the last bar to be played; None for the whole piece."""
        return (self.start, len(self.piece.bars) - 1) if self.loop is None and self.start else self.loop

    @cached_property
    def begins(self) -> int:
        """The moment it is begun with: the first from the bar of the start on that holds a note asked for."""
        notes, moments = self.piece.notes, enumerate(self.piece.moments if self.bars else ())
        ahead = ((at, one) for at, one in moments if one.onset >= self.span[0])
        asked = (at for at, one in ahead if any(self.hands in (BOTH, notes[note].hand) for note in one.notes))
        return next(asked, 0)

    @cached_property
    def span(self) -> tuple[Fraction, Fraction]:
        """Onsets between which is played."""
        if self.bars is None:
            return Fraction(0), self.piece.length
        first, last = (self.piece.bars[at] for at in self.bars)
        return first.onset, last.onset + last.length

    @cached_property
    def level(self) -> str:
        return level(self.piece)

    @cached_property
    def lying(self) -> tuple[Mapping[int, int], ...]:
        """Keys and fingers of each hand asked for: those it stays on, else the five of the key."""
        from trainer.hands.fingering import five_keys

        asked = [hand for hand in self.piece.hands if self.hands in (BOTH, hand)]
        return tuple(five_keys(self.expected, hand) or self._of_key(hand) for hand in asked)

    @cached_property
    def leaves_position(self) -> bool:
        """Whether a hand asked for does not stay on five keys, so that only the five of the key can be shown."""
        from trainer.hands.fingering import five_keys

        return any(self.hands in (BOTH, hand) and five_keys(self.expected, hand) is None for hand in self.piece.hands)

    def _of_key(self, hand: str) -> Mapping[int, int]:
        """The five-finger position of a hand, in the octave where most of its notes lie."""
        notes = [note.midi for note in self.expected.notes if note.hand == hand]
        choices = [five_finger(self.plan.target, hand, octave) for octave in range(1, 7)]
        ends = [(one.midi[0], one.midi[-1]) for one in choices]
        held = [sum(low <= midi <= high for midi in notes) for low, high in ends]
        chosen = choices[held.index(max(held))]
        return dict(zip(chosen.midi, chosen.fingers, strict=True))

    @cached_property
    def fingers(self) -> dict[int, int]:
        """Keys and fingers of the positions; none for music that travels."""
        return {} if self.level == OPEN else {midi: number for one in self.lying for midi, number in one.items()}

    def do_keys(self, minor: str) -> frozenset[int]:
        """Keys that are do, about as far as the piece reaches."""
        do = do_of(self.plan.target, minor).midi % 12
        low, high = self.ends or (60, 72)
        return frozenset(midi for midi in range(low - 2, high + 3) if midi % 12 == do)

    @property
    def quarters(self) -> float:
        """The asked tempo in quarters a minute."""
        return self.tempo * float(self.beat)

    @property
    def beat(self) -> Fraction:
        """The felt beat in quarters."""
        return self.piece.bars[0].beat_quarters if self.piece.bars else Fraction(1)

    def stepped_tempo(self, by: int) -> Wish:
        """Metronome steps faster or slower, as far as the click goes."""
        steps = [step for step in TEMPO_STEPS if SLOWEST <= step * self.beat <= FASTEST]
        at = min(range(len(steps)), key=lambda i: abs(steps[i] - self.tempo))
        return replace(self, tempo=float(steps[max(0, min(len(steps) - 1, at + by))]))


def written_tempo(piece: Piece) -> float:
    """The piece's own tempo in felt beats a minute, on a metronome step."""
    return felt_tempo(piece, piece.tempo)


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
