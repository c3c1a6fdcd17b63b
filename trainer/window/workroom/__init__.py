"""The second process: what it does, and how it is asked. Draws nothing."""
