"""The screens, drawn with pygame: Desk, Stand, Marked copy, Keys, Singer, Setup."""
