"""Early and late against the click, in words."""

from __future__ import annotations

from trainer.following.timing import Timing
from trainer.window.strings import say

# So near the click nobody is told to be early or late (ours; listeners part two onsets from 20 to 30 ms on).
_WITH_S = 0.015


def middle(timing: Timing) -> str:
    """Where the take lay on the whole; empty without a click."""
    off = timing.against_click_s
    if off is None:
        return ""
    if abs(off) <= _WITH_S:
        return say("click.with")
    return say("click.early" if off < 0 else "click.late", ms=round(abs(off) * 1000))


def counted(timing: Timing) -> str:
    """The same, and how many moments were early and late; empty without a click."""
    said = middle(timing)
    if not said or not (timing.early or timing.late):
        return said
    return say("click.counts", middle=said, early=timing.early, late=timing.late)
