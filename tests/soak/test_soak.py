"""Captures that land in a folder: compared, counted, told; broken ones and those that lie there twice as well."""

from __future__ import annotations

import csv
import gc
import gzip
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.case.store import CaseStore
from app.report.cautions import UNATTENDED
from app.soak.folder_watch import FolderWatch
from app.soak.soak import News, Soak, run_soak
from tests.soak.small_captures import capture_text, put
from tracecore.capture import Capture, DigitalTrace

STARTS = [capture_text(number) for number in range(4)]


@pytest.fixture
def landing(tmp_path: Path) -> Path:
    """A folder with a capture that agrees, one that diverges, a broken one, one twice, and one of something else."""
    folder = tmp_path / "landing"
    folder.mkdir()
    texts = {
        "1_fine.csv": STARTS[1],
        "2_bad.csv": capture_text(2, wrong=True),
        "3_torn.csv": STARTS[3][:3000] + "\n0,1\n" + STARTS[3][3000:],
        "4_twice.csv": STARTS[1],
        "5_other.csv": "# Sample rate: 24 MHz\nX,Y\n" + "0,1\n1,0\n" * 500,
    }
    for moment, (name, text) in enumerate(texts.items(), start=1):
        put(folder, name, text, moment)
    return folder


def until(stop: threading.Event, number: int, news: list[News]) -> Callable[[News], None]:
    """Keeps the news, and ends the watch behind that many."""

    def tell(item: News) -> None:
        news.append(item)
        if len(news) == number:
            stop.set()

    return tell


def test_each_file_is_taken_once_and_counted_as_what_it_is(landing: Path, against) -> None:
    soak, news, stop = Soak(against), [], threading.Event()
    run_soak(soak, FolderWatch(landing, settle_s=0.0), until(stop, 5, news), stop)
    assert [n.status for n in news] == ["agrees", "diverges", "broken", "seen already", "cannot tell"]
    assert news[1].words.startswith("2_bad.csv: diverges, first SUM at cycle 4")
    assert f"line {STARTS[3][:3000].count(chr(10)) + 1}" in news[2].words
    assert "the same bytes as 1_fine.csv" in news[3].words
    assert "not the clock CLK" in news[4].words
    count = soak.count
    assert (count.agrees, count.diverges, count.cannot_tell, count.broken, count.seen_already) == (1, 1, 1, 1, 1)
    assert count.words.startswith("1 of 2 diverges, last at ")
    assert soak.table.first_verdict().signal == "SUM"


def test_a_file_that_was_broken_and_is_mended_counts(landing: Path, against) -> None:
    soak = Soak(against)
    assert soak.take(landing / "3_torn.csv").status == "broken"
    (landing / "3_torn.csv").write_text(STARTS[3], "utf-8")
    assert soak.take(landing / "3_torn.csv").status == "agrees"
    assert (soak.count.broken, soak.count.agrees) == (0, 1)


def test_the_good_capture_itself_does_not_count(good: Path, against) -> None:
    assert Soak(against).take(good).status == "seen already"


def test_no_capture_is_kept(landing: Path, against) -> None:
    soak = Soak(against)
    soak.take(landing / "1_fine.csv")
    gc.collect()
    before = Counter(type(thing) for thing in gc.get_objects())
    for path in sorted(landing.iterdir()):
        soak.take(path)
    gc.collect()
    after = Counter(type(thing) for thing in gc.get_objects())
    for kind in (Capture, DigitalTrace, np.ndarray):
        assert after[kind] <= before[kind], kind
    assert sum((after - before).values()) < 1000


def soak_words(landing: Path, good: Path, *more: str) -> list[str]:
    return ["soak", str(landing), "--good", str(good), "--clock", "CLK", "--settle", "0.02", *more]


