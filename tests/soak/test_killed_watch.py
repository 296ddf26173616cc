"""A watch that is killed again and again, at any moment: each capture has one row, and the sum is right."""

from __future__ import annotations

import csv
import os
import random
import re
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from app.__main__ import main
from app.soak.soak import Soak
from tests.soak.small_captures import capture_text, put
from tracecore.capture_series import Reference

KILLS = 30
START_S, STEP_S = 1.5, 0.02
"""Seconds within which a start is killed, and a watch that has come to the drawn row: some part of one capture."""


class Lands:
    """Puts captures of every kind in a folder, each as an instrument does: under another name until it is whole."""

    def __init__(self, folder: Path, chance: random.Random) -> None:
        self.folder, self.chance = folder, chance
        self.names: list[str] = []

    def more(self, count: int) -> None:
        for _ in range(count):
            number = len(self.names) + 1
            kind = self.chance.random()
            # one in ten torn, one in ten twice there, one in five wrong
            text = capture_text(number, wrong=kind > 0.8)
            if kind < 0.1:
                text = text[:3000] + "\n0,1\n" + text[3000:]
            elif kind < 0.2:
                text = capture_text(1)
            name = f"run{number:04d}.csv"
            put(self.folder, f"{name}.part", text, number).rename(self.folder / name)
            self.names.append(name)


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_killed_at_drawn_moments(good: Path, against: Reference, tmp_path: Path, capsys) -> None:
    chance = random.Random(4)
    landing = tmp_path / "landing"
    landing.mkdir()
    lands, record = Lands(landing, chance), tmp_path / "record.csv"
    words = ["soak", str(landing), "--good", str(good), "--clock", "CLK", "--settle", "0.02", "--out", str(record)]
    lands.more(1)
    rows, in_hand = [0], 0
    for _ in range(KILLS):
        lands.more(chance.randrange(3, 9))
        command = [sys.executable, "-m", "app", *words]
        with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as running:
            if chance.random() < 0.25:
                time.sleep(chance.uniform(0, START_S))
            else:
                while "Watching" not in (said := running.stderr.readline()):
                    assert said, "it ended by itself"
                lands.more(chance.randrange(3))
                # by its progress, so that it is in the middle of its work on a fast machine and on a slow one
                come_to = rows[-1] + chance.randrange(len(lands.names) - rows[-1])
                while running.poll() is None and len(told(record)) < come_to:
                    time.sleep(STEP_S / 10)
                time.sleep(chance.uniform(0, STEP_S))
            running.kill()
        names = [row["file"] for row in told(record)]
        assert len(set(names)) == len(names)
        rows.append(len(names))
        in_hand += rows[-2] < rows[-1] < len(lands.names)
    # or it would never have been in the middle of its work
    assert in_hand >= KILLS // 4, rows
    lands.names.append(put(landing, "run9999.csv", capture_text(9999), 9999).name)
    straight = Soak(against)
    for name in lands.names:
        straight.take(landing / name)
    assert main([*words, "--captures", str(straight.table.captures)]) == 1
    sums = capsys.readouterr().out
    kept = told(record)
    assert sorted(row["file"] for row in kept) == lands.names
    assert Counter(row["status"] for row in kept) == {
        "agrees": straight.count.agrees,
        "diverges": straight.count.diverges,
        "broken": straight.count.broken,
        "seen already": straight.count.seen_already,
    }
    assert f"{timeless(straight.count.words)}." in timeless(sums).splitlines()
    for sentence in straight.sentences:
        assert sentence in sums


def timeless(text: str) -> str:
    return re.sub(r"last at \d\d:\d\d\b", "last at", text)


def told(path: Path) -> list[dict[str, str]]:
    if not path.exists() or not os.path.getsize(path):
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
