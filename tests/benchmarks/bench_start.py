"""How long the program takes to answer, each time in a fresh process; the least of the repeats counts.

    python -m tests.benchmarks.bench_start [--repeat 5]

The second line goes through the start script and so needs a finished set-up (python3 app/start.py --help). The last one
ends when the empty window is painted; it draws off screen, with settings and cases of its own. Beside each stands the
time that processors spent, which a busy machine lengthens less.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WINDOW = """
import os
from PySide6.QtCore import QEvent, QObject, QTimer
from app.__main__ import main
from app.shell import run

class Watch(QObject):
    def eventFilter(self, watched, event):
        if event.type() == QEvent.Type.Paint and isinstance(watched, run.Window):
            QTimer.singleShot(0, lambda: os._exit(0))
        return False

watch = Watch()
run.application().installEventFilter(watch)
run.run()
"""
COMMANDS = {
    "python -m app --help": [sys.executable, "-m", "app", "--help"],
    "app/start.py --help, second start": [sys.executable, "app/start.py", "--help"],
    "import of compare": [sys.executable, "-c", "import tracecore.comparison"],
    "import of Qt widgets and pyqtgraph": [sys.executable, "-c", "import PySide6.QtWidgets, pyqtgraph"],
    "first window painted": [sys.executable, "-c", WINDOW],
}


def least_s(command: list[str], repeat: int) -> tuple[float, float]:
    """Seconds of the fastest run, and the least that the processors spent on one."""
    times, spent = [], []
    for _ in range(repeat):
        with tempfile.TemporaryDirectory() as home:
            own = {"HOME": home, "XDG_DATA_HOME": home, "XDG_CONFIG_HOME": home, "QT_QPA_PLATFORM": "offscreen"}
            before, began = os.times(), time.perf_counter()
            quiet = subprocess.DEVNULL
            subprocess.run(command, cwd=ROOT, env={**os.environ, **own}, stdout=quiet, stderr=quiet, check=True)
            times.append(time.perf_counter() - began)
            after = os.times()
        spent.append(after.children_user + after.children_system - before.children_user - before.children_system)
    return min(times), min(spent)


def main() -> None:
    """Prints one line for each command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeat", type=int, default=5)
    arguments = parser.parse_args()
    for name, command in COMMANDS.items():
        passed, spent = least_s(command, arguments.repeat)
        print(f"{passed:7.3f} s, {spent:.3f} s of processors  {name}", flush=True)


if __name__ == "__main__":
    main()
