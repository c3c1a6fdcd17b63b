"""Presses from outside: real MIDI ports, recorded takes, the computer keyboard."""
