"""A soak beside the window: a worker watches the folder, and what landed is heard on the GUI thread."""

from __future__ import annotations

import threading
from collections import deque
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from app.case.changes import Put
from app.case.proof_words import helped
from app.case.values import Entry, Proof, now
from app.model.session import Session
from app.model.workers import Post, Worker, Workers
from app.soak.folder_watch import SETTLE_S, FolderWatch
from app.soak.soak import Count, News, Soak, run_soak
from app.trouble_log import unforeseen
from tracecore.errors import TwinslotError
from tracecore.repeats.table import RepeatTable

KEPT = 1000
"""So many of the latest news are kept to be looked at; the counts hold for all."""


class SoakWatch(QObject):
    """``landed`` carries the News of each file; ``ended`` an empty text, or why it could not go on."""

    landed = Signal(object)
    ended = Signal(str)

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._stop = threading.Event()
        self._workers = Workers(self)
        self._worker: Worker | None = None
        self._watch: FolderWatch | None = None
        self._soak: Soak | None = None
        self.news: deque[News] = deque(maxlen=KEPT)

    @property
    def running(self) -> bool:
        """Is a folder being watched?"""
        return self._worker is not None

    @property
    def count(self) -> Count:
        """The counts so far."""
        return self._soak.count if self._soak is not None else Count()

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the captures so far show."""
        return self._soak.sentences if self._soak is not None else ()

    @property
    def table(self) -> RepeatTable:
        """The counts by signal."""
        return self._soak.table if self._soak is not None else RepeatTable()

    def start(self, folder: str | Path, *, old: bool = True, settle_s: float = SETTLE_S) -> None:
        """Watches a folder against the case's known-good captures. Raises RequestError where there is no folder."""
        self.stop()
        watch = FolderWatch(folder, old=old, settle_s=settle_s)
        self._watch, self._soak, self._stop = watch, None, threading.Event()
        self.news.clear()
        case, shelf, stop = self._session.case, self._session.shelf, self._stop

        def work(post: Post) -> None:
            from app.case.landed_names import naming
            from tracecore.capture_series import SeriesRequest, reference

            sentence = ""
            try:
                good = tuple(shelf.load(held) for held in case.good.shown_first)
                request = SeriesRequest(good, case.sheet, **case.settings.named)
                self._soak = Soak(reference(request), named=naming(case.suspect, good[0].channels))
                run_soak(self._soak, watch, post, stop)
            except TwinslotError as error:
                sentence = str(error)
            except MemoryError:
                sentence = "Not enough memory for the known-good captures. Take shorter ones."
            except OSError as error:
                sentence = f"{error.filename or folder}: cannot be read ({error.strerror or error}). Check the folder."
            except Exception as error:  # noqa: BLE001 - a thread that dies unheard leaves the form waiting
                sentence = unforeseen(error)
            post(sentence)

        self._worker = self._workers.start("soak", work, self._hear)

    def _hear(self, what: News | str) -> None:
        if isinstance(what, News):
            self.landed.emit(what)
            return
        self._worker = None  # who hears of the end must not take it for running
        self.ended.emit(what)

    def ask_to_stop(self) -> None:
        """Ends the watch when the capture in hand is finished; ``ended`` tells when that is."""
        self._stop.set()
        if self._watch is not None:
            self._watch.wake()

    @property
    def stopping(self) -> bool:
        """Was it asked to stop, and is still at work?"""
        return self.running and self._stop.is_set()

    def stop(self) -> None:
        """Ends the watch and waits for it."""
        self.ask_to_stop()
        if self._worker is not None:
            self._workers.join(self._worker)

    def write_in_log(self) -> bool:
        """Enters what was counted as a result with its proof; False where nothing was compared or it was not kept."""
        table = self.table
        if not table.captures:
            return False
        text = table.proof().sentence
        proof = Proof(table.diverging, table.captures, f"folder {self._folder_name()}", table.uncounted)
        author = self._session.author
        return self._session.change(Put(Entry(0, "result", text, author, now(), helped=helped(proof), proof=proof)))

    def _folder_name(self) -> str:
        return self._watch.folder.name if self._watch is not None else ""
