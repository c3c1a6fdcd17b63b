"""Early and late against the click, in words."""

from __future__ import annotations

from trainer.following.timing import Timing
from trainer.window.strings import say

# So near the click nobody is told to be early or late (ours; listeners part two onsets from 20 to 30 ms on).
_WITH_S = 0.015
# Who is further from the click is elsewhere rather than early or late (ours).
_ELSEWHERE_S = 1.0


def middle(timing: Timing) -> str:
    """Where the take lay on the whole; empty without a click."""
    off = timing.against_click_s
    if off is None:
        return ""
    if abs(off) <= _WITH_S:
        return say("click.with")
    far = abs(off) >= _ELSEWHERE_S
    said = say("click.s", seconds=f"{abs(off):.1f}") if far else say("click.ms", ms=round(abs(off) * 1000))
    return say("click.early" if off < 0 else "click.late", off=said)


def counted(timing: Timing) -> str:
    """The same, and how many moments were early and late; empty without a click."""
    said = middle(timing)
    elsewhere = abs(timing.against_click_s or 0.0) >= _ELSEWHERE_S
    if not said or elsewhere or not (timing.early or timing.late):
        return said
    return say("click.counts", middle=said, early=timing.early, late=timing.late)
