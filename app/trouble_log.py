"""What nobody foresaw: one sentence for the person, and the whole of it in a file for whoever mends the program."""

from __future__ import annotations

import traceback
from datetime import datetime
from pathlib import Path

from app.own_folders import own_folder

MOST_BYTES = 1 << 20
"""The file begins anew beyond this, so that a loop of errors does not fill a disk."""


def log_path() -> Path:
    """Where it is kept. Raises OSError where the person has no folder for it."""
    return own_folder("log") / "trouble.log"


def unforeseen(error: BaseException) -> str:
    """Takes an error down and returns the sentence that tells of it. Never raises."""
    told = f"Something went wrong that this program did not foresee ({type(error).__name__})"
    try:
        path = log_path()
        path.parent.mkdir(parents=True, exist_ok=True)
        mode = "w" if path.exists() and path.stat().st_size > MOST_BYTES else "a"
        with path.open(mode, encoding="utf-8", errors="backslashreplace") as log:
            log.write(f"{datetime.now().isoformat(timespec='seconds')}\n{''.join(traceback.format_exception(error))}\n")
    except OSError:
        # no home folder, no room: the sentence alone must do
        return f"{told}. Nothing is decided by it. It could not be written to a file."
    return f"{told}. Nothing is decided by it. {path} tells where; send that file to whoever looks after the program."
