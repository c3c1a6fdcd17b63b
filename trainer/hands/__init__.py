"""The keyboard under the hand: geometry, positions, fingering."""
