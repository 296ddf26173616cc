"""A lock on an open file, which the system lets go of however the process ends; on POSIX and on Windows."""

from __future__ import annotations

import errno
import importlib
import os
from collections.abc import Callable
from typing import Any

LOCKED_BYTE = 0x7FFF_FFF0
"""On Windows a locked stretch can be neither read nor written by others, so a byte beyond any record is locked: just
below 2 GiB, which every version of its C library can reach. A lock beyond the end of a file is allowed there (both from
memory of Microsoft's pages on LockFileEx and _locking)."""


def lock_file(place: int) -> bool:
    """Locks the open file ``place`` until it is closed; False where the file system knows no locks.

    Raises BlockingIOError where it is locked through another opening of it, in whatever process.
    """
    try:
        import fcntl
    except ImportError:
        return _told(lambda: _lock_byte(place))
    return _told(lambda: fcntl.flock(place, fcntl.LOCK_EX | fcntl.LOCK_NB))


def _lock_byte(place: int) -> None:
    # known to type checkers on Windows alone
    msvcrt: Any = importlib.import_module("msvcrt")
    os.lseek(place, LOCKED_BYTE, os.SEEK_SET)
    msvcrt.locking(place, msvcrt.LK_NBLCK, 1)


def _told(lock: Callable[[], object]) -> bool:
    try:
        lock()
    except OSError as error:
        if error.errno in (errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK):
            raise BlockingIOError(error.errno, "another watch keeps it") from error
        return False
    return True
