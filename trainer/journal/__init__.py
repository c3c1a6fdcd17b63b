"""The record of all takes: SQLite, figures, exports."""
