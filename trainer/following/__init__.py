"""Where the player is, and why it went wrong. Pure; numpy only."""
