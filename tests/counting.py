"""What something costs, counted and not timed, so that a busy machine has no say."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any


def steps_of(done: Callable[[], object]) -> int:
    """How many lines of Python are gone through in this thread, at each turn of a loop anew.

    What a single call of a library does (a search in a text, a comparison of two lists) is one step however long it is.
    """
    steps = 0

    def counted(frame: FrameType, event: str, _: object) -> Any:
        nonlocal steps
        steps += event == "line"
        return counted

    before = sys.gettrace()
    sys.settrace(counted)
    try:
        done()
    finally:
        sys.settrace(before)
    return steps


def growth(made: Callable[[int], Callable[[], object]], size: int, times: int = 4) -> float:
    """How many times as many steps what `made` makes of `times` as many things takes."""
    return steps_of(made(times * size)) / steps_of(made(size))
