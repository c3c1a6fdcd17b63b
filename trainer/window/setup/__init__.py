"""Setup: the piano, its sound, the page, practice, players and the journal."""
