"""Every word on the screen, in one table, ready for translation; and letter names, English and German.

German letter names: B natural is H, B flat is B, -is and -es for sharps and flats (common practice; e.g. H. Riemann,
*Musiklexikon*, from memory).
"""

from __future__ import annotations

from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch

ENGLISH = "english"
GERMAN = "german"

WORDS: dict[str, str] = {
    "window.title": "Keyfarer",
    # Rooms
    "room.desk": "Desk",
    "room.stand": "Stand",
    "room.copy": "Marked copy",
    "room.keys": "Keys",
    "room.singer": "Singer",
    "room.setup": "Setup",
    # The Stand's head
    "stand.play-in": "play in",
    "stand.written-in": "written in {key},",
    "stand.as-written": "as written",
    "stand.bar": "bar {bar} of {bars}",
    "stand.hands.both": "both hands",
    "stand.hands.right": "right hand alone",
    "stand.hands.left": "left hand alone",
    "mode.senza misura": "senza misura",
    "mode.a tempo": "a tempo",
    "mode.prima vista": "prima vista",
    # The Stand's margin
    "margin.head": "in the margin",
    "margin.empty": "Play the first note whenever you like; the take begins with it.",
    "margin.bar": "bar {bar}",
    "margin.right": "right so far",
    "margin.right.value": "{right} of {played}",
    "margin.pulse": "pulse",
    "margin.pulse.value": "{pulse}, {steadiness}",
    "margin.steady": "steady",
    "margin.moving": "moving",
    "margin.uneven": "uneven",
    "margin.cost": "against {key}",
    "margin.cost.value": "{cost} × the time",
    "margin.none": "–",
    # The Stand's foot
    "stand.position": "do is {do} · left {left}, right {right} · {shape}",
    "stand.do": "do is {do}",
    "stand.steer": "lowest key: again · highest key: next · soft pedal: stop",
    "stand.typed": "computer keyboard: Z and Q rows play · F6 / F7 octave",
    "stand.again": "again",
    "stand.tempo": "tempo",
    "stand.help": "help",
    "stand.glimpse": "hold: glimpse",
    "stand.mode": "mode",
    "stand.hands": "hands",
    "stand.loop": "loop",
    "stand.margin": "margin",
    "stand.rekey": "semitone",
    "stand.stop": "stop",
    "stand.desk": "desk",
    "stand.copy": "marked copy",
    "stand.next": "next",
    "stand.glimpsed": "in {key}, as it sounds: the take will say it was looked at",
    "stand.count": "{beat}",
    "stand.look": "look: {seconds} s",
    "stand.engraving": "engraving …",
    "stand.loop.on": "bars {first} to {last}, round and round",
    "stand.loop.off": "the whole piece",
    "stand.other.on": "The hand that is not practised is played for you.",
    "stand.other.off": "The other hand is silent.",
    "stand.listen": "hear it",
    "stand.cadence": "cadence",
    "stand.other": "other hand sounds",
    "stand.keys": "all keys",
    "stand.keys.head": "what can be done here",
    "stand.tone": "whole tone",
    "stand.octave": "octave of the letters",
    "stand.typing": "letters play, or give orders",
    "stand.scale": "text size",
    "stand.night": "night",
    "stand.full": "full screen",
    "stand.ended": "That was the take. The marked copy is ready.",
    "stand.typing.on": "The computer keyboard is the piano now; F8 gives its letters back.",
    "stand.typing.off": "The computer keyboard gives orders now; F8 makes it the piano.",
    "help.all": "all syllables",
    "help.bars": "first of each bar",
    "help.do": "only do",
    "help.none": "no syllables",
    # Desk
    "parts.next": "the other parts",
    "desk.card": "how to play it",
    "copy.music": "the page",
    "copy.side": "what to do",
    "desk.today": "to play today",
    "desk.today.empty": (
        "Nothing is due yet. Choose a piece and a key; from the second take on, the coach says here what comes next "
        "and why."
    ),
    "desk.recent": "recent takes",
    "desk.recent.empty": "No take yet. The first one is kept as soon as a key is pressed.",
    "desk.shelf": "the shelf",
    "desk.shelf.none": "No piece answers these filters: press backspace, or choose “any”.",
    "desk.find": "type to find a piece",
    "desk.find.label": "find",
    "desk.level": "level",
    "desk.hands": "hands",
    "desk.mode": "mode",
    "desk.key": "play in",
    "desk.octave": "moved",
    "desk.practice": "practice",
    "desk.any": "any",
    "desk.start": "To the stand",
    "desk.watch": "Watch a recorded take be marked",
    "stand.watching": "A recorded take plays itself; play a key, and the page is yours.",
    "desk.open": "Drop a file here to play it: MusicXML, .mxl, MIDI, ABC or Humdrum.",
    "desk.no-piano": "No piano is connected: the computer keyboard plays.",
    "desk.piano": "Hearing {name}.",
    "desk.reading": "Reading {name} …",
    "desk.unreadable": "This file cannot be read as music: export it again as MusicXML.",
    "desk.own": "your own",
    "desk.written": "written in {key}",
    "desk.bars": "{bars} bars",
    "desk.take": "{accuracy} right",
    "desk.take.cut": "cut off, unmarked",
    "day.today": "today",
    "day.yesterday": "yesterday",
    "day.ago": "{days} days ago",
    "desk.minutes": "{minutes} min",
    "desk.no-take": "The take was cut off before its end and has no marks.",
    "desk.major": "major",
    "desk.minor": "minor",
    # Marked copy
    "copy.right": "right",
    "copy.right.value": "{right} of {written} notes",
    "copy.pulse": "pulse",
    "copy.time": "time",
    "copy.causes": "slips by cause",
    "copy.degrees": "by degree",
    "copy.hands": "by hand",
    "copy.curve": "pulse over the bars",
    "copy.curve.empty": "too little was played to tell a pulse",
    "copy.advice": "what next",
    "copy.clean": "Nothing to mark: every note as it should be.",
    "copy.none": "No take yet: play something at the Stand, and it lies here afterwards, marked.",
    "copy.hear": "Hear it",
    "copy.meant": "As meant",
    "copy.play": "Play",
    "copy.again": "Again",
    "copy.desk": "Desk",
    "copy.missed": "left out",
    "copy.page": "page {page} of {pages}",
    "copy.glimpsed": "with a glimpse",
    # Advice
    "advice.bars": "Bars {first} to {last} held most of the slips ({count}): play them alone, {hand}.",
    "advice.bar": "Bar {first} held most of the slips ({count}): play it alone, {hand}.",
    "advice.as-written": "{count} notes were played as written: name the syllables aloud, slower.",
    "advice.signature": "The signature of {key} was forgotten {count} times: play its five-finger pattern first.",
    "advice.slower": "The pulse wavered: once more at {tempo}, in time.",
    "advice.hand": "The {hand} hand held {count} of {all} slips: play it alone.",
    "advice.next": "Clean enough to move on: the same piece in {key}.",
    "advice.again": "Once more, to make it sure.",
    "hand.right": "right",
    "hand.left": "left",
    "hand.both": "both",
    "hand.alone.right": "right hand alone",
    "hand.alone.left": "left hand alone",
    "hand.alone.both": "both hands",
    # Causes
    "cause.right": "right",
    "cause.octave": "other octave",
    "cause.as-written": "as written",
    "cause.signature": "signature",
    "cause.accidental": "accidental",
    "cause.step": "a step off",
    "cause.displaced": "hand displaced",
    "cause.brushed": "brushed",
    "cause.repeated": "struck again",
    "cause.wrong": "another key",
    "cause.extra": "not in the piece",
    "cause.missed": "left out",
    # Levels and hands in the shelf
    "level.trichord": "trichord",
    "level.pentachord": "pentachord",
    "level.hexachord": "hexachord",
    "level.open": "open",
    "shelf.both": "both hands",
    "shelf.right": "right hand",
    "shelf.left": "left hand",
    "octave.nearest": "nearest",
    "octave.up": "up",
    "octave.down": "down",
    # Keys
    "keys.held": "{held} of 24 hold",
    "keys.due": "{due} keys due",
    "keys.due.one": "1 key due",
    "keys.level.trichord": "three",
    "keys.level.pentachord": "five",
    "keys.level.hexachord": "six",
    "keys.level.open": "open",
    "keys.state.new": "new",
    "keys.state.opening": "opening",
    "keys.state.holding": "holds",
    "keys.state.free": "free",
    "keys.state.due": "due",
    "keys.view.key": "this key",
    "keys.view.weeks": "over the weeks",
    "keys.new": "not opened yet: its five-finger pattern is the way in",
    "keys.opening": "being opened",
    "keys.reached": "{level} holds",
    "keys.right": "{right} right",
    "keys.speed": "{notes} notes a minute",
    "keys.due.now": "due today",
    "keys.due.in": "due in {days} days",
    "keys.colour.w": "white",
    "keys.colour.b": "black",
    "keys.roomy": "No finger is crowded.",
    "keys.crowding": "Crowding: right hand {right} mm, left hand {left} mm.",
    "keys.history": "right in this key, week by week",
    "keys.history.empty": "Nothing was played in this key yet. After the first take its weeks are drawn here.",
    "keys.sight": "at sight, notes right a minute",
    "keys.sight.empty": "Nothing read at sight yet: choose “prima vista” at the Desk, and the first point stands here.",
    "keys.cost": "time against the written key",
    "keys.cost.empty": "Play a piece in its written key too: then what another key costs in time can be told.",
    "keys.quiet": (
        "← → round the circle · ↑ ↓ major and minor · "
        "bands hold the figure 95 times in 100; at sight: mean of four weeks"
    ),
    "keys.start": "Play {title}",
    "keys.start.pattern": "Play the five fingers",
    "keys.pentascale": "Five fingers",
    "keys.cadence": "Cadence",
    # Singer
    "singer.song": "song",
    "singer.singer": "singer",
    "singer.staff": "staff",
    "singer.page.keys": "the key",
    "singer.page.setlist": "set list",
    "singer.page.warmup": "warm-up",
    "singer.page.part": "from a part",
    "singer.find": "type to find a song",
    "singer.who": "the singer",
    "singer.low": "comfortable from",
    "singer.high": "up to",
    "singer.listen": "Play lowest and highest",
    "singer.stop": "Leave it",
    "singer.listening": "Play the singer’s lowest comfortable note, then the highest; esc leaves it as it was.",
    "singer.waiting": "weighing the keys …",
    "singer.none": "No song answers: press backspace.",
    "singer.line": "written in {key}, line {line}",
    "singer.tessitura": "singer",
    "singer.written": "written",
    "singer.as-written": "as written",
    "singer.head.voice": "voice",
    "singer.head.hands": "hands",
    "singer.start": "To the stand in {key}",
    "singer.put-down": "Onto the set list",
    "singer.put": "{title} is on the list for “{occasion}”.",
    "singer.occasion": "Next occasion",
    "singer.tomorrow": "tomorrow",
    "singer.in-days": "in {days} days",
    "singer.list.empty": (
        "No song is on a set list yet. Choose a song, a singer and a key, and put it down with “Onto the set list”; "
        "its name and day are changed in setlist.toml, beside the journal."
    ),
    "singer.list.invent": "Try it with an invented concert",
    "singer.list.start": "To the stand",
    "singer.list.off": "Off the list",
    "singer.until": "until then",
    "singer.until.none": "Today is the day: play it once through, and rest.",
    "singer.whole": "the whole set once, in order, without stopping",
    "singer.task": "{title}, {minutes} min",
    "singer.minutes": "time there is",
    "singer.warm.why": "Five fingers and cadence in every key of tonight, first notes, then the hardest bars.",
    "singer.warm.empty": "There is nothing to warm up for yet: choose a song and a singer.",
    "singer.warm.start": "Begin the warm-up",
    "singer.warm.from": "Begin with step {step}",
    "singer.instrument": "the page is a part for",
    "singer.part": "{title}, a part written in {written} for {instrument}, sounds in {sounding} (concert): play that.",
    "singer.part.move": "From the page: {move}.",
    "singer.part.joins": (
        "Where {singer} sings in {key} (concert), the {instrument} joins in from a part written in {written}."
    ),
    "trouble.sound": "There is no sound device: the piano's own sound is used, and the click is seen only.",
}


