"""What is written: pitches, keys, syllables, pieces. Pure values and functions, no third-party import."""
