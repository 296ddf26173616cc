"""Memory and pace of a watched folder: captures that land one after the other, and many that are there at the start.

    .venv/bin/python -m tests.benchmarks.bench_watch [LANDING] [PER_SECOND] [THERE]

LANDING captures are written at PER_SECOND, then THERE more are found at once. Each is read, compared and entered in a
record. Memory is that of the process, at ten places.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
from pathlib import Path

from app.soak.folder_watch import FolderWatch
from app.soak.record import Record
from app.soak.soak import News, Soak, run_soak
from tests.soak.small_captures import capture_text, put
from tracecore.capture_series import SeriesRequest, reference
from tracecore.readers import read_capture


def memory_mb() -> float:
    """What the process takes now (Linux)."""
    return int(Path("/proc/self/statm").read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


def watched(soak: Soak, folder: Path, record: Record, number: int, what: str) -> None:
    """Watches until so many more files were taken; prints the memory at ten places."""
    stop, taken, begun = threading.Event(), [0], time.monotonic()

    def tell(news: News) -> None:
        record.add(news)
        taken[0] += 1
        if taken[0] % max(1, number // 10) == 0:
            pace = taken[0] / (time.monotonic() - begun)
            print(f"{what}: {taken[0]:6d} taken, {memory_mb():6.1f} MB, {pace:5.1f} a second", flush=True)
        if taken[0] >= number:
            stop.set()

    run_soak(soak, FolderWatch(folder, settle_s=0.5), tell, stop)
    print(f"{what}: {soak.count.words}", flush=True)


def landing(folder: Path, number: int, per_second: float) -> None:
    """Writes captures, one each so often."""
    for n in range(1, number + 1):
        put(folder, f"run{n:06d}.csv", capture_text(n, wrong=n % 50 == 0), n)
        time.sleep(1 / per_second)


def main(words: list[str]) -> None:
    """Runs both."""
    number, per_second, there = (int(word) for word in (*words, *("5000", "50", "20000")[len(words) :]))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        good = put(folder, "good.csv", capture_text())
        soak = Soak(reference(SeriesRequest((read_capture(good),), clock="CLK")))
        for what, count in (("landing", number), ("there", there)):
            own = folder / what
            own.mkdir()
            writer = threading.Thread(target=landing, args=(own, count, per_second if what == "landing" else 1e9))
            writer.start()
            if what == "there":
                writer.join()
            watched(soak, own, Record(folder / f"{what}.csv", "0" * 16), count, what)
            writer.join()


if __name__ == "__main__":
    main(sys.argv[1:])
