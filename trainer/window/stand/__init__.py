"""The Stand: the piece in its written key, played in another."""
