"""Captures that land in a folder: compared, counted, told; broken ones and those that lie there twice as well."""

from __future__ import annotations

import csv
import gzip
import os
import signal
import subprocess
import sys
import threading
import time
import tracemalloc
from pathlib import Path

import pytest

from app.__main__ import main
from app.case.store import CaseStore
from app.soak.folder_watch import FolderWatch
from app.soak.soak import News, Soak, run_soak
from demo_traces import CASES
from tracecore.capture_series import SeriesRequest, reference
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.readers import read_capture

CASE = CASES["receiver"]
GOOD, BAD = (
    gzip.decompress(p.read_bytes()).decode().splitlines(keepends=True) for p in (CASE.good[0], CASE.suspect[0])
)
ROWS = 9000
"""Of the suspect capture so many rows do not reach the fault."""

WRITER = """
import sys, time, pathlib
folder, source = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
for path in sorted(source.iterdir()):
    data = path.read_bytes()
    with open(folder / path.name, "wb") as file:
        for start in range(0, len(data), len(data) // 4 + 1):
            file.write(data[start : start + len(data) // 4 + 1])
            file.flush()
            time.sleep(0.15)
"""


def cut(lines: list[str], rows: int) -> str:
    """The first rows of a capture; other rows make another file."""
    return "".join(lines[:rows])


@pytest.fixture
def landing(tmp_path: Path) -> Path:
    """A folder with a capture that agrees, one that diverges, a broken one, one twice, and one of something else."""
    folder = tmp_path / "landing"
    folder.mkdir()
    texts = {
        "1_fine.csv": cut(BAD, ROWS),
        "2_bad.csv": cut(BAD, 15_000),
        "3_torn.csv": cut(BAD, 5000) + "0,1\n" + "".join(BAD[5000:6000]),
        "4_twice.csv": cut(BAD, ROWS),
        "5_other.csv": "# Sample rate: 24 MHz\nX,Y\n" + "0,1\n1,0\n" * 500,
    }
    for moment, (name, text) in enumerate(texts.items(), start=1):
        (folder / name).write_text(text, "utf-8")
        os.utime(folder / name, (moment, moment))
    return folder


@pytest.fixture(scope="module")
def against():
    return reference(SeriesRequest((read_capture(CASE.good[0]),), read_probe_sheet(CASE.sheet), clock="MCLK"))


def test_each_file_is_taken_once_and_counted_as_what_it_is(landing: Path, against) -> None:
    soak, news = Soak(against), []
    run_soak(soak, FolderWatch(landing, settle_s=0.0), news.append, threading.Event(), stop_after_s=0.0)
    assert [n.status for n in news] == ["agrees", "diverges", "broken", "seen already", "not compared"]
    assert news[1].words.startswith("2_bad.csv: diverges, first D03 at cycle 1")
    assert "line 5001" in news[2].words
    assert "the same bytes as 1_fine.csv" in news[3].words
    assert "not the clock MCLK" in news[4].words
    count = soak.count
    assert (count.agrees, count.diverges, count.not_compared, count.broken, count.seen_already) == (1, 1, 1, 1, 1)
    assert count.words.startswith("1 of 2 diverges, last at ")
    assert soak.table.first_verdict().signal == "D03"


def test_a_file_that_was_broken_and_is_mended_counts(landing: Path, against) -> None:
    soak = Soak(against)
    assert soak.take(landing / "3_torn.csv").status == "broken"
    (landing / "3_torn.csv").write_text(cut(BAD, ROWS - 100), "utf-8")
    assert soak.take(landing / "3_torn.csv").status == "agrees"
    assert (soak.count.broken, soak.count.agrees) == (0, 1)


def test_the_good_capture_itself_does_not_count(landing: Path, against) -> None:
    assert Soak(against).take(Path(CASE.good[0])).status == "seen already"


def test_memory_does_not_grow_with_the_captures(tmp_path: Path, against) -> None:
    soak = Soak(against)
    path = tmp_path / "c.csv"

    def some(first: int) -> None:
        for extra in range(first, first + 4):
            path.write_text(cut(BAD, 3000 + extra), "utf-8")
            assert soak.take(path).status == "agrees"

    some(0)
    tracemalloc.start()
    try:
        some(10)
        before, _ = tracemalloc.get_traced_memory()
        some(20)
        some(30)
        after, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # a decoded capture of this size takes some 100 kB; what may stay is a name and a hash each
    assert (after - before) / 8 < 10_000


