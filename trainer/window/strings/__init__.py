"""Every word on the screen, ready for translation: a table for each screen, and one way to look a word up.

Letter names and names of keys, English and German, come with them (`trainer.music.names`).
"""

from __future__ import annotations

from trainer.music.names import ENGLISH, GERMAN, key_in, key_name, keys_in, letter_name
from trainer.window.strings import copy, desk, handing, house, keys, setup, sheet, sight, singer, stand, studio, work

__all__ = ["ENGLISH", "GERMAN", "TABLES", "WORDS", "key_in", "key_name", "keys_in", "letter_name", "say"]

# The names of one table begin with its screen's, so none hides another's.
TABLES = (
    house.WORDS,
    desk.WORDS,
    stand.WORDS,
    sight.WORDS,
    sheet.WORDS,
    work.WORDS,
    handing.WORDS,
    studio.WORDS,
    copy.WORDS,
    keys.WORDS,
    singer.WORDS,
    setup.WORDS,
)
WORDS = {name: words for table in TABLES for name, words in table.items()}


def say(name: str, /, **values: object) -> str:
    """The words of that name, filled in."""
    return WORDS[name].format(**values)
