"""The screens, drawn with pygame: Desk, Stand, Marked copy, Keys, Singer, Setup."""

import os
import sys

from trainer.listening.quiet import hide_greeting

# Before pygame is imported anywhere.
hide_greeting()

# A window painted by the processor goes to an X server directly: through OpenGL without a graphics card every frame
# costs 20 times as much and 120 MB. (Wayland has no other way than OpenGL.)
if sys.platform.startswith("linux") and os.environ.get("SDL_VIDEODRIVER") != "wayland":
    os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
