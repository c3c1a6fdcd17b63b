"""The choices of Setup, section by section: what each is called, its key, its values, and what choosing one does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from trainer.hands.position import HAND_SIZES
from trainer.music.solfege import HELPS
from trainer.window import settings as kept
from trainer.window import sheetfolder
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.setup.setup import Setup

SECTIONS = ("piano", "page", "practice", "player")


@dataclass(frozen=True)
class Field:
    """One choice: its name in the strings, its key, the values as settings have them and as they are shown."""

    name: str
    key: str
    values: Sequence[object]
    shown: Sequence[str]
    chosen: object
    choose: Callable[[object], None]

    @property
    def at(self) -> int:
        return self.values.index(self.chosen) if self.chosen in self.values else 0


def fields(screen: Setup, section: str) -> list[Field]:
    """The choices of a section."""
    plain = partial(_plain, screen)
    if section == "piano":
        return [
            _port_field(screen, "midi_in", "i", screen.ports.inputs),
            plain("sound", "o", kept.SOUNDS),
            _port_field(screen, "midi_out", "u", screen.ports.outputs),
            plain("keys", "k", kept.KEYBOARDS, [str(keys) for keys in kept.KEYBOARDS]),
            plain("echo", "c", (True, False)),
        ]
    if section == "page":
        return [
            plain("syllables", "y", kept.SYLLABLES),
            plain("letters", "e", kept.LETTERS),
            plain("scale", "z", kept.SCALES, [f"{scale}%" for scale in kept.SCALES]),
            plain("night", "f9", (False, True)),
            plain("margin", "g", (True, False)),
            plain("voice", "a", (True, False)),
        ]
    if section == "practice":
        return [
            plain("minutes", "m", kept.MINUTES, [say("desk.minutes", minutes=one) for one in kept.MINUTES]),
            _help_field(screen),
            plain("hand_size", "h", HAND_SIZES),
            plain("steering", "r", (True, False)),
            plain("other_hand", "j", (False, True)),
        ]
    into = screen.house.settings.sheets
    values = sheetfolder.offered(into)
    shown = [sheetfolder.shown(one) for one in values]
    return [
        Field("player", "p", screen.players, screen.players, screen.house.player, screen.switch),
        Field("sheets", "s", values, shown, into, partial(screen.change, "sheets")),
    ]


def _help_field(screen: Setup) -> Field:
    """Whether help fades by itself, or which help the player holds in every piece and key."""
    helping = screen.house.rounds.helping
    shown = [say("setup.help.fades"), *(say("help.still", help=say(f"help.{one}")) for one in HELPS)]

    def choose(value: object) -> None:
        screen.house.say(helping.hold_at(str(value)))

    return Field("held_help", "l", ("", *HELPS), shown, helping.held_at, choose)


def _port_field(screen: Setup, name: str, key: str, there: Sequence[str]) -> Field:
    """A port by name; whichever is there when nothing is chosen."""
    from trainer.listening.ports import shown_name

    chosen = getattr(screen.house.settings, name)
    values = ["", *there, *([chosen] if chosen and chosen not in there else [])]
    shown = [say(f"setup.{name}.any"), *(shown_name(one) for one in values[1:])]
    return Field(name, key, values, shown, chosen, partial(screen.change, name))


def _plain(screen: Setup, name: str, key: str, values: Sequence[object], shown: Sequence[str] = ()) -> Field:
    """A field that changes one setting."""
    said = shown or [say(f"setup.{name}.{str(value).lower()}") for value in values]
    return Field(name, key, values, said, getattr(screen.house.settings, name), partial(screen.change, name))
