"""Where the program keeps what belongs to a person and to no case: settings, unnamed cases, what went wrong."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Literal


def own_folder(what: Literal["config", "data", "log"]) -> Path:
    """TWINSLOT_SETTINGS where that is set, else the person's own folder for such things, as the system has it.

    Raises OSError where the person has none: a service's user may lack a home.
    """
    named = os.environ.get("TWINSLOT_SETTINGS")
    if named:
        return Path(named)
    import platformdirs

    try:
        if what == "config":
            path = platformdirs.user_config_path("twinslot", appauthor=False)
        elif what == "data":
            path = platformdirs.user_data_path("twinslot", appauthor=False)
        else:
            path = platformdirs.user_log_path("twinslot", appauthor=False)
    except RuntimeError:
        path = Path()
    if not path.is_absolute():
        raise FileNotFoundError(errno.ENOENT, "this user has no home folder", "~")
    return path
