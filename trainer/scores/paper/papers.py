"""The papers there are."""

# Widths and heights in mm. Sources: ISO 216 (A4); ANSI/ASME Y14.1 (Letter, 8.5 by 11 inches).
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

# The fingers of music alone in a key: those printed as they serve there, one for every note, or none.
PRINTED, EVERY, NONE = "printed", "every", "none"
FINGERS = (PRINTED, EVERY, NONE)
