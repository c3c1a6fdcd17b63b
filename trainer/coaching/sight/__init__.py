"""Prima vista: the rating, fresh pieces, the test."""
