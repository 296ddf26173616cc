"""A folder is watched: files that grow, are renamed, replaced, or go away."""

from __future__ import annotations

import os
import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest

from app.soak.folder_watch import FolderWatch
from tracecore.errors import RequestError

SLOW_WRITER = """
import sys
with open(sys.argv[1], "w") as file:
    for _ in sys.stdin:
        file.write("0,1,0,1\\n" * 50)
        file.flush()
        print("written", flush=True)
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
    assert watch.growing == 0
    write(tmp_path / "gone.csv", "0\n", 20)
    assert watch.ready() == ()
    assert watch.growing == 1


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


def test_a_slow_writer_in_another_process(watch: FolderWatch, clock: Clock, tmp_path: Path) -> None:
    path = tmp_path / "slow.csv"
    command = [sys.executable, "-c", SLOW_WRITER, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as writer:
        for _ in range(8):
            writer.stdin.write("more\n")
            writer.stdin.flush()
            assert writer.stdout.readline() == "written\n"
            clock.now += 1.9
            assert watch.ready() == ()
        writer.stdin.close()
    clock.now += 2.0
    assert watch.ready() == (path,)
    assert path.stat().st_size == 8 * 50 * 8
    clock.now += 9.0
    assert watch.ready() == ()


def test_a_change_wakes_the_watch(tmp_path: Path) -> None:
    watch = FolderWatch(tmp_path)
    watch.start()
    try:
        (tmp_path / "a.csv").write_text("0\n", "utf-8")
        # where the system tells of nothing the wait ends by itself, and the folder is looked through
        watch.wait(30.0)
    finally:
        watch.stop()
    watch.ready()
    assert watch.growing == 1


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


def test_a_share_that_is_empty_while_it_is_away_gives_nothing_twice(watch: FolderWatch, clock: Clock, tmp_path: Path):
    write(tmp_path / "a.csv", "0\n", 1)
    watch.ready()
    clock.now += 10
    assert [path.name for path in watch.ready()] == ["a.csv"]
    (tmp_path / "a.csv").unlink()
    assert watch.ready() == ()
    write(tmp_path / "a.csv", "0\n", 1)
    clock.now += 10
    assert watch.ready() == ()
    clock.now += 10
    assert watch.ready() == ()
    write(tmp_path / "a.csv", "1\n", 2)
    watch.ready()
    clock.now += 10
    assert [path.name for path in watch.ready()] == ["a.csv"]


def test_what_an_earlier_watch_gave_is_given_again_only_where_it_changed(tmp_path: Path, clock: Clock) -> None:
    for name in ("same.csv", "longer.csv", "later.csv"):
        write(tmp_path / name, "01\n", 5)
    watch = FolderWatch(tmp_path, settle_s=1, clock=clock)
    watch.know({"same.csv": (3, 5 * 10**9), "longer.csv": (2, 5 * 10**9), "later.csv": (3, 4 * 10**9)})
    watch.ready()
    clock.now = 2.0
    assert {path.name for path in watch.ready()} == {"longer.csv", "later.csv"}


def test_a_file_that_is_written_anew_before_it_is_read_waits_again(watch: FolderWatch, clock: Clock, tmp_path: Path):
    path = tmp_path / "a.csv"
    write(path, "0\n", 1)
    watch.ready()
    clock.now = 3.0
    assert watch.ready() == (path,)
    assert watch.still(path)
    write(path, "0\n1\n", 2)
    assert not watch.still(path)
    assert watch.ready() == ()
    clock.now = 6.0
    assert watch.ready() == (path,)


@pytest.mark.parametrize("way", ["landing/record.csv", "link/record.csv", "elsewhere.csv"])
def test_a_record_in_the_folder_is_no_capture(tmp_path: Path, clock: Clock, way: str) -> None:
    folder = tmp_path / "landing"
    folder.mkdir()
    (tmp_path / "link").symlink_to(folder)
    (tmp_path / "elsewhere.csv").symlink_to(folder / "record.csv")
    watch = FolderWatch(folder, settle_s=1, leave=[tmp_path / way], clock=clock)
    (folder / "record.csv").write_text("x")
    watch.ready()
    clock.now += 10
    assert watch.ready() == ()


def test_a_file_that_comes_back_slowly_is_the_one_that_was_given(watch: FolderWatch, clock: Clock, tmp_path: Path):
    write(tmp_path / "a.csv", "0\n1\n", 5)
    watch.ready()
    clock.now = 3.0
    assert watch.ready() == (tmp_path / "a.csv",)
    (tmp_path / "a.csv").unlink()
    assert watch.ready() == ()
    write(tmp_path / "a.csv", "0\n", 9)
    clock.now = 4.0
    assert watch.ready() == ()
    write(tmp_path / "a.csv", "0\n1\n", 5)
    for clock.now in (5.0, 9.0):
        assert watch.ready() == ()
    assert watch.growing == 0


def test_of_each_file_that_was_given_little_is_kept(tmp_path: Path, clock: Clock) -> None:
    files = 2000
    for number in range(files):
        (tmp_path / f"run{number:05d}.csv").write_bytes(b"0\n")
    watch = FolderWatch(tmp_path, settle_s=0, clock=clock)
    tracemalloc.start(4)
    try:
        assert len(watch.ready()) == files
        # another test's thread may take memory meanwhile
        taken = tracemalloc.take_snapshot().filter_traces(
            [tracemalloc.Filter(True, "*folder_watch.py", all_frames=True)]
        )
    finally:
        tracemalloc.stop()
    # its name, its size and its time
    kept = sum(own.size for own in taken.statistics("filename"))
    assert 100 < kept / files < 400
