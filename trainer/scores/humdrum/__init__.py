"""Humdrum: **kern spines to parts and bars as written."""
