"""The Desk."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "desk.card": "how to play it",
    "desk.today": "to play today",
    "desk.today.empty": (
        "Nothing is due. Choose a piece and a key; the coach learns from what you play, and says here what comes next "
        "and why."
    ),
    "desk.today.shelf": "The shelf is being read for the first time: what is due stands here in a moment.",
    "desk.today.enter": "enter, or a second click, plays what is chosen here.",
    "desk.today.opening": "Opening the journal …",
    "desk.piano.looking": "Looking for a piano …",
    "desk.today.enough": (
        "That was enough for today: of the {minutes} minutes you gave, none are left that a piece would fill. What is "
        "due waits, and comes first tomorrow."
    ),
    "desk.today.rest": (
        "These keys have had enough for today: what the hands have learned settles overnight. The {minutes} minutes "
        "left are yours, for any piece of the shelf in any key, or for a test at sight."
    ),
    "desk.today.short": (
        "What comes next, {title} in {key}, asks for {needs} minutes, and {left} are left of the {minutes} you gave. "
        "It waits and comes first tomorrow; with more minutes a day in Setup it comes now."
    ),
    "desk.today.short.day": (
        "What comes next, {title} in {key}, asks for {needs} minutes, and {minutes} are given for a day: with more in "
        "Setup it comes."
    ),
    "desk.recent": "recent takes",
    "desk.recent.enter": (
        "enter, or a second click, opens the marked copy of what is chosen here; delete asks whether to erase it."
    ),
    "desk.erase.take": "{title} in {key}, {day} at {time}",
    "desk.erase.ask": "Erase the take of {take}? It cannot be undone.",
    "desk.erase.yes": "Erase it",
    "desk.erase.no": "Leave it",
    "desk.erase.done": "The take of {take} is erased.",
    "desk.recent.empty": "No take yet. The first one is kept as soon as a key is pressed.",
    "desk.shelf": "the shelf",
    "desk.shelf.none": "No piece matches these filters: choose “any”.",
    "desk.shelf.unfound": "No piece matches “{words}”: esc clears it.",
    "desk.shelf.unfound.filtered": "No piece matches “{words}” and these filters: esc clears the words.",
    "desk.shelf.reading": "Reading the shelf for the first time …",
    "desk.find": "type to find a piece",
    "desk.level": "level",
    "desk.hands": "hands",
    "desk.mode": "mode",
    "desk.key": "play in",
    "desk.octave": "moved",
    "desk.practice": "practice",
    "desk.any": "any",
    "desk.start": "To the stand",
    "desk.print": "Print",
    "desk.set": "Set as work",
    "desk.set.done": "{title} in {key} is set for {player} until {day}; i hands it over as a file.",
    "desk.set.anew": "{title} in {key} is set anew for {player}, until {day}; i hands it over as a file.",
    "desk.set.back": "{title} is not set for {player} any more.",
    "desk.set.everyone": "everyone",
    "desk.set.absent": (
        "{title} is not on the shelf: put the file your teacher gave you into {path}, or drop it here to play it."
    ),
    "desk.set.hint": "delete takes back the work that is chosen.",
    "desk.set.known": "{title} in {key} is set for {player} already.",
    "desk.printing": "Setting {title} on paper …",
    "desk.printed": "A sheet for {key} lies at {path}: e shows it.",
    "desk.sheet.none": "Nothing is printed yet: choose a piece, then p.",
    "desk.sheet.shown": "Shown by your computer's own program: {path}.",
    "desk.sheet.gone": "The sheet lies no more at {path}: print it once more with p.",
    "desk.sheet.no-viewer": "No program here shows PDFs: open {path} on a computer that has one, or print it there.",
    "desk.watch": "Watch a recorded take be marked",
    "desk.open": "Drop a file here: music (MusicXML, .mxl, MIDI, ABC, Humdrum), or what was handed over.",
    "desk.no-piano": "No piano is connected: the computer keyboard plays.",
    "desk.piano": "Listening to {name}.",
    "desk.reading": "Reading {name} …",
    "desk.reading.several": "Reading {name}, {at} of {of} …",
    "desk.came": "{files} came: {what}.",
    "desk.came.new": "{count} new on your shelf",
    "desk.came.new.in": "{count} new on your shelf, in {folder}",
    "desk.came.newer": "{count} newer, the older off your shelf",
    "desk.came.known": "{count} there already",
    "desk.came.left": "{count} not brought",
    "desk.came.which": "{said} Not brought: {names}; the Desk says why.",
    "desk.came.more": "{names} and {count} more",
    "desk.kept": "{name} lies on your shelf from now on, in {folder}.",
    "desk.kept.as": "{name} lies on your shelf from now on, as {kept} in {folder}.",
    "desk.kept.newer": (
        "{name} has taken the place of the {title} that lay on your shelf; its takes stay, and ctrl z at the Desk puts "
        "the older one back."
    ),
    "desk.kept.before": "{name} lay on your shelf already, as “{title}”: nothing was copied.",
    "desk.off": "take off the shelf",
    "desk.off.undo": "put back the last",
    "desk.off.done": "{title} is off your shelf, its takes stay; ctrl z puts it back. The file lies in {folder}.",
    "desk.off.set": "{said} It is still set as work.",
    "desk.off.back": "{title} is on your shelf again.",
    "desk.left": "Not on your shelf: {why}",
    "desk.left.several": "Not on your shelf, {at} of {of}: {why}",
    "desk.left.next": "the next",
    "desk.left.away": "put away",
    "desk.not-kept": (
        "{name} is not on your shelf, for {folder} takes no file ({why}): see to its space and rights, then drop it "
        "again."
    ),
    "desk.shelf.unread": "The shelf could not be read: go to another screen and back, and it is tried once more.",
    "desk.unreadable": "This file cannot be read as music: export it again as MusicXML.",
    "desk.written": "written in {key}",
    "desk.bars": "{bars} bars",
    "desk.take": "{accuracy} right",
    "desk.take.part": "a part, {accuracy} right",
    "desk.take.elsewhere": "lay elsewhere",
    "desk.take.cut": "cut off, unmarked",
    "cut.offer": "{title} in {key}, begun {day} at {time}, was cut off before its end.",
    "cut.marked": "The take that was cut off is marked; it lies among the recent takes on the Desk.",
    "cut.finish": "Mark what was played",
    "cut.keep": "Keep it unmarked",
    "cut.unmarked": "What was played could not be marked: try once more, or keep it unmarked.",
    "cut.marking": "Marking what was played …",
    "cut.kept": "It is kept as it was played, without marks.",
    "desk.minutes": "{minutes} min",
    "desk.no-take": "The take was cut off before its end and has no marks.",
    "desk.major": "major",
    "desk.minor": "minor",
    "desk.sight": "test at sight",
    "desk.handing": "hand over, take in",
}
