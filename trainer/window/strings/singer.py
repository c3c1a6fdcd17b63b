"""The Singer's screen."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "singer.song": "song",
    "singer.singer": "singer",
    "singer.staff": "staff",
    "singer.page.keys": "the key",
    "singer.page.setlist": "set list",
    "singer.page.warmup": "warm-up",
    "singer.page.part": "from a part",
    "singer.find": "type to find a song",
    "singer.who": "the singer",
    "singer.own": "set by hand",
    "singer.own.kept": "{name}, set by hand",
    "singer.low": "comfortable from",
    "singer.high": "up to (concert)",
    "singer.listen": "Play lowest and highest",
    "singer.stop": "Leave it",
    "singer.listening": "Play the singer’s lowest comfortable note, then the highest; esc leaves it as it was.",
    "singer.waiting": "weighing the keys …",
    "singer.none": "Choose a song, and the keys that suit stand here.",
    "singer.line": "written in {key}, line {line}",
    "singer.tessitura": "singer",
    "singer.written": "written",
    "singer.as-written": "as written",
    "singer.head.key": "in concert pitch",
    "singer.head.move": "from the page",
    "singer.head.voice": "voice",
    "singer.head.hands": "hands",
    "singer.start": "To the stand in {key}",
    "singer.put-down": "Onto the set list",
    "singer.put": "{title} is on the list for “{occasion}”.",
    "singer.occasion": "Next occasion",
    "singer.occasion.name": "what the occasion is called",
    "singer.occasion.day": "its day, {when}",
    "singer.keep": "Keep",
    "singer.name": "the singer’s name",
    "singer.naming": "Type the singer’s name; enter keeps name and tessitura beside the set list, esc leaves it.",
    "singer.name.needed": "Type the singer’s own name first; voice types are in the list already.",
    "singer.kept": "{name} is among the singers now.",
    "singer.tomorrow": "tomorrow",
    "singer.in-days": "in {days} days",
    "singer.list.empty": (
        "No song is on a set list yet. Choose a song, a singer and a key, and put it down with “Onto the set list”; "
        "then the occasion is given its name and its day here."
    ),
    "singer.list.invent": "Try it with an invented concert",
    "singer.list.start": "To the stand",
    "singer.list.off": "Off the list",
    "singer.list.order": "← → in the list: earlier, later",
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
    "singer.part.concert": (
        "The file of {title} says how its part sounds and is read so: the {instrument} reads {written}, the page here "
        "stands in {sounding} (concert). Play it as it stands."
    ),
    "singer.part.move": "From the page: {move}.",
    "singer.part.line": "Its line {written} (written) sounds {sounding} (concert).",
    "singer.part.joins": (
        "Where {singer} sings in {key} (concert), the {instrument} joins in from a part written in {written}."
    ),
}
