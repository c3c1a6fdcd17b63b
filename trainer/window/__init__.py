"""The screens, drawn with pygame: Desk, Stand, Marked copy, Keys, Singer, Setup."""

import os

# Before pygame is imported anywhere: it would greet on the console.
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
