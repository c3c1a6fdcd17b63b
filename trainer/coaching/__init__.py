"""What to play next: the path, reviews, sight reading, accompanying."""
