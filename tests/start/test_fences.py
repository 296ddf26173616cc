"""The fences of conftest.py do bite: a thread or a window left behind fails the test that left it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

CONFTEST = Path(__file__).resolve().parents[1] / "conftest.py"

TESTS = """
import threading
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QLabel
kept = []
def test_leaves_a_thread():
    threading.Thread(target=threading.Event().wait, args=(30,), daemon=True).start()
def test_leaves_a_window(qapp):
    kept.append(QLabel("left"))
    kept[0].show()
def test_is_tidy(qtbot):
    label = QLabel("gone")
    qtbot.addWidget(label)
    label.show()
    thread = threading.Thread(target=int)
    thread.start()
    QSettings("twinslot", "twinslot").setValue("seen", 1)
def test_has_its_own_settings(qtbot):
    assert QSettings("twinslot", "twinslot").value("seen") is None
"""
PATIENCE = "patience_s: float = 2.0"


def test_what_is_left_behind_fails_the_test_that_left_it_and_no_other(tmp_path: Path) -> None:
    fences = CONFTEST.read_text("utf-8")
    assert PATIENCE in fences
    # the thread of this test never ends, however long one waits for it
    (tmp_path / "conftest.py").write_text(fences.replace(PATIENCE, "patience_s: float = 0.2"), "utf-8")
    (tmp_path / "test_inner.py").write_text(TESTS, "utf-8")
    (tmp_path / "pytest.ini").write_text("[pytest]\nqt_api = pyside6\n", "utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-rA", "-p", "no:cacheprovider", str(tmp_path)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 1, done.stdout + done.stderr
    ends = [line for line in done.stdout.splitlines() if line.startswith(("ERROR ", "FAILED ", "PASSED "))]
    bitten = {line.split("::")[1].split(" - ")[0]: line for line in ends if line.startswith("ERROR ")}
    assert set(bitten) == {"test_leaves_a_thread", "test_leaves_a_window"}
    assert "threads left" in bitten["test_leaves_a_thread"]
    assert "windows left" in bitten["test_leaves_a_window"]
    passed = {line.split("::")[1] for line in ends if line.startswith("PASSED ")}
    assert {"test_is_tidy", "test_has_its_own_settings"} <= passed
