"""The accompanist: keys for a voice, a choir or an instrument, set lists, warm-ups."""
