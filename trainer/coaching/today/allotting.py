"""A day's minutes, given out to what is to be played until none is left."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import Protocol, TypeVar

# Minutes that rounding may take.
_NEAR = 1e-9


class Timed(Protocol):
    """What takes so many minutes."""

    @property
    def minutes(self) -> float: ...


Some = TypeVar("Some", bound=Timed)


class Allotment:
    """The minutes of a day; what is given out is taken off `left`."""

    def __init__(self, minutes: float) -> None:
        self.left = minutes

    def fitting(self, listed: Iterable[Some], most: float = inf) -> list[Some]:
        """In order, those that fit, into `most` minutes too; a long one is passed over for a shorter one behind it."""
        found: list[Some] = []
        for one in listed:
            if one.minutes <= min(self.left, most) + _NEAR:
                found.append(one)
                self.left -= one.minutes
                most -= one.minutes
        return found

    def in_a_row(self, listed: Iterable[Some]) -> list[Some]:
        """Those from the first on that fit; one that does not ends them, so that none behind it comes before it."""
        found: list[Some] = []
        for one in listed:
            if one.minutes > self.left + _NEAR:
                break
            found.append(one)
            self.left -= one.minutes
        return found

    def first(self, listed: Iterable[Some]) -> list[Some]:
        """The first that fits, alone; empty where none does."""
        for one in listed:
            if one.minutes <= self.left + _NEAR:
                self.left -= one.minutes
                return [one]
        return []
