"""What the player says of a piece, kept as plain data: chords put right, fingers of their own."""
