"""What is printed from the Desk."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "sheet.folder.none": (
        "Nothing can be printed into {path}: name a folder that is there and that you may write into."
    ),
    "sheet.folder.gone": (
        "The folder for sheets, {path}, is not there or cannot be written into: plug it in again, or choose another "
        "in Setup."
    ),
    "sheet.about": (
        "The page as written, to be played in {key}, {moved}; with the five keys under each hand there and what "
        "changes."
    ),
    "sheet.about.written": "The page as written, to be played as it stands; with the five keys under each hand.",
    "sheet.about.alone": "The music in {key} and nothing to be transposed: to play from, or for the singer's stand.",
    "sheet.about.part": "The tune alone, as the {instrument} reads it; it sounds in {key}.",
    "sheet.page": "the page",
    "sheet.page.transpose": "to be transposed",
    "sheet.page.alone": "in the new key",
    "sheet.page.part": "a part to play",
    "sheet.fingers": "fingers",
    "sheet.fingers.printed": "as printed",
    "sheet.fingers.every": "on every note",
    "sheet.fingers.none": "left out",
    "sheet.instrument": "for",
    "sheet.syllables": "syllables under the notes",
    "sheet.chords": "chords by degree",
    "sheet.blank": "staves to write it on",
    "sheet.answers": "the answer",
    "sheet.yes": "printed",
    "sheet.no": "left out",
    "sheet.paper": "paper",
    "sheet.a4": "A4",
    "sheet.letter": "Letter",
    "sheet.work": "For {player}: {terms}.",
    "sheet.work.all": "For everyone: {terms}.",
    "sheet.music": "Only the music, as a file",
    "sheet.music.doing": "Writing {title} …",
    "sheet.music.done": "{title} in {key} lies at {path}: any notation program opens it. Repeats are written out.",
    "sheet.unseen": "How it will look cannot be shown here; it can be printed all the same.",
    "sheet.last": "Look at the last sheet",
}
