"""A real window on a real X server, which the test starts itself."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from app.model.settings import Settings
from app.shell.run import application
from app.shell.window import Window
app = application()
window = Window(Settings(Path(sys.argv[1]) / "settings.ini"))
window.show()
painted = []
def look():
    painted.append(app.platformName())
    assert window.isVisible() and window.windowHandle().isExposed()
    slow = {"numpy", "pandas", "scipy", "pyqtgraph", "reportlab"} & set(sys.modules)
    print(app.platformName(), "early:", sorted(slow))
    window.close()
QTimer.singleShot(300, look)
sys.exit(app.exec())
"""


@pytest.fixture
def display() -> Iterator[str]:
    """The name of a free display with an X server of our own."""
    if shutil.which("Xvfb") is None:
        pytest.skip("no Xvfb on this machine")
    reading, writing = os.pipe()
    command = ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1280x720x24", "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=(writing,), stderr=subprocess.DEVNULL)
    os.close(writing)
    with os.fdopen(reading) as told:
        number = told.readline().strip()
    assert number, "Xvfb ended before it told its display"
    yield f":{number}"
    server.terminate()
    server.wait(10)


def test_the_first_window_waits_for_nothing_slow(tmp_path: Path) -> None:
    """The same without a display: what takes long to import comes when it is wanted."""
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path)], env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split("early:")[1].strip() == "[]"


@pytest.mark.xvfb
def test_a_window_opens_on_an_x_server_without_slow_imports(display: str, tmp_path: Path) -> None:
    environment = {**os.environ, "DISPLAY": display, "QT_QPA_PLATFORM": "xcb", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path)], env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "xcb early: []"


JOURNEY = """
import sys, tempfile, time
from pathlib import Path
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog
from app.model.settings import Settings
from app.shell.run import application
from app.shell.window import Window
from app.steps.step import all_steps
from demo_traces import CASES
app = application()
window = Window(Settings(Path(sys.argv[1]) / "settings.ini"))
window.show()

def until(what, patience_s=60):
    end = time.monotonic() + patience_s
    while not what():
        assert time.monotonic() < end, "waited in vain"
        app.processEvents()
        time.sleep(0.01)

until(lambda: window.windowHandle().isExposed())
# there is no window manager that would make it the active one
app.setActiveWindow(window)
until(window.isActiveWindow)
room = window.screen().availableGeometry()
assert room.contains(window.frameGeometry()), (room, window.frameGeometry())
QTest.mouseClick(window.pages["captures"].begin.demo, Qt.MouseButton.LeftButton)
until(lambda: window.session.current and window.jobs.idle)
assert window.current == "compare"
page = window.pages["compare"]
assert window.session.chosen.signal == CASES["receiver"].planted_signal
QTest.keyClick(page.traces, Qt.Key.Key_W)
QTest.keyClick(page.traces, Qt.Key.Key_C)
QTest.keyClick(page.traces, Qt.Key.Key_M)
QTest.keyClicks(page.marks.form.note, "where it begins")
QTest.keyClick(page.marks.form.note, Qt.Key.Key_Return)
assert [mark.note for mark in window.session.case.marks] == ["where it begins"]
window.act("write_in_log")
assert len(window.session.case.entries) == 1
for step in all_steps():
    QTest.keyClick(window, getattr(Qt.Key, f"Key_{step.place}"), Qt.KeyboardModifier.ControlModifier)
    until(lambda: window.current == step.name and not window.jobs.busy("measure"))
    for percent in (100, 200):
        window.view_actions.set_text(percent)
        app.processEvents()
        assert not window.grab().isNull()
window.view_actions.set_text(100)
window.reports.write_report(Path(sys.argv[1]) / "report")
until(window.written.isVisible)
assert (Path(sys.argv[1]) / "report" / "report.html").is_file()
for name in ("describe_case", "write_report", "guide", "cautions"):
    window.act(name)
    until(lambda: any(d.isVisible() for d in window.findChildren(QDialog)))
    form = next(d for d in window.findChildren(QDialog) if d.isVisible())
    assert room.contains(form.frameGeometry()), (name, form.frameGeometry())
    form.close()
    app.processEvents()
until(lambda: window.jobs.idle)
window.close()
print("seen", app.platformName())
"""


@pytest.mark.xvfb
@pytest.mark.long
def test_the_whole_way_on_an_x_server(display: str, tmp_path: Path) -> None:
    """From the empty page through demo, cause, mark, log, every page, report and forms, in a real window."""
    environment = {**os.environ, "DISPLAY": display, "QT_QPA_PLATFORM": "xcb", "PYTHONPATH": str(ROOT)}
    environment["TWINSLOT_SETTINGS"] = str(tmp_path / "own")
    done = subprocess.run(
        [sys.executable, "-c", JOURNEY, str(tmp_path)], env=environment, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "seen xcb"
