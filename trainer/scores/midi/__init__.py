"""Standard MIDI Files to pieces."""
