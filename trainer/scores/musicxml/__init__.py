"""MusicXML 4.0 to parts and bars as written."""
