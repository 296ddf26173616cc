"""The record of a watch: whole after each capture, gone on with after a kill, and never a reason to end the watch."""

from __future__ import annotations

import csv
import errno
import os
import signal
import struct
import subprocess
import sys
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import pytest

from app.__main__ import main
from app.soak.record import HEADING, Record, against_what
from app.soak.soak import Soak
from tests.soak.small_captures import capture_text, put
from tracecore.capture_series import Reference, SeriesRequest, reference
from tracecore.errors import RequestError
from tracecore.readers import read_capture
from tracecore.readers.settings import ReadSettings

AGAINST = "0" * 16


@pytest.fixture
def landing(tmp_path: Path) -> Path:
    folder = tmp_path / "landing"
    folder.mkdir()
    for number in range(1, 5):
        put(folder, f"run{number}.csv", capture_text(number, wrong=number == 2), number)
    put(folder, "run5.csv", "torn", 5)
    put(folder, "run6.csv", capture_text(1), 6)
    return folder


def taken(soak: Soak, record: Record, folder: Path) -> None:
    for path in sorted(folder.iterdir()):
        record.add(soak.take(path))


def told(path: Path) -> list[tuple[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return [(row["file"], row["status"]) for row in csv.DictReader(file)]


def test_an_older_record_gives_back_all_counts(landing: Path, against: Reference, tmp_path: Path) -> None:
    path = tmp_path / "record.csv"
    first = Soak(against)
    taken(first, Record(path, AGAINST), landing)
    again, record = Soak(against), Record(path, AGAINST)
    assert [row.name for row in record.kept] == [f"run{n}.csv" for n in range(1, 7)]
    again.resume(record, landing)
    assert again.table == first.table
    assert (again.count, again.sentences) == (first.count, first.sentences)
    # what was counted is known again, whatever it is called
    assert again.take(landing / "run3.csv").status == "seen already"
    # and a file that was broken and is mended is broken no more
    put(landing, "run5.csv", capture_text(5))
    assert again.take(landing / "run5.csv").status == "agrees"
    assert again.count.broken == 0


def test_a_row_that_was_cut_off_is_taken_out(landing: Path, against: Reference, tmp_path: Path) -> None:
    path = tmp_path / "record.csv"
    taken(Soak(against), Record(path, AGAINST), landing)
    whole = path.read_bytes()
    rows = whole.splitlines(keepends=True)
    news = Soak(against).take(landing / "run1.csv")
    for cut in (1, len(HEADING) + 20, len(rows[0]) + 5, len(whole) - 1):
        path.write_bytes(whole[:cut])
        record = Record(path, AGAINST)
        assert record.cut_off
        record.add(news)
        record.add(news)
        record.close()
        back = Record(path, AGAINST)
        back.close()
        assert not back.cut_off
        left = max(0, whole[:cut].count(b"\n") - 1)
        assert [row.name for row in back.kept] == [f"run{n}.csv" for n in range(1, left + 1)] + ["run1.csv"] * 2


def test_the_counts_of_another_comparison_do_not_go_on(landing: Path, against: Reference, tmp_path: Path) -> None:
    path = tmp_path / "record.csv"
    reading = ReadSettings()
    taken(Soak(against), Record(path, against_what(against, reading)), landing)
    assert len(Record(path, against_what(against, reading)).kept) == 6
    other = reference(SeriesRequest((read_capture(landing / "run1.csv"),), clock="CLK"))
    for different in (
        against_what(other, reading),
        against_what(against, ReadSettings(first_row=3)),
        against_what(against, reading, "other names"),
    ):
        with pytest.raises(RequestError, match=r"line 2: this row was compared with other known-good captures"):
            Record(path, different)


@pytest.mark.parametrize(
    "text",
    [
        "A,B\n0,1\n",
        "\0\0",
        ",".join(HEADING) + "\nx,y\n",
        ",".join(HEADING) + "\na,b,agrees,,,,0,{}\n",
        ",".join(HEADING) + "\na,b,agrees,,,,0," + "[" * 9000 + "\n",
        ",".join(HEADING) + '\n"' + "x" * (5 << 20) + "\n",
    ],
)
def test_another_file_is_not_written_to(tmp_path: Path, text: str) -> None:
    path = tmp_path / "other.csv"
    path.write_text(text, "utf-8")
    with pytest.raises(RequestError, match=r"expected the record of a watch\. Name another file"):
        Record(path, AGAINST)
    assert path.read_text("utf-8") == text


def test_rows_wait_where_they_cannot_be_written(landing: Path, against: Reference, tmp_path: Path, monkeypatch) -> None:
    path, soak = tmp_path / "record.csv", Soak(against)
    record = Record(path, AGAINST)
    news = [soak.take(file) for file in sorted(landing.iterdir())]
    record.add(news[0])
    before = path.read_bytes()

    def full(place: int, data: bytes) -> int:
        if not full.left:
            raise OSError(28, "No space left on device")
        full.left -= 1
        return write(place, data[:9])

    write = os.write
    full.left = 2
    with monkeypatch.context() as patch:
        patch.setattr("app.soak.record.os.write", full)
        for item in news[1:4]:
            with pytest.raises(OSError, match="No space"):
                record.add(item)
    assert (record.waiting, path.read_bytes()) == (3, before)
    record.add(news[4])
    assert record.waiting == 0
    assert [name for name, _ in told(path)] == [f"run{n}.csv" for n in range(1, 6)]


def test_a_name_that_is_no_text_comes_back_as_it_was(against: Reference, tmp_path: Path) -> None:
    odd = Path(os.fsdecode(os.fsencode(tmp_path) + b"/=a\xff\n\x1b[31m.csv"))
    odd.write_text("torn", "utf-8")
    path, soak = tmp_path / "record.csv", Soak(against)
    Record(path, AGAINST).add(soak.take(odd))
    data = path.read_bytes()
    assert b"\x1b" not in data
    assert data.count(b"\n") == 2
    assert Record(path, AGAINST).kept[0].name == odd.name
    assert told(path)[0][0].startswith("'=a")


def words(landing: Path, good: Path, record: Path, *more: str) -> list[str]:
    good_words = ["--good", str(good), "--clock", "CLK"]
    return ["soak", str(landing), *good_words, "--settle", "0.02", "--out", str(record), *more]


def killed(landing: Path, good: Path, record: Path, after_lines: int) -> None:
    """A watch that is killed once it has told of so many files."""
    command = [sys.executable, "-m", "app", *words(landing, good, record, "--all")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as running:
        for _ in range(after_lines):
            assert running.stdout.readline()
        running.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)


def straight(landing: Path, against: Reference) -> Soak:
    soak = Soak(against)
    for path in sorted(landing.iterdir()):
        if path.name != "record.csv":
            soak.take(path)
    return soak


def test_a_watch_that_was_killed_goes_on_with_its_counts(landing: Path, good: Path, against: Reference, capsys) -> None:
    record = landing / "record.csv"
    killed(landing, good, record, 3)
    before = told(record)
    assert len(before) >= 3
    put(landing, "run7.csv", capture_text(7), 7)
    assert main(words(landing, good, record, "--captures", "5", "--all")) == 1
    said = capsys.readouterr()
    assert "record.csv: the counts of an earlier watch go on: 1 of " in said.err
    assert "run2.csv" not in said.out
    assert Counter(told(record)).most_common(1)[0][1] == 1
    assert [name for name, _ in told(record)] == [f"run{n}.csv" for n in range(1, 8)]
    assert f"\n{straight(landing, against).count.words[:14]}" in said.out


def test_the_sum_is_told_where_the_record_cannot_be_written(landing: Path, good: Path, capsys) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    assert main(words(landing, good, Path("/dev/full"), "--captures", "4")) == 1
    said = capsys.readouterr()
    assert said.err.count("a row could not be written (No space left on device)") == 1
    assert "/dev/full: 4 rows lacking" in said.err
    assert "1 of 4 diverges" in said.out


@pytest.fixture(params=["POSIX", "Windows"])
def locks(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """The locks of this system, then those of Windows, played by what Linux has of their kind: one stretch of bytes of
    one opening of a file."""
    if request.param == "Windows" and sys.platform != "win32":
        fcntl = pytest.importorskip("fcntl")
        if not hasattr(fcntl, "F_OFD_SETLK"):
            pytest.skip("no locks of one opening here")

        def locking(place: int, mode: int, count: int) -> None:
            start = os.lseek(place, 0, os.SEEK_CUR)
            # what is locked there can be neither read nor written through another opening
            assert (mode, count) == (2, 1)
            assert start > 1 << 30
            wanted = struct.pack("hhqqi4x", fcntl.F_WRLCK, os.SEEK_SET, start, count, 0)
            try:
                fcntl.fcntl(place, fcntl.F_OFD_SETLK, wanted)
            except BlockingIOError as error:
                raise PermissionError(errno.EACCES, "Permission denied") from error

        monkeypatch.setitem(sys.modules, "fcntl", None)
        monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(locking=locking, LK_NBLCK=2))
    return str(request.param)


def test_two_watches_do_not_keep_one_record(tmp_path: Path, against: Reference, locks: str) -> None:
    path = tmp_path / "record.csv"
    first = Record(path, "a")
    news = Soak(against).take(put(tmp_path, "one.csv", capture_text(1), 1))
    # before there is a row, and behind it
    for _ in range(2):
        with pytest.raises(RequestError, match="another watch keeps its record there"):
            Record(path, "a")
        first.add(news)
    first.close()
    second = Record(path, "a")
    second.add(news)
    assert [row.name for row in second.kept] == ["one.csv"] * 2
    assert len(path.read_text("utf-8").splitlines()) == 4


def test_a_record_that_is_gone_is_begun_and_kept_anew(tmp_path: Path, against: Reference, locks: str) -> None:
    path = tmp_path / "record.csv"
    first = Record(path, "a")
    news = Soak(against).take(put(tmp_path, "one.csv", capture_text(1), 1))
    first.add(news)
    path.unlink()
    second = Record(path, "a")
    with pytest.raises(BlockingIOError, match="another watch keeps it"):
        first.add(news)
    assert first.waiting == 1
    second.close()
    first.write()
    assert told(path) == [("one.csv", "agrees")]
    with pytest.raises(RequestError, match="another watch keeps its record there"):
        Record(path, "a")


def test_a_record_that_may_not_be_written_waits(tmp_path: Path, against: Reference, monkeypatch) -> None:
    """Read-only at the start, and on a share that knows no locks."""
    path = tmp_path / "record.csv"
    news = Soak(against).take(put(tmp_path, "one.csv", capture_text(1), 1))
    Record(path, "a").add(news)
    opened = os.open

    def refused(name: object, flags: int, *more: int) -> int:
        if flags & os.O_RDWR and Path(name) == path:
            raise PermissionError(errno.EACCES, "Permission denied", str(name))
        return opened(name, flags, *more)

    with monkeypatch.context() as patch:
        patch.setattr("app.soak.record.os.open", refused)
        record = Record(path, "a")
        assert [row.name for row in record.kept] == ["one.csv"]
        with pytest.raises(PermissionError):
            record.add(news)
    monkeypatch.setattr("app.soak.record.lock_file", lambda _place: False)
    record.add(news)
    assert record.waiting == 0
    assert len(told(path)) == 3
