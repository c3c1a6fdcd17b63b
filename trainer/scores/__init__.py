"""Music in and out: reading, writing, engraving, the shelf. The only room that calls music21 and verovio."""
