"""The engraved page and the pencil on it."""
