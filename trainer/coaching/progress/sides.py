"""Which of two sides is the harder one for a player: a hand, a mode, flats or sharps; what a teacher would notice.

A side is told only where it cannot well be chance (the 95 % band of the difference lies wholly on one side of nothing)
and the difference is large enough to matter in a lesson.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from trainer.journal.bands import difference_band
from trainer.journal.reading import Reading
from trainer.journal.summary import Stretch, by_facet, by_key
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT

# Four weeks are looked at, as they are for what changed.
SIDES_DAYS = 28
# Of a hundred notes, so many more wrong ones are worth a word (ours).
_WORTH = 0.04
# Fewer notes on a side say nothing: those of one take that went wrong went wrong together (ours).
_FEWEST = 100
_HAND, _MODE, _SIGNS = "hand", "mode", "signs"


@dataclass(frozen=True, slots=True)
class Side:
    """The harder of two sides.

    Parameters
    ----------
    what : str
        ``hand``, ``mode`` or ``signs``.
    harder, other : str
        In words: ``the left hand``, ``minor keys``.
    right, right_other : float
        Shares of notes right, 0 to 1.
    """

    what: str
    harder: str
    other: str
    right: float
    right_other: float

    @property
    def sentence(self) -> str:
        """``the left hand is harder: 86% right, the right hand 95%``."""
        verb = "is" if self.what == _HAND else "are"
        return f"{self.harder} {verb} harder: {self.right:.0%} right, {self.other} {self.right_other:.0%}"

    @property
    def work(self) -> str:
        """What may help, in a sentence (common practice, no source)."""
        if self.what == _HAND:
            return f"{self.harder[0].upper()}{self.harder[1:]} by itself first, in every key."
        if self.what == _MODE:
            return f"A tune in {self.harder.removesuffix(' keys')} each day, its five fingers first."
        return f"The five fingers of each {self.harder.removesuffix('s')} before its tune."

    @property
    def work_alone(self) -> str:
        """The same where each hand is played by itself already."""
        return self.work.replace("by itself first", "slower")


def sides(journal: Reading, player: str, since: date) -> list[Side]:
    """The harder sides since a day, the widest difference first."""
    hands = {row.value: (row.right, row.n) for row in by_facet(journal, player, "hand", since)}
    keys = [(Key.parse(short), stretch) for short, stretch in by_key(journal, player, since).items()]
    pairs = (
        (_HAND, "the left hand", hands.get(LEFT), "the right hand", hands.get(RIGHT)),
        (_MODE, "minor keys", _sum(s for k, s in keys if k.is_minor),
         "major keys", _sum(s for k, s in keys if not k.is_minor)),
        (_SIGNS, "flat keys", _sum(s for k, s in keys if k.signature < 0),
         "sharp keys", _sum(s for k, s in keys if k.signature > 0)),
    )  # fmt: skip
    found = []
    for what, one, here, other, there in pairs:
        if here is None or there is None or min(here[1], there[1]) < _FEWEST:
            continue
        a, b = here[0] / here[1], there[0] / there[1]
        low, high = difference_band(*here, *there)
        if b - a >= _WORTH and low > 0:
            found.append(Side(what, one, other, a, b))
        elif a - b >= _WORTH and high < 0:
            found.append(Side(what, other, one, b, a))
    return sorted(found, key=lambda side: side.right - side.right_other)


def _sum(stretches: Iterable[Stretch]) -> tuple[int, int]:
    """Notes right, and all."""
    listed = list(stretches)
    return sum(one.right for one in listed), sum(one.played + one.missed for one in listed)
