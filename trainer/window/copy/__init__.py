"""The Marked copy: a take at its end, and what to do next."""
