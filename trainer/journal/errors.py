"""What can go wrong with a journal, in one sentence."""

from __future__ import annotations


class JournalError(Exception):
    """The journal cannot do what was asked; the text is one sentence saying what is wrong and what to do."""
