"""The studio: everybody who plays here at a glance."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "studio.reading": "Reading what everybody played …",
    "studio.alone": (
        "Only {player} plays here: a student comes with a file that was handed over (i), or by a name in Setup."
    ),
    "studio.never": "has not played here yet",
    "studio.nothing": "nothing since {day}",
    "studio.played": "{days}, {minutes} min · {right} right",
    "studio.set": "set: {done} of {work} done",
    "studio.set.none": "nothing set",
    "studio.open": "Their keys",
    "studio.lesson": "Page for the lesson",
    "studio.all": "Everybody’s",
    "studio.handing": "Hand over, take in",
    "studio.failed": "The journal could not be read: go to another screen and back, and it is tried once more.",
    "studio.quiet": "enter shows the keys of whoever is chosen, who sits here from then on · f1 what they play today",
}