def say(name: str, /, **values: object) -> str:
    """The words of that name, filled in."""
    return WORDS[name].format(**values)


_GERMAN_SIGN = {-2: "eses", -1: "es", 0: "", 1: "is", 2: "isis"}


def letter_name(pitch: SpelledPitch, letters: str = ENGLISH) -> str:
    """A pitch without its octave as players of that language name it.

    >>> letter_name(SpelledPitch.parse("Bb4"), GERMAN), letter_name(SpelledPitch.parse("B4"), GERMAN)
    ('B', 'H')
    >>> letter_name(SpelledPitch.parse("Eb4"), GERMAN), letter_name(SpelledPitch.parse("F#4"), GERMAN)
    ('Es', 'Fis')
    """
    if letters != GERMAN:
        return pitch.sign_name
    if pitch.letter == "B":
        return {-2: "Heses", -1: "B"}.get(pitch.alteration, "H" + _GERMAN_SIGN.get(pitch.alteration, ""))
    name = pitch.letter + _GERMAN_SIGN.get(pitch.alteration, "")
    return {"Ees": "Es", "Aes": "As", "Eeses": "Eses", "Aeses": "Ases"}.get(name, name)


def key_name(key: Key, letters: str = ENGLISH) -> str:
    """A key as players of that language name it.

    >>> key_name(Key.parse("Bb"), GERMAN), key_name(Key.parse("f#"), GERMAN)
    ('B-Dur', 'fis-Moll')
    """
    if letters != GERMAN:
        return key.name
    name = letter_name(key.tonic, GERMAN)
    return f"{name.lower()}-Moll" if key.is_minor else f"{name}-Dur"
