"""What a player has set once and for all, kept in one small file."""

from __future__ import annotations

import json
import os
import pathlib
from dataclasses import asdict, dataclass, fields
from typing import Any

LETTERS = ("english", "german")
SYLLABLES = ("la", "do", "numbers", "letters")
SOUNDS = ("auto", "tone", "none")
KEYBOARDS = (88, 76, 61, 49)
SCALES = (80, 90, 100, 110, 125, 150, 175, 200)
HELPS = ("all", "bars", "do", "none")


@dataclass(frozen=True)
class Settings:
    """Everything set in Setup; the defaults suit a full piano and a bright room."""

    keys: int = 88
    syllables: str = "la"
    letters: str = "english"
    scale: int = 100
    night: bool = False
    full_screen: bool = False
    midi_in: str = ""
    midi_out: str = ""
    player: str = ""
    help: str = "all"
    help_fades: bool = True
    margin: bool = True
    click_offset_ms: int = 0
    piano_transposes: int = 0
    steering: bool = True
    sound: str = "auto"
    echo: bool = False
    other_hand: bool = False

    @property
    def minor(self) -> str:
        """Minor counted from la or from do."""
        return "do" if self.syllables == "do" else "la"


def folder() -> pathlib.Path:
    """Where settings lie: ``KEYFARER_HOME``, else the platform's place for them."""
    home = os.environ.get("KEYFARER_HOME")
    if home:
        return pathlib.Path(home)
    from platformdirs import user_config_path

    return pathlib.Path(user_config_path("keyfarer"))


_ALLOWED: dict[str, tuple[Any, ...]] = {
    "keys": KEYBOARDS, "syllables": SYLLABLES, "sound": SOUNDS, "letters": LETTERS, "scale": SCALES, "help": HELPS,
}  # fmt: skip


def load() -> Settings:
    """The settings kept; what is missing, damaged or not allowed takes its default."""
    try:
        found = json.loads((folder() / "settings.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return Settings()
    settings = Settings()
    kept: dict[str, Any] = {}
    if not isinstance(found, dict):
        return settings
    for field in fields(Settings):
        value = found.get(field.name)
        default = getattr(settings, field.name)
        allowed = _ALLOWED.get(field.name)
        if type(value) is type(default) and (allowed is None or value in allowed):
            kept[field.name] = value
    return Settings(**kept)


def save(settings: Settings) -> None:
    """Keep them; a folder that cannot be written is no reason to stop playing."""
    place = folder() / "settings.json"
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        fresh = place.with_suffix(".new")
        fresh.write_text(json.dumps(asdict(settings), indent=1), encoding="utf-8")
        fresh.replace(place)
    except OSError:
        return
