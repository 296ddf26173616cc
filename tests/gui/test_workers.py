"""Workers never collect garbage and never touch Qt: their words wait in a queue for the GUI thread."""

from __future__ import annotations

import gc
import threading

import pytest

from app.model.workers import Workers


class _Cycle:
    """Garbage that only the collector frees; remembers the thread that freed it."""

    def __init__(self, freed_on: list[threading.Thread]) -> None:
        self.me, self.freed_on = self, freed_on

    def __del__(self) -> None:
        self.freed_on.append(threading.current_thread())


@pytest.fixture
def hungry_collector():
    """The collector runs at every few allocations, so that the wrong thread would soon collect."""
    before = gc.get_threshold()
    gc.set_threshold(10, 2, 2)
    yield
    gc.set_threshold(*before)


def test_garbage_is_collected_by_the_gui_thread_alone(qtbot, hungry_collector) -> None:
    workers, freed_on, heard, gate = Workers(), [], [], threading.Event()

    def work(post) -> None:
        for number in range(500):
            _Cycle(freed_on)
            post([number])
        gate.wait(10)

    workers.start("allocates", work, heard.append)
    qtbot.waitUntil(lambda: len(freed_on) > 100, timeout=120_000)  # while the worker lives, and not only after it
    gate.set()
    workers.join_all(10)
    assert heard == [[number] for number in range(500)]
    assert set(freed_on) == {threading.main_thread()}


def test_python_collects_by_its_own_rule_when_no_worker_is_left(qtbot) -> None:
    workers, gate = Workers(), threading.Event()
    first = workers.start("first", lambda _post: None, print)
    workers.start("second", lambda _post: gate.wait(10), print)
    workers.join(first)
    assert not gc.isenabled()
    gate.set()
    workers.join_all(10)
    assert gc.isenabled()


def test_what_is_heard_is_heard_on_the_gui_thread_in_order(qtbot) -> None:
    workers, heard = Workers(), []

    def work(post) -> None:
        for number in range(3):
            post(number)

    workers.start("counts", work, lambda number: heard.append((number, threading.current_thread())))
    qtbot.waitUntil(lambda: len(heard) == 3, timeout=120_000)
    assert heard == [(number, threading.main_thread()) for number in range(3)]


def test_last_words_are_heard_where_the_worker_is_waited_for(qtbot) -> None:
    workers, heard = Workers(), []
    worker = workers.start("says one thing", lambda post: post("done"), heard.append)
    workers.join(worker)
    assert heard == ["done"]
