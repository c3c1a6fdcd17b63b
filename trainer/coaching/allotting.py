"""What of a list fits the minutes there are."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar


class Timed(Protocol):
    """What takes so many minutes."""

    @property
    def minutes(self) -> float: ...


Some = TypeVar("Some", bound=Timed)


def total(listed: Iterable[Timed]) -> float:
    """The minutes of all together."""
    return sum(one.minutes for one in listed)


def fitted(listed: Iterable[Some], minutes: float) -> list[Some]:
    """In order, those that fit; a long one is passed over for a shorter one behind it."""
    found: list[Some] = []
    for one in listed:
        if one.minutes <= minutes + 1e-9:
            found.append(one)
            minutes -= one.minutes
    return found


def in_a_row(listed: Iterable[Some], minutes: float) -> list[Some]:
    """Those from the first on that fit."""
    found: list[Some] = []
    for one in listed:
        if total(found) + one.minutes > minutes + 1e-9:
            break
        found.append(one)
    return found
