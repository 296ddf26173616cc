"""Small captures of an invented board: a counter of four bits and what it selects, 4 samples a cycle."""

from __future__ import annotations

import os
import random
from functools import cache
from pathlib import Path

HEADING = "# Sample rate: 40 MHz\nCLK,B0,B1,B2,B3,SEL,SUM\n"
CYCLES = 120


@cache
def _rows() -> tuple[str, ...]:
    chance = random.Random(11)
    total, rows = 0, []
    for cycle in range(CYCLES + 50):
        count = cycle % 16 if cycle % 37 else chance.randrange(16)
        total = (total + count * count + chance.randrange(2)) % 7
        bits = ",".join(str(count >> bit & 1) for bit in range(4))
        words = f"{bits},{int(total > 3)},{total & 1}"
        rows += [f"1,{words}\n"] * 2 + [f"0,{words}\n"] * 2
    return tuple(rows)


def capture_text(number: int = 0, *, wrong: bool = False) -> str:
    """The board's capture, longer by ``number`` samples; SUM is stuck where ``wrong``."""
    rows = list(_rows()[: CYCLES * 4 + number % 200])
    if wrong:
        rows[160:] = [row[:-2] + "1\n" for row in rows[160:]]
    # a remark of its own makes another file of the same rows
    return f"# Start {number}\n{HEADING}{''.join(rows)}"


def put(folder: Path, name: str, text: str, moment: int = 1) -> Path:
    """A file that was written at that second."""
    path = folder / name
    path.write_text(text, "utf-8")
    os.utime(path, (moment, moment))
    return path
