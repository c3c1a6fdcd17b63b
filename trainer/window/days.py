"""Days as they are said."""

from __future__ import annotations

from datetime import date

from trainer.window.strings import say


def day_words(day: date) -> str:
    """A day as said: today, yesterday, so many days ago, else its date, with the year where it is another."""
    today = date.today()
    days = (today - day).days
    if days <= 0:
        return say("day.today")
    if days == 1:
        return say("day.yesterday")
    if days < 8:
        return say("day.ago", days=days)
    return f"{day.day} {day:%B}" if day.year == today.year else f"{day.day} {day:%B %Y}"
