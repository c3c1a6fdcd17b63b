"""Setup: the piano and its sound, the page, practice, players and the journal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pygame

from trainer.journal.errors import JournalError
from trainer.listening.press import Event, Press
from trainer.music.pitch import MusicError
from trainer.scores.plain import free
from trainer.sounding import tapping
from trainer.window import players, sheetfolder
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.places import home
from trainer.window.screen import NEVER, Screen
from trainer.window.settings import FARTHEST
from trainer.window.setup import setupview
from trainer.window.strings import letter_name, say
from trainer.window.workroom import studies

if TYPE_CHECKING:
    from trainer.window.house.house import House

MIDDLE_C = 60
_LOOK_S = 1.0
_FRAME_S = 1 / 30


@dataclass
class Ports:
    """The names of ports, looked up once a second."""

    inputs: list[str] = field(default_factory=list)
    outputs: list[str] = field(default_factory=list)


class Setup(Screen):
    """See `screens`: everything that is set once and for all."""

    key = "f4"
    name = "setup"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.part = 0
        self.ports = Ports()
        self.last: Press | None = None
        # Waiting for middle C; tapping along with a click; asking whether to erase.
        self.finding = False
        self.tapping: tapping.Tapping | None = None
        self.clicking = False
        self.taps = 0
        self.asking = False
        self.fresh = self.folder = ""
        self.players: list[str] = []

    def entered(self) -> None:
        self.finding = self.clicking = self.asking = False
        self.tapping = None
        self._look()
        self._read_players()

    def opened(self) -> None:
        self.entered()

    def left(self) -> None:
        self._stop_clicking()

    def _read_players(self) -> None:
        self.players = players.known(self.house)

    def _look(self) -> None:
        ports = self.house.ports
        if ports is not None:
            self.ports = Ports(ports.names(), ports.outputs())

    def tick(self, now: float) -> float:
        if self.clicking:
            self._count()
            return _FRAME_S
        if self.house.ports is None:
            return NEVER
        self._look()
        return _LOOK_S

    # What is heard

    def heard(self, event: Event) -> None:
        if not isinstance(event, Press):
            return
        self.last = event
        if self.finding:
            self._found(event.pitch + self.house.settings.piano_transposes)
        elif self.tapping is not None:
            self.taps = self.tapping.hear(event)

    def find(self) -> None:
        """Wait for one middle C; again to leave it."""
        self.finding = not self.finding

    def _found(self, sent: int) -> None:
        """What middle C sends tells how far the piano moves its keys."""
        moved = sent - MIDDLE_C
        if abs(moved) > FARTHEST["piano_transposes"]:
            self.house.say(say("setup.found.far"))
            return
        self.finding = False
        self.house.change(piano_transposes=moved)
        self.house.say(say("setup.found.none") if not moved else say("setup.found", far=setupview.far(moved)))

    def tap(self) -> None:
        """Start the click to tap to; again to stop it."""
        if self.clicking:
            self._stop_clicking()
            return
        self.clicking = True
        self.tapping, self.taps = None, 0
        self.house.sound.player.play(tapping.beats())

    def _stop_clicking(self) -> None:
        if self.clicking:
            self.house.sound.player.stop()
        self.clicking, self.tapping = False, None

    def _count(self) -> None:
        player = self.house.sound.player
        if self.tapping is None:
            if player.started is not None:
                self.tapping = tapping.Tapping(player.started)
            return
        if player.playing:
            return
        found = self.tapping.result()
        self.clicking, self.tapping = False, None
        if found is None:
            self.house.say(say("setup.taps.few"))
            return
        self.house.change(click_offset_ms=round(found.seconds * 1000))
        self.house.say(found.words)

    # What is done

    def change(self, name: str, value: object) -> None:
        """Change one setting and let it work at once."""
        self.house.change(**{name: value})
        if name == "midi_in" and self.house.ports is not None:
            wanted = self.house.settings.midi_in
            said = " ".join(self.house.ports.listen([wanted] if wanted else []))
            if said:
                self.house.say(said)
        if name in ("midi_in", "midi_out", "sound"):
            self.house.open_sound()

    def switch(self, name: object) -> None:
        """Another player sits down: their own settings."""
        assert isinstance(name, str)
        # What was begun was meant for whoever sat here.
        self.asking = False
        self._stop_clicking()
        self.house.switch(name)
        self._read_players()
        self.house.say(say("setup.switched", player=self.house.player))

    def type_name(self, text: str) -> None:
        self.fresh, self.folder = text[:40], ""

    def add_player(self) -> None:
        """A new player, by the name typed."""
        name = self.fresh.strip()
        if name:
            self.fresh = ""
            self.switch(name)

    def type_folder(self, text: str) -> None:
        self.folder, self.fresh = text[:1000], ""

    def use_folder(self) -> None:
        """Print into the folder typed."""
        self._print_into(self.folder)

    def dropped(self, paths: Sequence[str]) -> None:
        if len(paths) == 1 and Path(paths[0]).is_dir():
            self._print_into(paths[0])
        else:
            super().dropped(paths)

    def _print_into(self, path: str) -> None:
        try:
            self.house.change(sheets=sheetfolder.named(path))
        except MusicError as trouble:
            self.house.say(str(trouble))
            return
        self.folder = ""
        self.house.say(say("setup.sheets.set", path=sheetfolder.shown(self.house.settings.sheets)))

    @property
    def journal_path(self) -> Path:
        from trainer.journal import files

        return self.house.journal.path if self.house.journal is not None else files.where()

    def export(self) -> None:
        """This player's takes as CSV and JSON, beside the journal."""
        journal = self.house.journal
        if journal is None or not self.house.flushed():
            return
        # Another player's of the same day stays.
        folder = free(self.journal_path.parent, f"export-{date.today().isoformat()}")

        def done(written: tuple[int, int]) -> None:
            count, damaged = written
            said = say("setup.exported", count=count, folder=home(folder)) if count else say("setup.exported.none")
            self.house.say(f"{said} {say('setup.exported.damaged', count=damaged)}" if damaged else said, 20.0)

        self.house.workroom.ask(
            studies.exported, str(self.journal_path), self.house.player, str(folder), then=done,
            failed=self.house.unable("setup.export.failed"),
        )  # fmt: skip

    def ask_erase(self) -> None:
        self.asking = not self.asking

    def erase(self) -> None:
        """Erase this player: takes, all learned from them, set work, own fingers, settings; another one sits down."""
        from trainer.coaching.own import ownfingers
        from trainer.coaching.work import work
        from trainer.journal.erasing import erase_player
        from trainer.window import settings as kept

        self.asking = False
        journal, player = self.house.journal, self.house.player
        if journal is None:
            return
        try:
            # Somebody may have no takes yet, whose name was written wrong.
            count = erase_player(journal, player) if player in journal.players() else 0
            for kept_beside in (work, ownfingers):
                kept_beside.forget(journal.path.parent, player)
            others = [name for name in players.known(self.house) if name != player]
            said = say("setup.erased", player=player, count=count)
            if others:
                self.house.switch(others[0])
                kept.forget(player)
                said = f"{said} {say('setup.switched', player=others[0])}"
            self._read_players()
            self.house.say(said, 20.0)
        except (JournalError, MusicError) as trouble:
            self.house.say(str(trouble))

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name != "escape" or not (self.finding or self.clicking or self.asking):
            return False
        self.finding = self.asking = False
        self._stop_clicking()
        return True

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        setupview.lay(self, canvas, controls)

    def tap_here(self) -> None:
        """A tap on the space bar."""
        from trainer.listening.clock import now

        if self.tapping is not None:
            self.taps = self.tapping.hear(Press(now(), MIDDLE_C, 64))

    def quiet(self) -> str:
        """The line at the foot: what is waited for, or the last key heard."""
        if self.finding:
            return say("setup.find.now")
        if self.clicking:
            return say("setup.tap.now", taps=self.taps, all=tapping.TAPS)
        if self.last is None:
            trouble = self.house.ports.trouble if self.house.ports is not None else ""
            return trouble or (say("setup.last.none") if self.house.no_piano else say("setup.last.wait"))
        letters = self.house.settings.letters
        from trainer.window.singer.singerwords import pitch_of

        pitch = pitch_of(self.last.pitch)
        name = f"{letter_name(pitch, letters)}{pitch.octave}"
        return say("setup.last", name=name, number=self.last.pitch, velocity=self.last.velocity, port=self._port())

    def _port(self) -> str:
        from trainer.listening.ports import shown_name

        ports, last = self.house.ports, self.last
        if ports is None or ports.last is None or last is None or ports.last[1].at != last.at:
            return say("setup.last.typed")
        return shown_name(ports.last[0])
