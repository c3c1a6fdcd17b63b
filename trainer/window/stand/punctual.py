"""Early and late against the click, in words."""

from __future__ import annotations

from trainer.following.timing import Timing
from trainer.window.strings import say

# So near the click nobody is told to be early or late (ours; listeners part two onsets from 20 to 30 ms on).
_WITH_S = 0.015
# From here on seconds say it better than milliseconds, and early and late need no counting (ours).
_FAR_S = 1.0


def middle(timing: Timing) -> str:
    """Where the take lay on the whole; empty without a click."""
    off = timing.against_click_s
    if off is None:
        return say("click.elsewhere") if timing.elsewhere else ""
    if abs(off) <= _WITH_S:
        return say("click.with")
    far = abs(off) >= _FAR_S
    said = say("click.s", seconds=f"{abs(off):.1f}") if far else say("click.ms", ms=round(abs(off) * 1000))
    return say("click.early" if off < 0 else "click.late", off=said)


def counted(timing: Timing) -> str:
    """The same, and how many moments were early, late and in another bar than the click; empty without a click."""
    said, off = middle(timing), timing.against_click_s
    if off is None:
        return said
    if abs(off) < _FAR_S and (timing.early or timing.late):
        said = say("click.counts", middle=said, early=timing.early, late=timing.late)
    return say("click.counts.elsewhere", said=said, count=timing.elsewhere) if timing.elsewhere else said
