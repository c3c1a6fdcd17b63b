"""What the player hears: MIDI out or a built-in tone, click, cadence, model."""
