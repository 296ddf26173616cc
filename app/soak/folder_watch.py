"""Which files of a folder are new and complete.

A file counts as complete when neither its size nor its time has changed for a while: an instrument writes for as long
as it likes. The folder is looked through again and again, which works on any file system; where the system tells of
changes, those only wake the watch earlier.
"""

from __future__ import annotations

import contextlib
import os
import stat
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from tracecore.errors import RequestError

if TYPE_CHECKING:
    from watchdog.observers.api import BaseObserver

SETTLE_S, LOOK_S = 2.0, 2.0
"""How long a file must be still, and how often the folder is looked through at least."""
MOST_GONE = 100_000
"""So many files that went away are known again when they come back."""
UNFINISHED = (".part", ".tmp", ".partial", "~")
"""Endings under which programs write what they will rename when it is done (common practice)."""


State = tuple[int, int]
"""What a file is when it is looked at: its size in bytes, and when it was written in ns."""


class FolderWatch:
    """``ready`` gives each file once, again where it was written anew; ``wait`` sleeps until something may be there.

    With ``old`` False the files that are there at the start are left alone; ``leave`` names files that are no captures,
    such as a record that is kept in the folder. A file that goes away and comes back as it was is the same file, and so
    is a whole folder. Raises RequestError where the folder is not there at the start.
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
        home = self.folder.resolve()
        named = (Path(path).absolute() for path in leave)
        self._leave = {way.name for path in named for way in _ways(path) if way.parent == home}
        # by name, since a path for each of a hundred thousand files would take three times the memory
        # what still grows also has the moment of the watch's clock since which it has been so
        self._growing: dict[str, tuple[State, float]] = {}
        self._given: dict[str, State] = {}
        self._gone: dict[str, State] = {}
        self._looked_s = 0.0
        self._wake = threading.Event()
        self._observer: BaseObserver | None = None
        if not self.folder.is_dir():
            raise RequestError(f"{folder}: is no folder. Name the folder in which the captures land.")
        if not old:
            self._given.update(self._files() or {})

    def know(self, given: Mapping[str, State]) -> None:
        """Names files that an earlier watch gave, with size and time in ns: they are given again where they changed."""
        self._gone.update(given)

    def ready(self) -> tuple[Path, ...]:
        """Files that are complete and were not given yet, oldest first."""
        moment, found = self._clock(), []
        begun = time.monotonic()
        files = self._files()
        self._looked_s = time.monotonic() - begun
        if files is None:
            return ()
        for name, state in files.items():
            if self._given.get(name) == state:
                continue
            self._given.pop(name, None)
            last, since = self._growing.pop(name, (state, moment))
            since = since if last == state else moment
            # one that comes back slowly is not yet what it was
            known = self._gone.get(name) == state
            if not known and (moment - since < self._settle_s or not state[0]):
                self._growing[name] = state, since
                continue
            self._gone.pop(name, None)
            self._given[name] = state
            if not known:
                found.append((state[1], name))
        for name in self._growing.keys() - files.keys():
            del self._growing[name]
        for name in self._given.keys() - files.keys():
            self._gone[name] = self._given.pop(name)
        while len(self._gone) > MOST_GONE:
            del self._gone[next(iter(self._gone))]
        return tuple(self.folder / name for _, name in sorted(found))

    def still(self, path: Path) -> bool:
        """Is a file that was given still as it was? One that is written anew meanwhile will be given again."""
        try:
            state = path.stat()
        except OSError:
            # whoever reads it says what is wrong
            return True
        return self._given.get(path.name) in (None, (state.st_size, state.st_mtime_ns))

    @property
    def growing(self) -> int:
        """How many files are there that are still being written."""
        return len(self._growing)

    def _files(self) -> dict[str, State] | None:
        """Plain files by name; one that goes away meanwhile is left out. None while the folder is away."""
        found = {}
        try:
            with os.scandir(self.folder) as entries:
                for entry in entries:
                    if entry.name.startswith(".") or entry.name.endswith(UNFINISHED) or entry.name in self._leave:
                        continue
                    with contextlib.suppress(OSError):
                        state = entry.stat()
                        if stat.S_ISREG(state.st_mode):
                            found[entry.name] = state.st_size, state.st_mtime_ns
        except OSError:
            # a share that is away for a moment comes back, with the same files
            return None
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
            # a burst of events must not make this a busy loop, least of all in a folder that takes long to look through
            time.sleep(min(max(0.05, 4 * self._looked_s), most_s))

    def wake(self) -> None:
        """Ends a ``wait`` of another thread."""
        self._wake.set()

    def stop(self) -> None:
        """Lets go of the system's watch."""
        if self._observer is not None:
            self._observer.stop()
            self._observer.join()
            self._observer = None


def _ways(path: Path) -> tuple[Path, Path]:
    """Where a file is, and where its name is, links of folders followed."""
    return path.resolve(), path.parent.resolve() / path.name