def test_what_lands_answers_to_the_names_of_the_known_good_side(good: Path, tmp_path: Path, capsys) -> None:
    landing = tmp_path / "landing"
    landing.mkdir()
    put(landing, "1_small.csv", capture_text(2, wrong=True).replace("B0,B1", "b_0,b 1").replace("SUM", "Ch 9: sum"))
    put(landing, "2_pods.csv", capture_text(3, wrong=True).replace("SUM", "POD 4"))
    sheet = put(tmp_path, "pods.csv", "channel,signal\nPOD 4,SUM\n")
    words = soak_words(landing, good, "--match-names", "--suspect-sheet", str(sheet), "--captures", "2")
    assert main(words) == 1
    assert "SUM is first in 2 of 2 diverging captures" in capsys.readouterr().out


def test_the_command_sums_up_and_keeps_a_record(landing: Path, good: Path, tmp_path: Path, capsys) -> None:
    record = tmp_path / "record.csv"
    assert main(soak_words(landing, good, "--captures", "2", "--out", str(record))) == 1
    said = capsys.readouterr()
    assert "2_bad.csv: diverges, first SUM" in said.out
    assert "1_fine" not in said.out
    assert "SUM is first in 1 of 1 diverging capture" in said.out
    assert UNATTENDED in said.err
    rows = list(csv.DictReader(record.open(encoding="utf-8")))
    assert [(r["file"], r["status"], r["first"]) for r in rows] == [
        ("1_fine.csv", "agrees", ""),
        ("2_bad.csv", "diverges", "SUM"),
    ]
    assert [r["slips"] for r in rows] == ["0", "0"]


def test_the_command_enters_the_proof_in_the_log(landing: Path, good: Path, tmp_path: Path, capsys) -> None:
    path = str(tmp_path / "case.twinslot")
    assert main(["attach", path, str(good), "--new", "--side", "good", "--clock", "CLK"]) == 0
    words = ["soak", str(landing), "--case", path, "--settle", "0.02", "--captures", "1"]
    assert main([*words, "--by", "R."]) == 0
    store = CaseStore.open(path, look_only=True)
    (entry,) = store.read().entries
    store.close()
    assert entry.text == "0 of 1 capture diverges; with 95 % confidence fewer than 95 % would."
    assert (entry.kind, entry.author, entry.proof.captures, entry.proof.diverging) == ("result", "R.", 1, 0)


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_ctrl_c_ends_the_watch_and_sums_up(landing: Path, good: Path) -> None:
    command = [sys.executable, "-m", "app", *soak_words(landing, good, "--all")]
    running = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]
    )
    lines = []
    for line in running.stdout:
        lines.append(line)
        if "5_other" in line:
            break
    running.send_signal(signal.SIGINT)
    out, _ = running.communicate(timeout=120)
    assert running.returncode == 1
    assert out.startswith("1 of 2 diverges")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("soak", "{}"), "Against what?"),
        (("soak", "{}/none", "--good", "{good}", "--clock", "CLK"), "is no folder"),
        (("soak", "{}", "--good", "{good}", "--clock", "nope"), "Clock 'nope' is not in good.csv"),
        (("soak", "{}", "--good", "{good}", "--largest", "0"), "--largest 0: found no size"),
    ],
)
def test_what_cannot_be_watched_is_told(landing: Path, good: Path, capsys, words: tuple[str, ...], sentence: str):
    assert main([word.format(landing, good=good) for word in words]) == 2
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


@pytest.mark.parametrize("bytes_inside", [b"0" * (3 << 20), b"\0" * (3 << 20), b"0,1\n" * (3 << 18)])
def test_what_unpacks_without_end_is_given_up_at_the_limit(landing: Path, against, bytes_inside: bytes) -> None:
    path = landing / "0_large.csv.gz"
    path.write_bytes(gzip.compress(b"# Sample rate: 1 MHz\nA,B\n" + b"0,1\n" * 20_000 + bytes_inside, 9))
    soak = Soak(against, largest_bytes=1 << 20)
    news = soak.take(path)
    assert news.status == "broken"
    assert "found more than 1 048 576 bytes in it" in news.words
    assert soak.take(landing / "1_fine.csv").status == "agrees"
