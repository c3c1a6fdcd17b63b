"""What to play today."""
