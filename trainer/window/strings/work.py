"""What is asked for when a piece is set as work."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "work.about": (
        "To be played in {key}, {hands}. What is played from now on counts; today’s list asks for it, and the page for "
        "the lesson says how far it is."
    ),
    "work.days": "until",
    "work.day": "{day} {date}",
    "work.times": "how often",
    "work.times.1": "once",
    "work.times.2": "twice",
    "work.times.more": "{times} times",
    "work.goal": "how well",
    "work.right": "{share}% right",
    "work.tempo": "at which tempo",
    "work.tempo.any": "any",
    "work.tempo.least": "{tempo} or faster",
    "work.help": "with at most",
    "work.everyone": "for",
    "work.all": "everyone",
    "work.note": "a note to the student",
    "work.back": "Take it back",
}
