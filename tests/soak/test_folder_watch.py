"""A folder is watched: files that grow, are renamed, replaced, or go away."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from app.soak.folder_watch import FolderWatch
from tracecore.errors import RequestError

SLOW_WRITER = """
import sys, time
with open(sys.argv[1], "w") as file:
    for row in range(40):
        file.write("0,1,0,1\\n" * 50)
        file.flush()
        time.sleep(0.02)
"""


class Clock:
    """A clock that a test turns."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def watch(tmp_path: Path, clock: Clock) -> FolderWatch:
    return FolderWatch(tmp_path, settle_s=2.0, clock=clock)


def write(path: Path, text: str, modified: int) -> None:
    path.write_text(text, "utf-8")
    os.utime(path, (modified, modified))


def test_a_file_is_given_once_when_it_has_been_still(watch: FolderWatch, clock: Clock, tmp_path: Path) -> None:
    write(tmp_path / "a.csv", "0,1\n", 10)
    assert watch.ready() == ()
    assert watch.growing == 1
    clock.now = 1.0
    write(tmp_path / "a.csv", "0,1\n1,1\n", 11)
    assert watch.ready() == ()
    clock.now = 2.5
    assert watch.ready() == ()
    clock.now = 3.0
    assert watch.ready() == (tmp_path / "a.csv",)
    clock.now = 99.0
    assert watch.ready() == ()
    assert watch.growing == 0


def test_a_file_written_anew_is_given_again(watch: FolderWatch, clock: Clock, tmp_path: Path) -> None:
    for moment, text in ((0.0, "0\n"), (10.0, "1\n")):
        clock.now = moment
        write(tmp_path / "a.csv", text, int(moment) + 1)
        assert watch.ready() == ()
        clock.now += 2.0
        assert watch.ready() == (tmp_path / "a.csv",)


def test_what_is_no_capture_yet_is_left_alone(watch: FolderWatch, clock: Clock, tmp_path: Path) -> None:
    for name in (".hidden", "a.csv.part", "b.tmp", "c~"):
        write(tmp_path / name, "0\n", 1)
    (tmp_path / "folder").mkdir()
    write(tmp_path / "empty.csv", "", 1)
    watch.ready()
    clock.now = 9.0
    assert watch.ready() == ()
    (tmp_path / "a.csv.part").rename(tmp_path / "a.csv")
    watch.ready()
    clock.now = 20.0
    assert watch.ready() == (tmp_path / "a.csv",)


def test_oldest_first_and_those_that_go_away_are_forgotten(watch: FolderWatch, clock: Clock, tmp_path: Path) -> None:
    for name, modified in (("late.csv", 30), ("early.csv", 10), ("gone.csv", 20)):
        write(tmp_path / name, "0\n", modified)
    watch.ready()
    (tmp_path / "gone.csv").unlink()
    clock.now = 5.0
    assert watch.ready() == (tmp_path / "early.csv", tmp_path / "late.csv")
    assert len(watch._seen) == 2


def test_files_from_before_can_be_left_out(tmp_path: Path, clock: Clock) -> None:
    write(tmp_path / "old.csv", "0\n", 1)
    watch = FolderWatch(tmp_path, old=False, settle_s=2.0, clock=clock)
    write(tmp_path / "new.csv", "0\n", 2)
    watch.ready()
    clock.now = 3.0
    assert watch.ready() == (tmp_path / "new.csv",)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RequestError, match="is no folder"):
        FolderWatch(tmp_path / "none")


def test_a_slow_writer_in_another_process(tmp_path: Path) -> None:
    path = tmp_path / "slow.csv"
    watch = FolderWatch(tmp_path, settle_s=0.4)
    watch.start()
    writer = subprocess.Popen([sys.executable, "-c", SLOW_WRITER, str(path)])
    given: list[tuple[Path, int]] = []
    try:
        deadline = time.monotonic() + 30
        while not given and time.monotonic() < deadline:
            watch.wait(0.1)
            given += [(p, p.stat().st_size) for p in watch.ready()]
    finally:
        watch.stop()
        writer.wait(10)
    assert given == [(path, 40 * 50 * 8)]
    assert watch.ready() == ()


def test_a_folder_that_goes_away_and_comes_back_gives_nothing_twice(clock: Clock, tmp_path: Path):
    folder = tmp_path / "landing"
    folder.mkdir()
    watch = FolderWatch(folder, settle_s=2.0, clock=clock)
    (folder / "a.csv").write_text("x")
    watch.ready()
    clock.now += 10
    assert [path.name for path in watch.ready()] == ["a.csv"]
    folder.rename(tmp_path / "away")
    assert watch.ready() == ()
    (tmp_path / "away").rename(folder)
    clock.now += 10
    assert watch.ready() == ()


def test_a_record_in_the_folder_is_no_capture(tmp_path: Path, clock: Clock):
    watch = FolderWatch(tmp_path, settle_s=1, leave=[tmp_path / "record.csv"], clock=clock)
    (tmp_path / "record.csv").write_text("x")
    watch.ready()
    clock.now += 10
    assert watch.ready() == ()
