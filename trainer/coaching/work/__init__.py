"""Work set by a teacher, and what goes to and fro with it."""
