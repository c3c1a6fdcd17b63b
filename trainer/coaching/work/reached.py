"""Which takes count for set work in one key, and what kept from counting one that was right enough."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Protocol

from trainer.music.keys import Key
from trainer.music.solfege import HELPS

# A pulse this little under the asked tempo still counts (ours; about what a metronome mark leaves open).
TEMPO_SLACK = 0.95
_SHOWN = {"all": "with all syllables shown", "bars": "with syllables once a bar", "do": "with do shown"}


class Terms(Protocol):
    """What is asked of a take (`assignments.Assignment` has it)."""

    @property
    def goal(self) -> float: ...
    @property
    def times(self) -> int: ...
    @property
    def tempo(self) -> float | None: ...
    @property
    def help(self) -> str: ...


class Taken(Protocol):
    """What progress asks of a take in the journal (`journal.values.TakeRow` has it)."""

    @property
    def title(self) -> str: ...
    @property
    def target(self) -> str: ...
    @property
    def hands(self) -> str: ...
    @property
    def help(self) -> str: ...
    @property
    def glimpsed(self) -> bool: ...
    @property
    def pulse(self) -> float | None: ...
    @property
    def accuracy(self) -> float | None: ...
    @property
    def is_most(self) -> bool: ...
    @property
    def began(self) -> datetime: ...


@dataclass(frozen=True)
class InKey:
    """How far one key of an assignment is: takes that counted, takes that reached the goal, the best, when reached.

    `held` says of the latest take that was right enough and does not count why not; empty where there is none since
    the last one that counts.
    """

    key: Key
    tried: int
    reached: int
    best: float | None
    done: date | None
    held: str = ""

    @property
    def detail(self) -> str:
        """What there is to say of a key that is not done: ``97% right, but with all syllables shown``, ``best 84%``."""
        if self.done is not None or self.best is None:
            return ""
        return self.held or f"best {self.best:.0%}"


def in_key(one: Terms, takes: list[Taken], key: Key) -> InKey:
    """How far a key is, from a player's takes of the piece, in their order."""
    there = [t for t in takes if _sounds(t.target) == (key.mode, key.tonic.pitch_class)]
    why = [_wanting(one, t) for t in there]
    good = [t for t, said in zip(there, why, strict=True) if not said]
    best = max((t.accuracy for t in there if t.accuracy is not None), default=None)
    done = good[one.times - 1].began.date() if len(good) >= one.times else None
    held = ""
    for t, said in zip(there, why, strict=True):
        if (t.accuracy or 0.0) >= one.goal:
            held = f"{t.accuracy:.0%} right, but {said}" if said else ""
    return InKey(key, len(there), len(good), best, done, held)


@lru_cache(maxsize=256)
def _sounds(short: str) -> tuple[str, int]:
    key = Key.parse(short)
    return key.mode, key.tonic.pitch_class


def _wanting(one: Terms, take: Taken) -> str:
    """What a take wants for counting: to be most of the piece, accurate, fast enough, with no more help than allowed.

    A look at the transposed page is all the help. Empty where it counts.
    """
    if not take.is_most:
        return "not the whole piece"
    if (take.accuracy or 0.0) < one.goal:
        return "not right enough"
    if one.tempo is not None and (take.pulse or 0.0) < one.tempo * TEMPO_SLACK:
        return f"at {take.pulse:.0f}, not {one.tempo:g}" if take.pulse else "in no tempo"
    shown = HELPS[0] if take.glimpsed else take.help
    if HELPS.index(shown) < HELPS.index(one.help):
        return "with a look at the transposed page" if take.glimpsed else _SHOWN[shown]
    return ""
