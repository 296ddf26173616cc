"""Files outside a case that a person agreed to have read.

A case names files of its captures by path, and a case may come from anybody: such a file is read only after somebody
has said yes to that very path, or chose the file on this machine. What was agreed to is kept in the person's own data
folder, never in the case.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

from app.case.scratch import scratch_folder

MOST_KEPT = 2000
_NAME = "linked_files.json"


class LinkedFiles:
    """The files that were agreed to, each as its SHA-256 and its path; ``path`` None takes the usual place."""

    def __init__(self, path: Path | None = None) -> None:
        self._path = path or _usual_place()
        self._agreed = self._read()

    def allows(self, sha256: str, path: str | Path) -> bool:
        """May the file at that path be read as the one of that hash?"""
        return (sha256, _absolute(path)) in self._agreed

    def agree(self, sha256: str, path: str | Path) -> None:
        """Somebody chose that file, or said yes to it. Where that cannot be kept it holds until the program ends."""
        key = sha256, _absolute(path)
        if key in self._agreed:
            return
        self._agreed[key] = None
        while len(self._agreed) > MOST_KEPT:
            del self._agreed[next(iter(self._agreed))]
        try:
            self._write()
        except OSError:
            return

    def _read(self) -> dict[tuple[str, str], None]:
        if self._path is None:
            return {}
        try:
            rows = json.loads(self._path.read_text("utf-8"))
            return {(str(sha256), str(path)): None for sha256, path in rows}
        except (OSError, ValueError, TypeError):
            # nothing was agreed to yet, or it cannot be read: then it is asked again
            return {}

    def _write(self) -> None:
        if self._path is None:
            return
        self._path.parent.mkdir(parents=True, exist_ok=True)
        beside = self._path.with_name(f".{_NAME}.{os.getpid()}")
        beside.write_text(json.dumps([list(key) for key in self._agreed]), "utf-8")
        os.replace(beside, self._path)


def _usual_place() -> Path | None:
    try:
        return scratch_folder().with_name(_NAME)
    except OSError:
        return None


def _absolute(path: str | Path) -> str:
    return os.path.abspath(path)
