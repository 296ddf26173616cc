"""Is there a display that a window could open on?"""

from __future__ import annotations

import os
import sys


def has_display() -> bool:
    """Can a window open here? X11 and Wayland say so in the environment; other systems always have one."""
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
