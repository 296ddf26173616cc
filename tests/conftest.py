"""Fences around every test: settings of its own, no screen, and nothing left behind."""

from __future__ import annotations

import gc
import itertools
import os
import shutil
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from app.case import database

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

AS_SHIPPED = database.SYNCHRONOUS
"""How a case waits for the disk outside the tests. That matters where power is lost; here it would be half of the time
in which a window opens, and a program that is killed leaves the same either way."""
database.SYNCHRONOUS = "OFF"

LONG_EXAMPLES = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "20000"))
settings.register_profile(
    "twinslot", deadline=None, derandomize=True, max_examples=40, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "long", deadline=None, max_examples=LONG_EXAMPLES, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)


MEMORY, ROOM_BYTES = Path("/dev/shm"), 2 << 30


def into_memory() -> None:
    """Files of tests go where the system keeps files in memory, if it has room: thousands are made and thrown away, and
    a disk that others write to as well would be waited for each time."""
    if os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free >= ROOM_BYTES:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))  # the folder in which pytest makes its own
        tempfile.tempdir = str(MEMORY)


def pytest_configure(config: pytest.Config) -> None:
    """``-m long`` draws TWINSLOT_LONG_EXAMPLES fresh examples for each law; else few, the same on every run."""
    into_memory()
    settings.load_profile("long" if config.getoption("markexpr") == "long" else "twinslot")
    # the tests that are collected stay to the end: nothing is gained by looking for garbage among them
    gc.disable()


def pytest_collection_finish() -> None:
    """From here on garbage is collected as ever, but what was made until now is not looked through each time."""
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Folders for ``own_settings``. They are counted here: ``mktemp`` looks through all its folders for each one."""
    root = tmp_path_factory.mktemp("homes")
    return (root / str(number) for number in itertools.count())


@pytest.fixture(autouse=True)
def own_settings(homes: Iterator[Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Every test gets its own settings store, so none sees what another, or the person at the desk, has set."""
    home = next(homes)
    home.mkdir()
    for name in ("CONFIG", "DATA", "CACHE", "STATE"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
    if "PySide6.QtCore" in sys.modules:
        from PySide6.QtCore import QSettings

        QSettings.setDefaultFormat(QSettings.Format.IniFormat)
        for form in (QSettings.Format.IniFormat, QSettings.Format.NativeFormat):
            QSettings.setPath(form, QSettings.Scope.UserScope, str(home / "config"))
    return home


def windows_in_sight() -> list[str]:
    """Names of the top-level widgets that can be seen; empty while there is no Qt application."""
    widgets = sys.modules.get("PySide6.QtWidgets")
    if widgets is None or widgets.QApplication.instance() is None:
        return []
    return [repr(widget) for widget in widgets.QApplication.topLevelWidgets() if widget.isVisible()]


def threads_left(before: set[threading.Thread], patience_s: float = 2.0) -> list[str]:
    """Names of threads that were started since and do not end when waited for."""
    fresh = [thread for thread in threading.enumerate() if thread not in before]
    for thread in fresh:
        if not isinstance(thread, threading._DummyThread):
            thread.join(patience_s)
    # a dummy stands for a thread of Qt's pool that once ran Python; the pool keeps it for the next job
    return [thread.name for thread in fresh if thread.is_alive() and not isinstance(thread, threading._DummyThread)]


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_teardown(item: pytest.Item) -> Iterator[None]:
    """Fails a test that leaves a thread or a visible window behind, after all its fixtures are gone."""
    result = yield
    left = threads_left(item.stash.get(_THREADS, set(threading.enumerate())))
    seen = windows_in_sight()
    if seen:
        # close them, so that the next test is not blamed
        for widget in sys.modules["PySide6.QtWidgets"].QApplication.topLevelWidgets():
            widget.hide()
    assert not left, f"threads left behind: {left}"
    assert not seen, f"windows left behind: {seen}"
    return result


_THREADS = pytest.StashKey[set[threading.Thread]]()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Remembers the threads that ran before."""
    item.stash[_THREADS] = set(threading.enumerate())
