"""Which voice sounds: the piano over MIDI out, else the built-in tone, else none, each with its quiet line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from trainer.listening.ports import Ports, output_for
from trainer.sounding.out import PianoVoice
from trainer.sounding.player import Echo, Player
from trainer.sounding.tone import NoDevice, ToneVoice
from trainer.sounding.voice import Silent, Sounded, Voice

AUTO, TONE, NONE = "auto", "tone", "none"


class PianoElseTone:
    """The piano while its port is open, the computer's own tone while it is not."""

    def __init__(self, piano: PianoVoice, other: Voice) -> None:
        self.piano, self.other = piano, other

    @property
    def words(self) -> str:
        return self._now.words

    @property
    def lag_s(self) -> float:
        return self._now.lag_s

    @property
    def _now(self) -> Voice:
        return self.piano if self.piano.there else self.other

    def note_on(self, pitch: int, velocity: int) -> None:
        self._now.note_on(pitch, velocity)

    def note_off(self, pitch: int) -> None:
        for voice in (self.piano, self.other):
            voice.note_off(pitch)

    def prepare(self, notes: Sequence[Sounded]) -> None:
        self.piano.prepare(notes)
        if not self.piano.there:
            self.other.prepare(notes)

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        self._now.play(notes, start)

    def cancel(self) -> None:
        for voice in (self.piano, self.other):
            voice.cancel()

    def panic(self) -> None:
        for voice in (self.piano, self.other):
            voice.panic()

    def lines(self) -> list[str]:
        return self.piano.lines() + self.other.lines()

    def close(self) -> None:
        for voice in (self.piano, self.other):
            voice.close()


@dataclass
class Sound:
    """Everything the player hears.

    Parameters
    ----------
    voice : Voice
        Sounds the notes.
    clicker : Voice
        Sounds the click: the computer's own tone where there is one.
    said : list of str
        Quiet lines not yet asked for.
    """

    voice: Voice
    clicker: Voice
    said: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.player = Player(self.voice, self.clicker)
        self.echo = Echo(self.voice)

    def lines(self) -> list[str]:
        """Quiet lines for the player since the last call."""
        said, self.said = self.said, []
        return said + self.voice.lines() + self.clicker.lines()

    def close(self) -> None:
        """Stop, let go of everything, close the devices."""
        self.player.stop()
        self.voice.close()
        self.clicker.close()


def open_sound(choice: str = AUTO, ports: Ports | None = None) -> Sound:
    """Open what the player hears.

    Parameters
    ----------
    choice : str
        ``auto``: the piano that is heard, if it has an output, else the tone; ``tone``; ``none``; or the name of a
        MIDI output or a part of it.
    ports : Ports, optional
        For ``auto``.
    """
    if choice == NONE:
        return Sound(Silent(), Silent())
    said: list[str] = []
    tone: Voice
    try:
        tone = ToneVoice()
    except NoDevice as refusal:
        tone = Silent()
        said.append(str(refusal))
    output = (output_for(ports.hearing, ports.outputs()) if ports else None) if choice == AUTO else choice
    if choice == TONE or output is None:
        return Sound(tone, tone, said)
    # Where the computer is silent the piano sounds the click as well, and there is nothing to complain of.
    alone = isinstance(tone, Silent)
    voice = PianoVoice(output, percussion=alone)
    if ports:
        ports.is_ours = voice.returned.is_one
    piano = PianoElseTone(voice, tone)
    return Sound(piano, piano if alone else tone, [] if alone else said)
