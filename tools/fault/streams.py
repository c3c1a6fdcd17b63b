"""Bytes a cable can bring, without the cable: torn streams of known messages, bytes by chance, storms of presses."""

from __future__ import annotations

import random

from tools.fault import seeds
from tools.fault.table import Row
from trainer.following.marks import RIGHT
from trainer.listening.decode import DATA_BYTES, Bytes, Keyboard
from trainer.listening.ports import find_port, is_piano, shown_name, stable_name
from trainer.listening.press import Event, Press, Release
from trainer.music.transpose import plan
from trainer.session import Session

# Share of notes marked right at once when a piece begins anew after a storm: its first notes alone cannot tell.
AFTERWARDS = 0.95
AT_WORST = 0.7
NAMES = (
    "Digital Piano", "Klavier Ä Ö Ü ß", "電子ピアノ", "🎹", "a" * 60, "Piano 28:0", "Piano 1 2 3", "%s %n %x",
    "../../etc",
    "keyfarer", "Midi Through", "<b>Piano</b>", "-m3", "Piano\tTab", "'; DROP TABLE take; --", "(no name)", "1", ".",
)  # fmt: skip


def _message(dice: random.Random) -> tuple[int, ...]:
    status = dice.choice((0x80, 0x90, 0x90, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0)) | dice.randrange(16)
    return (status, *(dice.randrange(128) for _ in range(DATA_BYTES[status & 0xF0])))


def _wire(messages: list[tuple[int, ...]], dice: random.Random) -> list[int]:
    """The bytes of messages as a piano may send them: running status, clock in between, broken system messages."""
    sent: list[int] = []
    status = 0
    for message in messages:
        if dice.random() < 0.03:
            data = [dice.randrange(128) for _ in range(dice.choice((0, 1, 5, 60)))]
            sent += [dice.choice((0xF0, 0xF1, 0xF2, 0xF3, 0xF4, 0xF5, 0xF6)), *data]
            # Some are never ended.
            sent += [0xF7] if dice.random() < 0.6 else []
            status = 0
        if message[0] != status or dice.random() < 0.2:
            sent.append(message[0])
        status = message[0]
        for byte in message[1:]:
            sent += [dice.randrange(0xF8, 0x100)] * (dice.random() < 0.05)
            sent.append(byte)
    return sent


def known(dice: random.Random, count: int) -> Row:
    """Streams whose messages are known: every one comes out, and nothing else."""
    row = Row("messages in torn streams")
    decoder = Bytes()
    done = 0
    while done < count:
        meant = [_message(dice) for _ in range(min(2000, count - done))]
        # A running status of the block before no longer holds for what is meant by this one.
        wire = [0xF6, *_wire(meant, dice)]
        heard: list[tuple[int, ...]] = []
        at = 0
        while at < len(wire):
            size = dice.choice((1, 2, 3, 7, 400))
            heard += decoder.feed(wire[at : at + size])
            at += size
        row.tried += len(meant)
        if heard != meant:
            row.fail(f"{len(meant)} sent, {len(heard)} heard")
        done += len(meant)
    return row


def noise(dice: random.Random, count: int) -> Row:
    """Bytes by chance: no crash, sensible events only, nothing down that was not pressed, all up when silenced."""
    row = Row("random bytes")
    decoder, keyboard = Bytes(), Keyboard()
    down: set[int] = set()
    at = 0.0
    for _ in range(max(1, count // 1000)):
        for message in decoder.feed(dice.randbytes(3000)):
            at += dice.choice((0.0, 0.0003, 0.02))
            for event in keyboard.hear(message, at, dice.randrange(3)):
                _follow(row, event, down)
        row.tried += 1000
        row.check(down == set(keyboard.down), "keys down differ")
    for port in range(3):
        for event in keyboard.let_go(at, port):
            _follow(row, event, down)
    row.check(not down and not keyboard.down, "keys stay down for ever")
    return row


def _follow(row: Row, event: Event, down: set[int]) -> None:
    if isinstance(event, Press):
        if not (0 <= event.pitch <= 127 and 1 <= event.velocity <= 127):
            row.fail(f"{event}")
        down.add(event.pitch)
    elif isinstance(event, Release):
        if event.pitch not in down:
            row.fail("a key came up that was not down")
        down.discard(event.pitch)


def follower(dice: random.Random, times: int) -> Row:
    """A take, a storm of presses by chance in the middle of it, and the take again from the start: marked right."""
    row = Row("follower after a storm of presses")
    shares = []
    for number in range(times):
        piece = seeds.shelf()[number % len(seeds.shelf())]
        session = Session(piece, plan(piece.key, "+2"))
        notes = session.expected.notes
        at = 0.0
        for note in notes[: len(notes) // 2]:
            session.hear(Press(at := at + 0.4, note.midi))
        for _ in range(dice.choice((10, 100, 1000))):
            session.hear(Press(at := at + dice.uniform(0.0, 0.02), dice.randrange(128), dice.randrange(1, 128)))
        at += 3.0
        begun = len(session.marks)
        for note in notes:
            session.hear(Press(at := at + 0.4, note.midi))
        first = session.marks[begun:]
        row.tried += len(first)
        shares.append(sum(mark.cause == RIGHT for mark in first) / len(first))
    mean = sum(shares) / len(shares)
    if mean < AFTERWARDS or min(shares) < AT_WORST:
        row.fail(f"only {mean:.0%} of the notes after it were marked right, in the worst take {min(shares):.0%}")
    row.figures = (
        f"{mean:.1%} of the notes after it marked right as they came; in the worst of {times} takes {min(shares):.0%}"
    )
    return row


def names() -> Row:
    """What may be asked of any name gives an answer."""
    row = Row("odd names")
    for name in (*NAMES, "", " ", ":", "::", "a:b:c", "\n", "\x00", "\ud800", "9" * 5000):
        row.check(isinstance(stable_name(name), str) and isinstance(shown_name(name), str), name)
        row.check(find_port(name, [*NAMES, name]) is not None, f"{name!r} is not found again")
        row.check(isinstance(is_piano(name), bool), name)
    return row
