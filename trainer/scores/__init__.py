"""Music in and out: reading, writing, engraving, the shelf. The only room that knows music21 and verovio."""
