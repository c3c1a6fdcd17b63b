"""What a player has set once and for all, kept in one small file."""

from __future__ import annotations

import contextlib
import json
from dataclasses import asdict, dataclass, fields
from typing import Any

from trainer import folders
from trainer.hands.position import HAND_SIZES, MEDIUM
from trainer.music.pitch import MusicError
from trainer.music.solfege import HELPS
from trainer.scores.paper.papers import FINGERS, PAPERS, PRINTED
from trainer.scores.plain import write_plain

# In bytes; settings never come near it.
LARGEST = 1_000_000
LETTERS = ("english", "german")
SYLLABLES = ("la", "do", "numbers", "letters")
SOUNDS = ("auto", "tone", "none")
KEYBOARDS = (88, 76, 61, 49)
SCALES = (80, 90, 100, 110, 125, 150, 175, 200)
MINUTES = (5, 10, 15, 20, 30, 45, 60)
# What sets the ear before a take, as in `trainer.sounding.ear.CHOICES`.
EARS = ("none", "cadence", "drone", "pentascale")
MODEL_KEYS = ("target", "written")
MODEL_HANDS = ("practised", "both", "right", "left")
MODEL_SPEEDS = (100, 75, 50)
# Strokes of the click a beat, and by name how many bars click before so many silent ones.
SUBDIVISIONS = (1, 2, 3, 4)
SILENT_BARS = {"none": (0, 0), "fourth": (3, 1), "half": (2, 2), "other": (1, 1)}
# What the Desk prints: the page to be transposed, the music alone in the key, a part for an instrument.
SHEET_PAGES = ("transpose", "alone", "part")


@dataclass(frozen=True)
class Settings:
    """Everything set in Setup; the defaults suit a full piano and a bright room."""

    keys: int = 88
    keys_told: bool = False  # that the piano may have fewer
    syllables: str = "la"
    letters: str = "english"
    scale: int = 100
    night: bool = False
    full_screen: bool = False
    midi_in: str = ""
    midi_out: str = ""
    player: str = ""
    help: str = "all"
    margin: bool = True
    click_offset_ms: int = 0
    piano_transposes: int = 0
    steering: bool = True
    sound: str = "auto"
    echo: bool = False
    other_hand: bool = False
    minutes: int = 15
    hand_size: str = MEDIUM
    ear: str = "none"
    model_key: str = "target"
    model_hand: str = "practised"
    model_speed: int = 100
    subdivision: int = 1
    silent: str = "none"
    chords: bool = False
    clef: bool = False
    voice: bool = True
    sheet_syllables: bool = True
    sheet_chords: bool = True
    sheet_blank: bool = True
    sheet_answers: bool = True
    sheet_page: str = "transpose"
    alone_syllables: bool = False
    alone_chords: bool = False
    sheet_fingers: str = PRINTED
    sheet_instrument: str = "clarinet in B flat"
    paper: str = "a4"
    sheets: str = ""

    @property
    def minor(self) -> str:
        """Minor counted from la or from do."""
        return "do" if self.syllables == "do" else "la"


_ALLOWED: dict[str, tuple[Any, ...]] = {
    "keys": KEYBOARDS, "syllables": SYLLABLES, "sound": SOUNDS, "letters": LETTERS, "scale": SCALES, "help": HELPS,
    "minutes": MINUTES, "hand_size": HAND_SIZES, "ear": EARS, "model_key": MODEL_KEYS, "model_hand": MODEL_HANDS,
    "model_speed": MODEL_SPEEDS, "subdivision": SUBDIVISIONS, "silent": tuple(SILENT_BARS),
    "paper": tuple(PAPERS), "sheet_page": SHEET_PAGES, "sheet_fingers": FINGERS,
}  # fmt: skip


# How far from 0 the numbers are that Setup finds by listening, either way: a piano moves its keys by an octave at most,
# and nobody's taps lie a second from the click (ours).
FARTHEST = {"piano_transposes": 12, "click_offset_ms": 1000}


# What belongs to a player and not to the room: each player of one folder has these for themselves.
OWN = (
    "syllables", "letters", "scale", "night", "help", "margin", "click_offset_ms", "steering",
    "other_hand", "minutes", "hand_size", "ear", "model_key", "model_hand", "model_speed", "subdivision", "silent",
    "chords", "clef", "voice", "sheet_syllables", "sheet_chords", "sheet_blank", "sheet_answers",
    "sheet_page", "alone_syllables", "alone_chords", "sheet_fingers", "sheet_instrument",
)  # fmt: skip


def load(player: str | None = None) -> Settings:
    """The settings kept, those of `player` or of whoever played last.

    What is missing, damaged or not allowed takes its default; so does everything a player has not set, who never
    finds the choices of another.
    """
    found = _read()
    name = _checked(found).player if player is None else player
    players = found.get("players")
    own = players.get(name) if isinstance(players, dict) else None
    if isinstance(own, dict):
        found |= {field: own[field] for field in OWN if field in own}
    elif isinstance(players, dict) and name not in ("", found.get("player")):
        found = {field: value for field, value in found.items() if field not in OWN}
    return _checked(found | {"player": name})


def scale_beside(scale: int, by: int) -> int:
    """The size of text so many steps larger, or smaller, as far as they go."""
    at = min(range(len(SCALES)), key=lambda i: abs(SCALES[i] - scale))
    return SCALES[max(0, min(len(SCALES) - 1, at + by))]


def players() -> list[str]:
    """Everybody who has settings of their own, by name."""
    found = _read().get("players")
    return [name for name in found if name and _is_text(name)] if isinstance(found, dict) else []


def _read() -> dict[str, Any]:
    try:
        place = folders.settings() / "settings.json"
        if not place.is_file() or place.stat().st_size > LARGEST:
            return {}
        # Some editors put the mark of UTF-8 before it.
        found = json.loads(place.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _checked(found: dict[str, Any]) -> Settings:
    kept: dict[str, Any] = {}
    for field in fields(Settings):
        value = found.get(field.name)
        default = getattr(Settings(), field.name)
        allowed = _ALLOWED.get(field.name)
        if type(value) is type(default) and (allowed is None or value in allowed) and _is_sound(field.name, value):
            kept[field.name] = value
    return Settings(**kept)


def _is_sound(name: str, value: Any) -> bool:
    """Whether a value can be worked with: a number near enough, a text that can be written down."""
    return abs(value) <= FARTHEST[name] if name in FARTHEST else not isinstance(value, str) or _is_text(value)


def _is_text(value: str) -> bool:
    """Whether a text holds whole letters: a file may name halves of them."""
    return not any("\ud800" <= letter <= "\udfff" for letter in value)


def forget(player: str) -> None:
    """Keep nothing of a player who has left, the name least of all.

    Raises
    ------
    MusicError
        When the file cannot be written.
    """
    found = _read()
    kept = found.get("players")
    # A file that no player's own settings were kept in yet bears one name all the same.
    own = kept if isinstance(kept, dict) else {}
    if player not in (*own, found.get("player")):
        return
    found["players"] = {name: value for name, value in own.items() if name != player}
    if found.get("player") == player:
        found["player"] = ""
    write_plain(folders.settings() / "settings.json", json.dumps(found, indent=1))


def save(settings: Settings) -> None:
    """Keep them; a folder that cannot be written is no reason to stop playing."""
    place = folders.settings() / "settings.json"
    value = asdict(settings)
    players = _read().get("players")
    own = {field: value[field] for field in OWN}
    value["players"] = {**(players if isinstance(players, dict) else {}), settings.player: own}
    with contextlib.suppress(MusicError):
        write_plain(place, json.dumps(value, indent=1))