def test_a_second_process_that_writes_slowly(tmp_path: Path, landing: Path, against) -> None:
    (landing / "3_torn.csv").unlink()
    target = tmp_path / "target"
    target.mkdir()
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(target), str(landing)])
    soak, news, stop = Soak(against), [], threading.Event()

    def tell(item: News) -> None:
        news.append(item)
        if len(news) == 4:
            stop.set()

    try:
        run_soak(soak, FolderWatch(target, settle_s=0.4), tell, stop, stop_after_s=60)
    finally:
        writer.wait(20)
    assert {n.path.name: n.status for n in news} == {
        "1_fine.csv": "agrees",
        "2_bad.csv": "diverges",
        "4_twice.csv": "seen already",
        "5_other.csv": "not compared",
    }


def soak_words(landing: Path, *more: str) -> list[str]:
    good = ["--good", str(CASE.good[0]), "--sheet", str(CASE.sheet), "--clock", "MCLK"]
    return ["soak", str(landing), *good, "--settle", "0.1", *more]


def test_the_command_sums_up_and_keeps_a_record(landing: Path, tmp_path: Path, capsys) -> None:
    record = tmp_path / "record.csv"
    assert main(soak_words(landing, "--captures", "2", "--out", str(record), "--stop-after", "20 s")) == 1
    said = capsys.readouterr().out
    assert "2_bad.csv: diverges, first D03" in said
    assert "1_fine" not in said
    assert "D03 is first in 1 of 1 diverging capture" in said
    rows = list(csv.DictReader(record.open(encoding="utf-8")))
    assert [(r["file"], r["status"], r["first"]) for r in rows] == [
        ("1_fine.csv", "agrees", ""),
        ("2_bad.csv", "diverges", "D03"),
    ]
    assert [r["slips"] for r in rows] == ["0", "0"]


def test_the_command_enters_the_proof_in_the_log(landing: Path, tmp_path: Path, capsys) -> None:
    path = str(tmp_path / "case.twinslot")
    sheet = ("--sheet", str(CASE.sheet), "--clock", "MCLK")
    assert main(["attach", path, str(CASE.good[0]), "--side", "good", *sheet]) == 0
    (landing / "2_bad.csv").unlink()
    words = ["soak", str(landing), "--case", path, "--settle", "0.1", "--captures", "1", "--stop-after", "20 s"]
    assert main([*words, "--by", "R."]) == 0
    store = CaseStore.open(path, look_only=True)
    (entry,) = store.read().entries
    store.close()
    assert entry.text == "0 of 1 capture diverges; with 95 % confidence fewer than 95 % would."
    assert (entry.kind, entry.author, entry.proof.captures, entry.proof.diverging) == ("result", "R.", 1, 0)


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_ctrl_c_ends_the_watch_and_sums_up(landing: Path) -> None:
    command = [sys.executable, "-m", "app", *soak_words(landing, "--all")]
    running = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]
    )
    lines = []
    for line in running.stdout:
        lines.append(line)
        if "5_other" in line:
            break
    time.sleep(0.1)
    running.send_signal(signal.SIGINT)
    out, _ = running.communicate(timeout=30)
    assert running.returncode == 1
    assert out.startswith("1 of 2 diverges")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("soak", "{}"), "Against what?"),
        (("soak", "{}/none", "--good", str(CASE.good[0]), "--clock", "MCLK"), "is no folder"),
        (("soak", "{}", "--good", str(CASE.good[0]), "--clock", "nope"), "Clock 'nope' is not in good.csv.gz"),
    ],
)
def test_what_cannot_be_watched_is_told(landing: Path, capsys, words: tuple[str, ...], sentence: str) -> None:
    assert main([word.format(landing) for word in words]) == 2
    assert sentence in capsys.readouterr().err


@pytest.mark.parametrize("error", [MemoryError(), ZeroDivisionError("odd"), PermissionError(13, "no")])
def test_whatever_one_file_does_it_is_named_and_the_watch_goes_on(landing: Path, against, monkeypatch, error) -> None:
    soak = Soak(against)

    def odd(*_args, **_kinds):
        raise error

    with monkeypatch.context() as patch:
        patch.setattr("app.soak.soak.read_against", odd)
        news = soak.take(landing / "2_bad.csv")
    assert (news.status, soak.count.broken) == ("broken", 1)
    assert news.words.startswith("2_bad.csv: broken. ")
    assert soak.take(landing / "1_fine.csv").status == "agrees"
