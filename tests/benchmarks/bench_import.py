"""How fast files become captures, against pandas on the same file in the same run.

    python -m tests.benchmarks.bench_import [--rows 5000000] [--channels 16] [--repeat 3]

Files are made in a temporary folder. The best of the repeats counts on both sides; the page cache is warm.
Pandas only parses, on both cores where it is given a path; the readers also check every byte, hash the file and find
the transitions. A second ratio is that of the readers without the hash, which the program never leaves out. Pandas
reads no dumps.
Memory is what a fresh process needs at most beyond what it had before it read the file (Linux only).
"""

from __future__ import annotations

import argparse
import gzip
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from tracecore.readers import read_capture


def cell_rows(levels: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Levels uint8[rows, channels] as bytes of comma separated rows with LF."""
    out = np.full((len(levels), 2 * levels.shape[1]), ord(","), np.uint8)
    out[:, ::2] = levels + ord("0")
    out[:, -1] = ord("\n")
    return out


def decimals(nanoseconds: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Times as bytes of seconds with two places before the point and nine behind, and a comma."""
    out = np.full((len(nanoseconds), 13), ord("."), np.uint8)
    left = nanoseconds.copy()
    for place in (11, 10, 9, 8, 7, 6, 5, 4, 3, 1, 0):
        left, digit = np.divmod(left, 10)
        out[:, place] = digit + ord("0")
    out[:, 12] = ord(",")
    return out


def counter(rows: int, channels: int) -> np.ndarray[Any, Any]:
    """A busy capture: every row changes something."""
    index = np.arange(rows)
    return np.stack([((index >> (c % 8 + 2)) & 1).astype(np.uint8) for c in range(channels)], 1)


def sparse(rows: int, channels: int) -> np.ndarray[Any, Any]:
    """A quiet capture: a channel changes about every 2000 rows."""
    rng = np.random.default_rng(1)
    flips = np.zeros((rows, channels), np.uint8)
    for c in range(channels):
        flips[rng.integers(1, rows, rows // 2000), c] = 1
    return np.bitwise_xor.accumulate(flips, axis=0)


def write_files(folder: Path, rows: int, channels: int) -> dict[str, tuple[Path, int]]:
    """One file for each layout: its path, and the lines above the names that pandas has to skip."""
    names = ",".join(f"D{i}" for i in range(channels))
    stated = f"; Channels ({channels}/{channels})\n; Samplerate: 24 MHz\n"
    busy, index = counter(rows, channels), np.arange(rows, dtype=np.int64)
    even = (index * 1_000_000_000 + 12_000_000) // 24_000_000
    rng = np.random.default_rng(2)
    uneven = np.cumsum(rng.integers(5, 4000, rows, dtype=np.int64))
    single = np.zeros((rows, 8), np.uint8)
    single[index, rng.integers(0, 8, rows)] = 1
    single = np.bitwise_xor.accumulate(single, axis=0)
    files = {
        "sampled rows, busy": (stated + names, 2, cell_rows(busy)),
        "sampled rows, quiet": (stated + names, 2, cell_rows(sparse(rows, channels))),
        "sampled rows, time column": (
            stated + "Time [s]," + names,
            2,
            np.concatenate([decimals(even), cell_rows(busy)], 1),
        ),
        "change rows": (
            "Time [s]," + ",".join(f"D{i}" for i in range(8)),
            0,
            np.concatenate([decimals(uneven), cell_rows(single)], 1),
        ),
    }
    written: dict[str, tuple[Path, int]] = {}
    for name, (head, skip, body) in files.items():
        path = folder / (name.replace(", ", "_").replace(" ", "_") + ".csv")
        with path.open("wb") as file:
            file.write(head.encode() + b"\n")
            file.write(body.tobytes())
        written[name] = (path, skip)
    written |= _word_files(folder, rows)
    written["scope columns"] = (_scope_file(folder / "scope.csv", rows), 0)
    written["scope columns and logic"] = (_scope_file(folder / "mixed.csv", rows, logic=True), 0)
    written["scope, signed volts"] = (_signed_file(folder / "signed.csv", rows // 2, "%.9f,%.4f,%.4f"), 0)
    written["scope, powers of ten"] = (_signed_file(folder / "powers.csv", rows // 2, "%.9e,%.4e,%.4e"), 0)
    packed = folder / "busy.csv.gz"
    packed.write_bytes(gzip.compress(written["sampled rows, busy"][0].read_bytes(), compresslevel=6))
    written["sampled rows, busy, gzip"] = (packed, 2)
    return written


def _signed_file(path: Path, rows: int, form: str) -> Path:
    """Volts of both signs, written without a plus: rows of changing length."""
    rng = np.random.default_rng(5)
    index = np.arange(rows)
    first, second = 3.3 * (index >> 6 & 1) + rng.normal(0, 0.02, rows), rng.normal(0, 3, rows)
    with path.open("w") as file:
        file.write("Time (s),A (V),B (V)\n")
        for at in range(0, rows, 100_000):
            part = slice(at, at + 100_000)
            triples = zip(index[part] * 4e-9, first[part], second[part], strict=True)
            file.write("\n".join(form % triple for triple in triples) + "\n")
    return path


def _word_files(folder: Path, rows: int) -> dict[str, tuple[Path, int]]:
    """A bus of 16 bits as four hex digits, alone at a rate and behind a time beside two columns of logic."""
    index = np.arange(rows, dtype=np.int64)
    # 2**16 over the golden ratio scatters neighbours (Knuth, volume 3, section 6.4; from memory)
    words = (index >> 2) * 40503 & 0xFFFF
    letters = np.frombuffer(b"0123456789ABCDEF", np.uint8)
    out = np.full((rows, 5), ord("\n"), np.uint8)
    for place in range(4):
        out[:, place] = letters[words >> (12 - 4 * place) & 15]
    logic = cell_rows(counter(rows, 2))
    beside = out.copy()
    beside[:, 4] = ord(",")
    files = {
        "words, sampled": (b"; Samplerate: 24 MHz\nBUS[15:0] (hex)\n", 1, out),
        "words, time, logic": (
            b"Time [s],BUS[15:0] (hex),D0,D1\n",
            0,
            np.concatenate([decimals(np.cumsum(index % 7 + 5)), beside, logic], 1),
        ),
    }
    written = {}
    for name, (heading, skip, body) in files.items():
        path = folder / (name.replace(", ", "_") + ".csv")
        path.write_bytes(heading + body.tobytes())
        written[name] = (path, skip)
    return written


def write_dump(path: Path, changes: int) -> Path:
    """A value change dump of eight signals that change in turn, a change every nanosecond."""
    index = np.arange(changes, dtype=np.int64)
    out = np.full((changes, 15), ord("\n"), np.uint8)
    out[:, 0] = ord("#")
    left = index + 1_000_000_000
    for place in range(10, 0, -1):
        left, digit = np.divmod(left, 10)
        out[:, place] = digit + ord("0")
    out[:, 12] = (index >> 3 & 1) + ord("0")
    out[:, 13] = (index & 7) + ord("a")
    heading = "".join(f"$var wire 1 {chr(97 + i)} D{i} $end\n" for i in range(8))
    with path.open("wb") as file:
        file.write(f"$timescale 1 ns $end\n{heading}$enddefinitions $end\n".encode())
        file.write(out.tobytes())
    return path


_READ_ALONE = """
import sys
from pathlib import Path
from tracecore.readers import read_capture
def peak():
    return next(int(line.split()[1]) for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line)
before = peak()
read_capture(sys.argv[1])
print(peak() - before)
"""


def peak_mb(path: Path) -> float:
    """Megabytes that reading the file adds to a fresh process at most, the result among them."""
    run = subprocess.run([sys.executable, "-c", _READ_ALONE, str(path)], capture_output=True, text=True, check=True)
    return int(run.stdout) * 1024 / 1e6


def _scope_file(path: Path, rows: int, *, logic: bool = False) -> Path:
    index = np.arange(rows, dtype=np.int64)
    rng = np.random.default_rng(3)
    out = np.concatenate([decimals(index * 4), np.zeros((rows, 14), np.uint8)], 1)
    for start, volts in ((13, 3.3 * ((index >> 6) & 1)), (20, rng.uniform(0, 5, rows))):
        tenths_mv = np.round(volts * 10_000).astype(np.int64)
        for place in (5, 4, 3, 2, 0):
            tenths_mv, digit = np.divmod(tenths_mv, 10)
            out[:, start + place] = digit + ord("0")
        out[:, start + 1] = ord(".")
        out[:, start + 6] = ord(",") if start == 13 else ord("\n")
    heading = b"Time (s),A (V),B (V)"
    if logic:
        enable = cell_rows((index >> 7 & 1).astype(np.uint8)[:, None])
        out[:, -1] = ord(",")
        out, heading = np.concatenate([out, enable], 1), heading + b",EN"
    with path.open("wb") as file:
        file.write(heading + b"\n")
        file.write(out.tobytes())
    return path


def best(action: Callable[[], object], repeat: int) -> float:
    """Seconds of the fastest of ``repeat`` runs."""
    fastest = float("inf")
    for _ in range(repeat):
        start = time.perf_counter()
        action()
        fastest = min(fastest, time.perf_counter() - start)
    return fastest


def main() -> None:
    """Prints a line for each layout."""
    import pandas as pd

    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=5_000_000)
    parser.add_argument("--channels", type=int, default=16)
    parser.add_argument("--changes", type=int, default=9_000_000, help="of the dump")
    parser.add_argument("--repeat", type=int, default=3)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        print(f"{asked.rows} rows, {asked.channels} channels (change rows: 8), best of {asked.repeat}")
        for name, (path, skip) in write_files(Path(folder), asked.rows, asked.channels).items():
            size = path.stat().st_size
            ours = best(lambda path=path: read_capture(path), asked.repeat)  # type: ignore[misc]
            with mock.patch("tracecore.readers.hashed_file.HashedFile._hash"):
                bare = best(lambda path=path: read_capture(path), asked.repeat)  # type: ignore[misc]
            if path.suffix == ".gz":
                size = asked.rows * 2 * asked.channels
            theirs = best(lambda path=path, skip=skip: pd.read_csv(path, skiprows=skip), max(1, asked.repeat - 1))  # type: ignore[misc]
            print(
                f"{name:28} {size / 1e6:6.0f} MB  {size / ours / 1e9:5.2f} GB/s"
                f"  pandas {size / theirs / 1e9:5.3f} GB/s  ratio {theirs / ours:5.2f}"
                f" ({theirs / bare:5.2f} without hash)  memory {peak_mb(path):5.0f} MB"
            )
        dump = write_dump(Path(folder) / "changes.vcd", asked.changes)
        size, ours = dump.stat().st_size, best(lambda: read_capture(dump), asked.repeat)
        print(f"{'dump':28} {size / 1e6:6.0f} MB  {size / ours / 1e9:5.2f} GB/s{'':59}memory {peak_mb(dump):5.0f} MB")


if __name__ == "__main__":
    main()
