"""Work that lasts, off the GUI thread: a request with an id that returns a result.

Only the newest request of a kind is answered; an older one is asked to stop, and what it still says is dropped.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Signal

from app.model.workers import Post, Workers
from app.trouble_log import unforeseen
from tracecore.errors import TwinslotError

Work = Callable[[Callable[[float, str], None]], Any]
"""Does the work; gets a function to report a share (0 to 1) and words with, which raises where it is to stop."""


class JobStopped(Exception):
    """Raised inside the work where the person, or a newer request, asked it to stop."""


@dataclass(frozen=True)
class Progress:
    """How far the work is: a share from 0 to 1, and words."""

    share: float
    words: str


@dataclass(frozen=True, eq=False)
class Ended:
    """What came of the work: its result, or one sentence why there is none."""

    result: Any
    sentence: str


class Jobs(QObject):
    """Runs at most one request of each kind; all is heard on the GUI thread."""

    progressed = Signal(str, float, str)
    started = Signal(str)
    ended = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._newest: dict[str, int] = {}
        self._answers: dict[str, tuple[Callable[[Any], None], Callable[[str], None]]] = {}
        self._stops: dict[str, threading.Event] = {}
        self._workers = Workers(self)
        self._next = 0

    def request(self, kind: str, work: Work, answer: Callable[[Any], None], failed: Callable[[str], None]) -> int:
        """Starts ``work``; ``answer`` gets its result, ``failed`` one sentence. Returns the request's id."""
        self.stop(kind, quietly=True)
        self._next += 1
        number = self._next
        stop = threading.Event()
        self._newest[kind], self._stops[kind], self._answers[kind] = number, stop, (answer, failed)
        self.started.emit(kind)
        self._workers.start(
            f"job-{kind}",
            lambda post: _run(work, stop, post),
            lambda heard: self._on_heard(kind, number, heard),
        )
        return number

    def busy(self, kind: str) -> bool:
        """Is a request of this kind waiting for its answer?"""
        return kind in self._newest

    @property
    def idle(self) -> bool:
        """Is nothing waiting for an answer?"""
        return not self._newest

    def stop(self, kind: str, quietly: bool = False) -> None:
        """Asks the request of this kind to stop; its answer is dropped."""
        if kind not in self._newest:
            return
        self._stops.pop(kind).set()
        self._newest.pop(kind)
        self._answers.pop(kind)
        if not quietly:
            self.ended.emit(kind)

    def stop_all(self) -> None:
        """Stops everything and waits until no thread is left."""
        for kind in tuple(self._newest):
            self.stop(kind, quietly=True)
        self._workers.join_all(5)

    def _on_heard(self, kind: str, number: int, heard: Progress | Ended) -> None:
        if self._newest.get(kind) != number:
            return
        if isinstance(heard, Progress):
            self.progressed.emit(kind, heard.share, heard.words)
            return
        answer, failed = self._answers.pop(kind)
        self._newest.pop(kind)
        self._stops.pop(kind)
        self.ended.emit(kind)
        if heard.sentence:
            failed(heard.sentence)
        else:
            answer(heard.result)


def _run(work: Work, stop: threading.Event, post: Post) -> None:
    def tell(share: float, words: str) -> None:
        if stop.is_set():
            raise JobStopped
        post(Progress(share, words))

    try:
        result, sentence = work(tell), ""
    except JobStopped:
        return
    except TwinslotError as error:
        result, sentence = None, str(error)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        reason = error.strerror or error
        result, sentence = None, f"{where}cannot be read or written ({reason}). Check the path and the disk."
    except MemoryError:
        result, sentence = None, "Not enough memory for these captures. Compare a shorter stretch."
    except Exception as error:  # noqa: BLE001 - a job that ends without an answer would stay busy for good
        result, sentence = None, unforeseen(error)
    post(Ended(result, sentence))
