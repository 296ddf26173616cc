"""How long the program takes to answer, each time in a fresh process; the least of the repeats counts.

    python -m tests.benchmarks.bench_start [--repeat 5]

The second line goes through the start script and so needs a finished set-up (python3 app/start.py --help).
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = {
    "python -m app --help": [sys.executable, "-m", "app", "--help"],
    "app/start.py --help, second start": [sys.executable, "app/start.py", "--help"],
    "import of compare": [sys.executable, "-c", "import tracecore.comparison"],
    "import of Qt widgets and pyqtgraph": [sys.executable, "-c", "import PySide6.QtWidgets, pyqtgraph"],
}


def least_s(command: list[str], repeat: int) -> float:
    """Seconds of the fastest run."""
    times = []
    for _ in range(repeat):
        began = time.perf_counter()
        subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - began)
    return min(times)


def main() -> None:
    """Prints one line for each command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeat", type=int, default=5)
    arguments = parser.parse_args()
    for name, command in COMMANDS.items():
        print(f"{least_s(command, arguments.repeat):7.3f} s  {name}", flush=True)


if __name__ == "__main__":
    main()
