"""A piece onto the page: written as MusicXML, engraved system by system."""
