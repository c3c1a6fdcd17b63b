"""The path: in which order keys are opened, and what is remembered of each."""
