"""One file that the program writes: whole or not at all, never over what it reads, and a device is written to."""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path

from tracecore.errors import RequestError

LEFT_AFTER_S = 600.0
"""What lies beside its place for so long is nobody's work in hand: numbers of programs come again."""


def write_bytes(path: str | Path, data: bytes) -> Path:
    """Writes one file; an older one is replaced once the new one is whole.

    Raises RequestError where ``check_output`` does, OSError where the disk does not take it; nothing is left then.
    """
    check_output(path)
    path = Path(path)
    try:
        _write(path, data)
    except OSError as error:
        # the hidden name beside the place would tell a person nothing
        raise OSError(error.errno, error.strerror, str(path)) from error
    return path


def _write(path: Path, data: bytes) -> None:
    if path.exists() and not path.is_file():
        # a device or a pipe takes what is written; it is nothing to replace
        with path.open("wb") as device:
            device.write(data)
        return
    # through a link its file is replaced, not the link
    place = path.resolve() if path.is_symlink() else path
    for left in left_beside(place, "new"):
        left.unlink(missing_ok=True)
    fresh = beside(place, "new")
    try:
        fresh.write_bytes(data)
        os.replace(fresh, place)
    finally:
        fresh.unlink(missing_ok=True)


def write_text(path: str | Path, text: str) -> Path:
    """Writes one file of text as UTF-8, as ``write_bytes`` does; what is no text in a name is written as a code."""
    return write_bytes(path, text.encode("utf-8", "backslashreplace"))


def check_output(path: str | Path, inputs: Iterable[str | Path] = ()) -> None:
    """Raises RequestError where a file cannot be written there: no name, a folder, or one of the ``inputs``."""
    if not str(path).strip():
        raise RequestError("The name of the file to write is empty. Name a file.")
    path = Path(path)
    if path.is_dir():
        raise RequestError(f"{path} is a folder; a file name is needed. Name a file inside it.")
    for name in inputs:
        if is_same_file(path, Path(name)):
            raise RequestError(f"{path} is also read by this command, so it is not written over. Name another file.")


def is_same_file(one: Path, other: Path) -> bool:
    """Are the two one file, or will they be?"""
    try:
        return one.samefile(other)
    except OSError:
        return one.resolve() == other.resolve()


def beside(path: Path, what: str) -> Path:
    """A hidden name beside ``path``, so that the last move stays on one disk."""
    absolute = path.absolute()
    return absolute.with_name(f".{absolute.name}.{what}-{os.getpid()}")


def left_beside(path: Path, what: str) -> list[Path]:
    """What a program that was killed left beside ``path``, under a name that ``beside`` gave it."""
    absolute = path.absolute()
    head = f".{absolute.name}.{what}-"
    if not absolute.parent.is_dir():
        return []
    try:
        found = [entry for entry in absolute.parent.iterdir() if entry.name.startswith(head)]
    except OSError:
        return []
    return sorted(entry for entry in found if _is_left(entry, entry.name[len(head) :]))


def _is_left(entry: Path, number: str) -> bool:
    """Was it left by a program that runs no more, or a long while ago?"""
    if not number.isdecimal():
        return False
    try:
        if time.time() - entry.lstat().st_ctime > LEFT_AFTER_S:
            return True
        if os.name == "nt" or int(number) == os.getpid():
            return False
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False
