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
from app.shell.window import Window, application
app = application()
window = Window(Settings(Path(sys.argv[1]) / "settings.ini"))
window.show()
painted = []
def look():
    painted.append(app.platformName())
    assert window.isVisible() and window.windowHandle().isExposed()
    slow = {"pandas", "scipy", "pyqtgraph"} & set(sys.modules)
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


@pytest.mark.xvfb
def test_a_window_opens_on_an_x_server_without_slow_imports(display: str, tmp_path: Path) -> None:
    environment = {**os.environ, "DISPLAY": display, "QT_QPA_PLATFORM": "xcb", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path)], env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "xcb early: []"
