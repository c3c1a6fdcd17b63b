"""What is to be practised: a piece in a key, with which hands, how and how fast, which bars."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from trainer.following.reach import MOST
from trainer.hands.position import five_finger
from trainer.journal.values import PIECE
from trainer.music.compass import OPEN, level
from trainer.music.piece import BOTH, Piece
from trainer.music.solfege import do_of
from trainer.music.transpose import Transposition, transposed
from trainer.session import SENZA_MISURA
from trainer.sounding.tempo import FASTEST, SLOWEST
from trainer.window.tempi import TEMPO_STEPS, felt_tempo


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

    def begun_at(self, bar: int) -> Wish:
        """The same begun at another bar, as long as it was where it is a loop; what does not change by that is not
        worked out again: a long song costs 0.1 s, which would be waited for at every bar stepped over.
        """
        if self.loop is None:
            moved = replace(self, start=bar)
        else:
            moved = replace(self, loop=(bar, bar + self.loop[1] - self.loop[0]))
        lasting = ("expected", "ends", "lying", "leaves_position", "fingers", "level")
        moved.__dict__.update({name: self.__dict__[name] for name in lasting if name in self.__dict__})
        return moved

    def stepped_tempo(self, by: int) -> Wish:
        """Metronome steps faster or slower, as far as the click goes."""
        steps = [step for step in TEMPO_STEPS if SLOWEST <= step * self.beat <= FASTEST]
        at = min(range(len(steps)), key=lambda i: abs(steps[i] - self.tempo))
        return replace(self, tempo=float(steps[max(0, min(len(steps) - 1, at + by))]))


def written_tempo(piece: Piece) -> float:
    """The piece's own tempo in felt beats a minute, on a metronome step."""
    return felt_tempo(piece, piece.tempo)
