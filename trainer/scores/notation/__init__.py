"""A score as it is written, whatever file it came from, and the piece it is when played."""
