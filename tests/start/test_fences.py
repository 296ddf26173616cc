"""The fences of conftest.py do bite: a thread or a window left behind fails the test that left it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

CONFTEST = Path(__file__).resolve().parents[1] / "conftest.py"

LEAVES_A_THREAD = """
import threading
def test_it():
    threading.Thread(target=threading.Event().wait, args=(30,), daemon=True).start()
"""
LEAVES_A_WINDOW = """
from PySide6.QtWidgets import QLabel
kept = []
def test_it(qapp):
    kept.append(QLabel("left"))
    kept[0].show()
"""
LEAVES_NOTHING = """
import threading
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QLabel
def test_one(qtbot):
    label = QLabel("gone")
    qtbot.addWidget(label)
    label.show()
    thread = threading.Thread(target=int)
    thread.start()
    QSettings("twinslot", "twinslot").setValue("seen", 1)
def test_two(qtbot):
    assert QSettings("twinslot", "twinslot").value("seen") is None
"""


def _run(folder: Path, test: str) -> tuple[int, str]:
    (folder / "conftest.py").write_bytes(CONFTEST.read_bytes())
    (folder / "test_inner.py").write_text(test, "utf-8")
    (folder / "pytest.ini").write_text("[pytest]\nqt_api = pyside6\n", "utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(folder)]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=60, check=False)
    return done.returncode, done.stdout + done.stderr


def test_a_thread_left_behind_fails(tmp_path: Path) -> None:
    status, text = _run(tmp_path, LEAVES_A_THREAD)
    assert status == 1
    assert "threads left behind" in text


def test_a_window_left_behind_fails(tmp_path: Path) -> None:
    status, text = _run(tmp_path, LEAVES_A_WINDOW)
    assert status == 1
    assert "windows left behind" in text


def test_a_tidy_test_passes_and_settings_are_its_own(tmp_path: Path) -> None:
    status, text = _run(tmp_path, LEAVES_NOTHING)
    assert status == 0, text
