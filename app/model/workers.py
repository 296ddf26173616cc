"""Threads beside the GUI thread: they never touch a Qt object, and never collect one as garbage.

A thread that emits signals, or that runs Python's garbage collector while widgets lie in cycles, frees what the GUI
thread is just using; the process then dies. So a worker only puts its words into a queue, the GUI thread takes them out
by a timer, and as long as any worker lives the GUI thread alone collects garbage.
"""

from __future__ import annotations

import gc
import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import QObject, QTimer

Post = Callable[[Any], None]
"""Says something from within the thread; it is heard on the GUI thread, in the order in which it was said."""

TAKE_OUT_MS = 5
"""A word waits no longer than this for the GUI thread; a person sees nothing below some 50 ms."""
FULL_SHARE = 0.05
"""Collecting the oldest generation may take this share of the time: it stops everything for its length."""


@dataclass(eq=False)
class Worker:
    """One thread at work. Holds its ``work`` until the end, so that nothing in it is freed by the thread itself."""

    work: Callable[[Post], None]
    heard: Callable[[Any], None]
    thread: threading.Thread = field(init=False)
    said: queue.SimpleQueue[Any] = field(default_factory=queue.SimpleQueue)

    @property
    def alive(self) -> bool:
        """Does the thread still run?"""
        return self.thread.is_alive()

    def hear(self) -> None:
        """Hands on what was said so far; on the GUI thread only."""
        for _ in range(self.said.qsize()):  # what it goes on saying meanwhile waits for the next time
            self.heard(self.said.get())


class Workers(QObject):
    """Starts workers and hears them; made and used on the GUI thread."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._workers: list[Worker] = []
        self._timer = QTimer(self)
        self._timer.setInterval(TAKE_OUT_MS)
        self._timer.timeout.connect(self._take_out)

    def start(self, name: str, work: Callable[[Post], None], heard: Callable[[Any], None]) -> Worker:
        """Runs ``work`` on a thread of that name; ``heard`` gets each thing that it posts, on the GUI thread."""
        worker = Worker(work, heard)
        worker.thread = threading.Thread(target=_run, args=(worker,), name=name, daemon=True)
        self._workers.append(worker)
        _collecting.begin()
        worker.thread.start()
        self._timer.start()
        return worker

    def join(self, worker: Worker, seconds: float | None = None) -> None:
        """Waits for a worker and hears its last words."""
        worker.thread.join(seconds)
        self._take_out()

    def join_all(self, seconds: float) -> None:
        """Waits for each worker, at most so long; what is still said is heard."""
        for worker in tuple(self._workers):
            worker.thread.join(seconds)
        self._take_out()

    def _take_out(self) -> None:
        for worker in tuple(self._workers):
            alive = worker.alive  # asked first: what is said before the end is then in the queue
            worker.hear()
            if not alive and worker in self._workers:  # who heard it may have waited for it, and taken it out
                self._workers.remove(worker)
                _collecting.end()
        if not self._workers:
            self._timer.stop()
        _collecting.collect_if_due()


def _run(worker: Worker) -> None:
    worker.work(worker.said.put)


class _Collecting:
    """Garbage is collected by the GUI thread alone while workers live, and by Python's own rule otherwise."""

    def __init__(self) -> None:
        self._living = 0
        self._was_on = True
        self._full_again = 0.0

    def begin(self) -> None:
        if self._living == 0:
            self._was_on = gc.isenabled()
            gc.disable()
        self._living += 1

    def end(self) -> None:
        self._living -= 1
        if self._living == 0 and self._was_on:
            gc.enable()

    def collect_if_due(self) -> None:
        """What Python's own rule would do at an allocation, here at a point where no Qt call is under way."""
        if self._living == 0:
            return
        young, middle, old = gc.get_count()
        limits = gc.get_threshold()
        if not limits[0] or young <= limits[0]:
            return
        if old > limits[2] and time.monotonic() >= self._full_again:
            began = time.monotonic()
            gc.collect()
            ended = time.monotonic()
            self._full_again = ended + (ended - began) / FULL_SHARE
        else:
            gc.collect(1 if middle > limits[1] else 0)


_collecting = _Collecting()
