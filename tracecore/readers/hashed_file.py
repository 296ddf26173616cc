"""A file whose SHA-256 is made while it is read."""

from __future__ import annotations

import hashlib
import io
import threading
from queue import Queue

_WAITING = 2
"""Pieces of a file that may wait for their hash when the next one is read."""


class HashedFile(io.RawIOBase):
    """Hashes what passes through; large files in a thread of its own, as hashing takes longer than reading.

    Pieces of up to ``at_once`` bytes are hashed at once, until the first larger one.
    """

    def __init__(self, file: io.RawIOBase, at_once: int) -> None:
        self._at_once = at_once
        self._inner = file
        self._digest = hashlib.sha256()
        self._worker: threading.Thread | None = None
        self._pieces: Queue[bytes | None] = Queue(_WAITING)

    def read(self, size: int = -1) -> bytes:
        data = self._inner.read(size) or b""
        self._hash(data)
        return data

    def _hash(self, data: bytes) -> None:
        if self._worker is None and len(data) <= self._at_once:
            self._digest.update(data)
            return
        if self._worker is None:
            self._worker = threading.Thread(target=self._work, name="hash")
            self._worker.start()
        self._pieces.put(data)

    def _work(self) -> None:
        while (data := self._pieces.get()) is not None:
            self._digest.update(data)

    def hexdigest(self) -> str:
        """The SHA-256 of all that was read."""
        self.stop()
        return self._digest.hexdigest()

    def stop(self) -> None:
        """Ends the thread, once all that was read is hashed."""
        if self._worker is not None:
            self._pieces.put(None)
            self._worker.join()
            self._worker = None

    def readable(self) -> bool:
        return True
