"""Days as they are said."""

from __future__ import annotations

from datetime import date

from trainer.window.strings import say


def day_words(day: date) -> str:
    """A day as said: today, yesterday, so many days ago, else its date."""
    days = (date.today() - day).days
    if days <= 0:
        return say("day.today")
    if days == 1:
        return say("day.yesterday")
    return say("day.ago", days=days) if days < 8 else day.isoformat()
