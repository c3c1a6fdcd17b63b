"""What is raised when something asked for cannot be done; imports nothing of the house."""

from __future__ import annotations


class CannotDo(Exception):
    """Something asked for cannot be done; the text is one sentence saying what is wrong and what to do."""
