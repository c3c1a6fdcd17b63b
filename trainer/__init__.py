"""Keyfarer: read a piece in its written key, play it in another, be marked."""
