"""What can go wrong with a journal, in one sentence."""

from __future__ import annotations

import re

_NO_LETTERS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")


class JournalError(Exception):
    """The journal cannot do what was asked; the text is one sentence saying what is wrong and what to do.

    It is one line: SQLite quotes what a damaged file says, whatever that is.
    """

    def __init__(self, words: str) -> None:
        super().__init__(_NO_LETTERS.sub(" ", words))
