"""The shelf: the pieces that come along and the player's own."""
