"""Which files of a folder are new and complete.

A file counts as complete when neither its size nor its time has changed for a while: an instrument writes for as long
as it likes. The folder is looked through again and again, which works on any file system; where the system tells of
changes, those only wake the watch earlier.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tracecore.errors import RequestError

if TYPE_CHECKING:
    from watchdog.observers.api import BaseObserver

SETTLE_S, LOOK_S = 2.0, 2.0
"""How long a file must be still, and how often the folder is looked through at least."""
UNFINISHED = (".part", ".tmp", ".partial", "~")
"""Endings under which programs write what they will rename when it is done (common practice)."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a file was when it was last looked at; ``since`` is when it became that, on the watch's clock."""

    size: int
    modified_ns: int
    since: float
    given: bool


class FolderWatch:
    """``ready`` gives each file once, again where it was written anew; ``wait`` sleeps until something may be there.

    With ``old`` False the files that are there at the start are left alone; ``leave`` names files that are no captures,
    such as a record that is kept in the folder. A folder that goes away and comes back is the same folder. Raises
    RequestError where it is not there at the start.
    """

    def __init__(
        self,
        folder: str | Path,
        *,
        old: bool = True,
        settle_s: float = SETTLE_S,
        leave: Iterable[str | Path] = (),
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.folder = Path(folder)
        self._settle_s, self._clock = settle_s, clock
        self._leave = frozenset(Path(path).absolute() for path in leave)
        self._seen: dict[Path, _Seen] = {}
        self._wake = threading.Event()
        self._observer: BaseObserver | None = None
        if not self.folder.is_dir():
            raise RequestError(f"{folder}: is no folder. Name the folder in which the captures land.")
        if not old:
            for path, size, modified in self._files() or ():
                self._seen[path] = _Seen(size, modified, self._clock(), True)

    def ready(self) -> tuple[Path, ...]:
        """Files that are complete and were not given yet, oldest first."""
        moment, found, there = self._clock(), [], set()
        files = self._files()
        if files is None:
            return ()
        for path, size, modified in files:
            there.add(path)
            seen = self._seen.get(path)
            if seen is None or (seen.size, seen.modified_ns) != (size, modified):
                self._seen[path] = seen = _Seen(size, modified, moment, False)
            if not seen.given and moment - seen.since >= self._settle_s and size > 0:
                self._seen[path] = _Seen(size, modified, seen.since, True)
                found.append((modified, path))
        for path in self._seen.keys() - there:
            del self._seen[path]
        return tuple(path for _, path in sorted(found))

    @property
    def growing(self) -> int:
        """How many files are there that are still being written."""
        return sum(not seen.given for seen in self._seen.values())

    def _files(self) -> list[tuple[Path, int, int]] | None:
        """Plain files with size and time; one that goes away meanwhile is left out. None while the folder is away."""
        found = []
        try:
            paths = list(self.folder.iterdir())
        except OSError:
            # a share that is away for a moment comes back, with the same files
            return None
        for path in paths:
            if path.name.startswith(".") or path.name.endswith(UNFINISHED) or path.absolute() in self._leave:
                continue
            try:
                state = path.stat()
            except OSError:
                continue
            if path.is_file():
                found.append((path, state.st_size, state.st_mtime_ns))
        return found

    # ---- waiting

    def start(self) -> None:
        """Lets the system tell of changes, where it can."""
        from watchdog.events import FileSystemEvent, FileSystemEventHandler
        from watchdog.observers import Observer

        wake = self._wake

        class Waker(FileSystemEventHandler):
            """Any change wakes the watch; what it was is looked up then."""

            def on_any_event(self, event: FileSystemEvent) -> None:
                if event.event_type not in ("opened", "closed_no_write"):
                    wake.set()

        observer = Observer()
        try:
            observer.schedule(Waker(), str(self.folder))
            observer.start()
        except (OSError, RuntimeError):
            # no events here (a network share, or no watches left): looking again and again must do
            return
        self._observer = observer

    def wait(self, most_s: float = LOOK_S) -> None:
        """Sleeps until a change is told, or for ``most_s`` seconds."""
        if self._wake.wait(min(most_s, self._settle_s) if self.growing else most_s):
            self._wake.clear()
            # a burst of events while a file grows must not make this a busy loop
            time.sleep(min(0.05, most_s))

    def wake(self) -> None:
        """Ends a ``wait`` of another thread."""
        self._wake.set()

    def stop(self) -> None:
        """Lets go of the system's watch."""
        if self._observer is not None:
            self._observer.stop()
            self._observer.join()
            self._observer = None
