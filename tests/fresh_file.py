"""Files that a test writes over and over: in one folder, each new.

A folder made and taken away for each of a thousand small files, or one file written over itself, waits for the disk
every time; a file that is taken away and made again does not.
"""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path


@cache
def _folder() -> Path:
    made = Path(tempfile.mkdtemp(prefix="twinslot-tests-"))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return made


def empty_folder() -> Path:
    """The folder of this process, with nothing in it."""
    for left in _folder().iterdir():
        left.unlink()
    return _folder()


def fresh_file(name: str, data: bytes) -> Path:
    """A new file of that name, alone in its folder."""
    path = empty_folder() / name
    path.write_bytes(data)
    return path
