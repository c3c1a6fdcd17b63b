"""ABC: a tune, or a book of tunes, to parts and bars as written."""
