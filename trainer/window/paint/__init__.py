"""What all screens are drawn of: boxes, text, signs, controls, and where they lie."""
