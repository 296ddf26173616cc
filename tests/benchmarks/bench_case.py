"""How long a case takes to open, and a change to be kept, with nothing in it and with many gigabytes of captures.

    .venv/bin/python -m tests.benchmarks.bench_case [GIGABYTES] [FOLDER]

Against the empty case in the same run: opening should not depend on the size, since nothing is decoded.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from app.case.changes import AddCaptures, Put
from app.case.shelf import PART_BYTES
from app.case.store import CaseStore
from app.case.values import Entry, HeldCapture

REPEATS = 15


def held(number: int, sha256: str, size: int) -> HeldCapture:
    """A capture of 16 channels, as the case knows it."""
    channels = tuple(f"D{i:02d}" for i in range(16))
    shade = tuple("0123456789" * 10 for _ in channels)
    return HeldCapture(
        f"k{number}",
        f"capture{number}.csv",
        "",
        sha256,
        size,
        "sampled rows",
        41_667,
        0,
        10**12,
        channels,
        shades=shade,
    )


def fill(path: Path, gigabytes: float) -> None:
    """A case with captures of 256 MB each, of bytes that do not compress, and 300 log entries."""
    store = CaseStore.open(path)
    case = store.read()
    data = os.urandom(PART_BYTES)
    parts = (256 << 20) // PART_BYTES
    captures = []
    for number in range(round(gigabytes * 4)):
        sha256 = f"{number:064x}"
        store.begin_blob(sha256, parts * PART_BYTES)
        for part in range(parts):
            store.add_blob_part(sha256, part, data)
        store.end_blob(sha256)
        captures.append(held(number, sha256, parts * PART_BYTES))
    changes = [AddCaptures("good", tuple(captures)), *(Put(Entry(0, "seen", f"line {i}")) for i in range(300))]
    for change in changes:
        case = change.applied(case)
        store.keep(change.words, "R.", case)
    store.close()


def timed(path: Path) -> tuple[float, float]:
    """Median seconds to open and read the case, and to keep one change."""
    opening, keeping = [], []
    for number in range(REPEATS):
        start = time.perf_counter()
        store = CaseStore.open(path)
        case = store.read()
        opening.append(time.perf_counter() - start)
        change = Put(Entry(0, "seen", f"timed {number}"))
        case = change.applied(case)
        start = time.perf_counter()
        store.keep(change.words, "R.", case)
        keeping.append(time.perf_counter() - start)
        store.close()
    return statistics.median(opening), statistics.median(keeping)


def main() -> None:
    """Prints both cases and their ratio."""
    gigabytes = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    with tempfile.TemporaryDirectory(dir=sys.argv[2] if len(sys.argv) > 2 else None) as folder:
        small, large = Path(folder) / "small.twinslot", Path(folder) / "large.twinslot"
        fill(small, 0)
        start = time.perf_counter()
        fill(large, gigabytes)
        took = time.perf_counter() - start
        size = large.stat().st_size / 2**30
        print(f"filled {size:.1f} GB in {took:.0f} s ({size / took:.2f} GB/s)")
        rows = {"no captures": timed(small), f"{size:.1f} GB": timed(large)}
        for name, (opening, keeping) in rows.items():
            print(f"{name:>12}: open {opening * 1e3:7.1f} ms, keep a change {keeping * 1e3:6.1f} ms")
        (a, b), (c, d) = rows.values()
        print(f"{'ratio':>12}: open {c / a:7.2f}   , keep a change {d / b:6.2f}")


if __name__ == "__main__":
    main()
