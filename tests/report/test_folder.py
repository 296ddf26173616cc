"""A report is written whole or not at all, and never over anything else."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import app.output_file as output_file
import app.report.folder as folder_module
from app.cli.run import demo_request
from app.output_file import check_output, write_bytes
from app.report import write_json, write_report
from app.report.folder import OURS, check_folder
from demo_traces import CASES
from tracecore.comparison import Comparison, compare
from tracecore.errors import RequestError
from tracecore.tables import DIVERGENCE_COLUMNS

WHOLE = ("report.html", "report.pdf", "divergences.csv", "comparison.json")


@pytest.fixture(scope="module")
def contact() -> Comparison:
    return compare(demo_request(CASES["contact"]))


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_a_report_replaces_an_older_report(contact, tmp_path):
    place = tmp_path / "deep" / "report"
    write_report(contact, place, printed="2031-01-01")
    (place / "window.png").write_bytes(b"an older picture")
    written = write_report(contact, place, printed="2031-01-02")
    assert set(names(place)) == {path.name for path in written}
    assert "2031-01-02" in written[0].read_text("utf-8")
    assert names(place.parent) == ["report"]


def test_a_folder_with_anything_else_is_left_alone(contact, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(RequestError, match=r"notes\.txt"):
        write_report(contact, tmp_path)
    assert names(tmp_path) == ["notes.txt"]


def test_a_file_is_no_place_for_a_report(contact, tmp_path):
    (tmp_path / "report").write_text("mine")
    with pytest.raises(RequestError, match="not a folder"):
        write_report(contact, tmp_path / "report")
    assert (tmp_path / "report").read_text() == "mine"


def test_a_disk_that_fails_half_way_leaves_the_older_report_and_nothing_else(contact, tmp_path, monkeypatch):
    place = tmp_path / "report"
    before = [path.read_bytes() for path in write_report(contact, place)]

    def full(self: Path, data: bytes) -> int:
        if self.name == "comparison.json":
            raise OSError(28, "No space left on device")
        with open(self, "wb") as file:
            return file.write(data)

    monkeypatch.setattr(folder_module.Path, "write_bytes", full)
    with pytest.raises(OSError, match="No space left"):
        write_report(contact, place, printed="2031-01-03")
    assert names(tmp_path) == ["report"]
    assert [(place / n).read_bytes() for n in WHOLE] == before


def test_json_alone(contact, tmp_path):
    path = write_json(contact, tmp_path / "c.json")
    assert path.read_text("ascii").endswith("}\n")
    assert names(tmp_path) == ["c.json"]
    with pytest.raises(RequestError, match="is a folder"):
        write_json(contact, tmp_path)


def test_every_file_of_a_report_counts_as_ours(contact, tmp_path):
    assert {path.name for path in write_report(contact, tmp_path / "r")} < OURS


def test_what_a_killed_run_left_is_put_right(contact, tmp_path):
    place = tmp_path / "report"
    write_report(contact, place)
    # killed between the two moves: the older report is whole beside its place, under the number of a program that ended
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    place.rename(tmp_path / f".report.old-{ended.pid}")
    check_folder(place)
    assert set(names(place)) == set(WHOLE)
    assert names(tmp_path) == ["report"]


def test_what_lies_there_for_long_is_put_right_though_its_number_is_taken_again(tmp_path, monkeypatch):
    """Numbers of programs come again, in a container soon."""
    own = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    try:
        left = [tmp_path / f".report.{what}-{own.pid}" for what in ("old", "new")]
        for folder in left:
            folder.mkdir()
        (tmp_path / f".c.json.new-{own.pid}").write_text("half")
        check_folder(tmp_path / "report")
        assert len(names(tmp_path)) == 3
        monkeypatch.setattr(output_file, "LEFT_AFTER_S", -1.0)
        check_folder(tmp_path / "report")
        write_bytes(tmp_path / "c.json", b"{}")
        assert names(tmp_path) == ["c.json", "report"]
    finally:
        own.communicate()


KILLED = """
import os, sys, pathlib
import app.report.folder as folder
place, at = pathlib.Path(sys.argv[1]), int(sys.argv[2])
steps = 0
def counted(real):
    def step(*words, **named):
        global steps
        if steps == at:
            os._exit(9)
        steps += 1
        return real(*words, **named)
    return step
for name in ("rename", "mkdir", "write_bytes"):
    setattr(pathlib.Path, name, counted(getattr(pathlib.Path, name)))
folder.shutil.rmtree = counted(folder.shutil.rmtree)
folder.check_folder(place)
fresh = folder.beside(place, "new")
fresh.mkdir()
for name in sorted(folder.OURS):
    (fresh / name).write_bytes(b"new")
folder._put(fresh, place)
"""


def test_killed_at_any_step_the_next_run_finds_a_whole_report_and_nothing_else(tmp_path, monkeypatch):
    place = tmp_path / "report"
    env = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    monkeypatch.setattr(output_file, "LEFT_AFTER_S", -1.0)
    found = set()
    for at in range(12):
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir()
        for name in OURS:
            (place / name).write_bytes(b"old")
        ended = subprocess.run([sys.executable, "-c", KILLED, str(place), str(at)], env=env, check=False)
        check_folder(place)
        assert names(tmp_path) == ["report"]
        (words,) = {(place / name).read_bytes() for name in OURS}
        found.add(words)
        if ended.returncode == 0:
            break
    assert ended.returncode == 0
    assert found == {b"old", b"new"}


def test_a_device_is_written_and_no_input_is_written_over(contact, tmp_path):
    assert write_bytes("/dev/null", b"x").exists()
    assert Path("/dev/null").is_char_device()
    (tmp_path / "good.csv").write_text("mine")
    with pytest.raises(RequestError, match="is also read by this command"):
        check_output(tmp_path / "good.csv", [tmp_path / "other.csv", tmp_path / "." / "good.csv"])
    with pytest.raises(RequestError, match="name of the file to write is empty"):
        check_output("")
    with pytest.raises(RequestError, match="no folder is named"):
        check_folder(Path(""))


def test_the_guide_explains_every_column_of_the_divergences():
    text = (Path(__file__).parents[2] / "app" / "help" / "command_line.md").read_text("utf-8")
    part = text[text.index("`divergences.csv` has a row") :].partition("\n## ")[0]
    assert [name for name in DIVERGENCE_COLUMNS if f"`{name}`" not in part] == []
