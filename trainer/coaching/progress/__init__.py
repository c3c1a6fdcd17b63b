"""What a player has come to, in figures and in words."""
