"""Counts and rows of things in words."""

from __future__ import annotations

from collections.abc import Sequence


def many(count: int, noun: str, more: str = "") -> str:
    """A count with its noun.

    >>> many(1, "take"), many(0, "take"), many(2, "press", "presses")
    ('1 take', '0 takes', '2 presses')
    """
    return f"{count} {noun if count == 1 else more or f'{noun}s'}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Words in a row, with the one before the last.

    >>> listed("F"), listed("FC"), listed(["a4", "a5", "letter"], "or")
    ('F', 'F and C', 'a4, a5 or letter')
    """
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else words[0]
