"""Seconds and memory of `compare` on two long files, the whole command in a fresh process.

    .venv/bin/python -m tests.benchmarks.bench_pair [CYCLES [REPEAT]]

Two files of sampled rows (14 channels, 40 MHz, ten rows a cycle of a clock of 4 MHz; a million cycles make 280 MB
each), drawn from one program: the second board is captured five cycles later, its transitions fall by chance into one
row or the next, and one of its signals is stuck low behind the middle. Told is the least of the repeats for wall time
and processor time, and the most memory that any of them had resident.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.bench_import import cell_rows

ROOT = Path(__file__).resolve().parents[2]
SIGNALS, ROWS, LATER = 13, 10, 5


def write(path: Path, states: np.ndarray, run: int) -> None:
    """One file of uint8[SIGNALS, cycles] states."""
    rng = np.random.default_rng((3, run))
    names = ",".join(("CLK", *(f"S{i:02d}" for i in range(SIGNALS))))
    with path.open("wb") as file:
        file.write(f"; Samplerate: 40 MHz\n{names}\n".encode())
        before = states[:, :1]
        for start in range(0, states.shape[1], 100_000):
            part = states[:, start : start + 100_000]
            old = np.concatenate((before, part[:, :-1]), axis=1)
            levels = np.empty((part.shape[1], ROWS, SIGNALS + 1), np.uint8)
            levels[:, :, 0] = np.arange(ROWS) < ROWS // 2
            moves = 2 + rng.integers(0, 2, part.shape)  # the row of the cycle from which on the new state is seen
            for row in range(ROWS):
                levels[:, row, 1:] = np.where(moves <= row, part, old).T
            file.write(cell_rows(levels.reshape(-1, SIGNALS + 1)).tobytes())
            before = part[:, -1:]


def write_pair(folder: Path, cycles: int) -> tuple[Path, Path]:
    """The known-good file and the suspect one."""
    rng = np.random.default_rng(1)
    rates = np.linspace(0.02, 0.4, SIGNALS)
    states = np.array([(np.cumsum(rng.random(cycles + LATER) < rate) % 2).astype(np.uint8) for rate in rates])
    paths = folder / "good.csv", folder / "suspect.csv"
    write(paths[0], states[:, :cycles], 0)
    states[4, cycles // 2 :] = 0
    write(paths[1], states[:, LATER:], 1)
    return paths


def measured(command: list[str]) -> tuple[float, float, float]:
    """Wall seconds, processor seconds and megabytes of one run; what it says goes nowhere."""
    start = time.perf_counter()
    child = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    used = os.wait4(child.pid, 0)[2]
    return time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss * 1024 / 1e6


def main() -> None:
    cycles, repeat = ([int(word.replace("_", "")) for word in sys.argv[1:]] + [1_000_000, 5][len(sys.argv) - 1 :])[:2]
    with tempfile.TemporaryDirectory() as folder:
        paths = write_pair(Path(folder), cycles)
        words = ["compare", "--good", str(paths[0]), "--suspect", str(paths[1]), "--clock", "CLK"]
        runs = [measured([sys.executable, "-m", "app", *words]) for _ in range(repeat)]
        wall, spent, _ = map(min, zip(*runs, strict=True))
        most = max(memory for _, _, memory in runs)
        size = paths[0].stat().st_size / 1e6
        print(f"two files of {size:.0f} MB: {wall:.2f} s, {spent:.2f} s of processors, {most:.0f} MB")


if __name__ == "__main__":
    main()
