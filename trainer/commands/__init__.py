"""One file a command: its words, and the room it hands over to."""
