"""Keys: the twenty-four keys, one of them closely, and how everything grew."""
