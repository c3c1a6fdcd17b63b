"""``keyfarer ports``: the MIDI inputs and outputs there are, and the last key pressed."""

from __future__ import annotations

import argparse
import time

from trainer.listening.ports import NO_PORTS, Ports, shown_name
from trainer.listening.press import Press
from trainer.music.pitch import SpelledPitch

_NAMES = ("C4", "C#4", "D4", "Eb4", "E4", "F4", "F#4", "G4", "Ab4", "A4", "Bb4", "B4")
LOOP_S = 0.02


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--watch", action="store_true", help="go on and print every key pressed; stop with Ctrl-C")
    parser.epilog = "KEYFARER_MIDI=alsa|jack|coremidi|windows|pygame chooses the driver."


def run(args: argparse.Namespace) -> int:
    ports = Ports()
    try:
        _list(ports)
        if args.watch:
            _watch(ports)
    finally:
        ports.close()
    return 0


def pitch_name(midi: int) -> str:
    """A key of the piano as it is usually spelled: ``60`` is C4, ``61`` C sharp, ``70`` B flat."""
    common = SpelledPitch.parse(_NAMES[midi % 12])
    return f"{common.sign_name}{midi // 12 - 1}"


def _list(ports: Ports) -> None:
    inputs, outputs = ports.names(), ports.outputs()
    if ports.trouble:
        print(ports.trouble)
    if not inputs and not outputs:
        if not ports.trouble:
            print(NO_PORTS)
        return
    print(f"MIDI through {ports.driver}")
    for title, names, empty in (
        ("Inputs, heard by themselves:", inputs, "none: connect the piano and switch it on"),
        ("Outputs, played on when chosen in Setup:", outputs, "none: sound comes from this computer"),
    ):
        print(title)
        for name in map(shown_name, names) if names else [empty]:
            print(f"  {name}")


def _watch(ports: Ports) -> None:
    print("Press a key of the piano; Ctrl-C stops.", flush=True)
    try:
        while True:
            for line in ports.watch():
                print(line, flush=True)
            for event in ports.pending():
                if isinstance(event, Press) and ports.last is not None:
                    print(f"{_pressed(event)}  {shown_name(ports.last[0])}", flush=True)
            time.sleep(LOOP_S)
    except KeyboardInterrupt:
        print()


def _pressed(press: Press) -> str:
    return f"{pitch_name(press.pitch):<4} note {press.pitch:<3} velocity {press.velocity:<3}"
