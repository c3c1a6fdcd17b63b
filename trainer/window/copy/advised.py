"""A piece of advice, and what all advice is made with."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.session import A_TEMPO
from trainer.window.copy.finished import Finished
from trainer.window.strings import say
from trainer.window.wish import Wish

# Steps of the metronome (ours).
_SLOWER = 4
# Notes of one cause that are more than chance (ours).
OFTEN = 3


@dataclass(frozen=True)
class Advice:
    """One sentence, what its button says to play, and how much it matters.

    Parameters
    ----------
    pattern : str
        A kind of pattern to play in the target key first, instead of the wish's piece; empty for none.
    """

    words: str
    wish: Wish
    weight: float
    pattern: str = ""


def often(count: int) -> str:
    """How often, in words: once, twice, 3 times."""
    return say(("copy.once", "copy.twice")[count - 1]) if count <= 2 else say("copy.often", count=count)


def slower(take: Finished) -> Wish:
    """The same with the click, some steps of the metronome slower than it was played, and than the tempo on the Stand.

    Without a click that tempo says nothing of how fast it went; and where the metronome has no slower step, it is
    better left out.
    """
    wish, pulse = take.wish, take.timing.pulse_bpm
    if wish.mode == A_TEMPO or pulse is None:
        return replace(wish.stepped_tempo(-_SLOWER), mode=A_TEMPO)
    timed = replace(wish, tempo=min(wish.tempo, pulse)).stepped_tempo(-_SLOWER)
    return replace(timed, mode=A_TEMPO) if timed.tempo < pulse else wish
