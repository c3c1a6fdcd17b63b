"""The measurements behind tools/bench.py, one file a subject."""
