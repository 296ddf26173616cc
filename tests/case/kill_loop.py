"""A program to be killed: it keeps one log line after another and tells each one that is kept.

Run as ``python -m tests.case.kill_loop PATH TRIALS SEED``: forks a child for each trial, kills it at a random moment,
opens the case again and counts. Prints one line a trial: acknowledged, found, sound.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import sys
import time
from pathlib import Path

from app.case.changes import Put
from app.case.store import CaseStore
from app.case.values import Entry

MOST_S = 0.02
"""A trial is killed within this many seconds of its first word."""


def write_for_ever(path: Path, tell: int) -> None:
    """Keeps lines, an undo and a redo now and then; a byte goes down the pipe after each step that is kept."""
    store = CaseStore.open(path)
    case = store.read()
    os.write(tell, b"o")
    text = "D03 stays low at 7-B04; " * 40
    while True:
        change = Put(Entry(0, "seen", text))
        case = change.applied(case)
        store.keep(change.words, "R.", case)
        os.write(tell, b"k")
        if case.entries[-1].id % 7 == 0:
            store.undo()
            os.write(tell, b"u")
            turned = store.redo()
            os.write(tell, b"k")
            assert turned is not None
            case = turned[1]


def trial(path: Path, chance: random.Random) -> tuple[int, int, bool]:
    """Lines that were told to be kept, lines found after the kill, and whether the file is sound."""
    before = len(_read(path)) if path.exists() else 0
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(hear)
            write_for_ever(path, tell)
        finally:
            os._exit(1)
    os.close(tell)
    # each trial does something however busy the machine is: its time counts from the first step that is told
    heard = os.read(hear, 1)
    time.sleep(chance.uniform(0.0, MOST_S))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while more := os.read(hear, 65536):
        heard += more
    os.close(hear)
    found = len(_read(path)) if path.exists() else 0
    return before + heard.count(b"k") - heard.count(b"u"), found, _sound(path)


def _read(path: Path) -> tuple[Entry, ...]:
    store = CaseStore.open(path)
    try:
        return store.read().entries
    finally:
        store.close()


def _sound(path: Path) -> bool:
    connection = sqlite3.connect(path)
    try:
        return connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    finally:
        connection.close()


def main() -> None:
    """All trials on one growing file."""
    path, trials, chance = Path(sys.argv[1]), int(sys.argv[2]), random.Random(int(sys.argv[3]))
    for number in range(trials):
        target = path.with_name(f"case{number // 25}.twinslot")
        print(*trial(target, chance), flush=True)


if __name__ == "__main__":
    main()
