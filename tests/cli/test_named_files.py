"""What a command is to write: never what it reads, never under no name, and a device is written to."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from app.cli.run import run
from tests.cli.every_command import WRITTEN, line
from tests.thinned import thinned

OPTIONS = [(command, option) for command, options in WRITTEN.items() for option in options]
FOLDERS = ("compare", "report")


def with_value(words: list[str], option: str, value: str) -> list[str]:
    """The words with that option alone among those that write, and another value."""
    at = words.index(option)
    return [*words[: at + 1], value, *words[at + 2 :]]


@pytest.fixture(autouse=True)
def inside(small_files: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(small_files)


@pytest.mark.parametrize(("command", "option"), thinned(OPTIONS))
def test_a_file_that_is_read_is_not_written_over(command: str, option: str, tmp_path: Path, capsys) -> None:
    words = line(command, tmp_path)
    read = [word for word in words[1:] if Path(word).is_file()]
    assert read
    for name in read:
        before = Path(name).read_bytes()
        for value in (name, f"./{name}", os.path.abspath(name)):
            assert run(with_value(words, option, value)) == 2, (command, option, value)
            assert f"{Path(value)} is also read by this command" in capsys.readouterr().err
        assert Path(name).read_bytes() == before
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("command", "option"), [*OPTIONS, *((command, "--out") for command in FOLDERS)])
def test_no_name_is_told(command: str, option: str, tmp_path: Path, capsys) -> None:
    assert run(with_value(line(command, tmp_path), option, "")) == 2
    assert f"{option}: the name is empty" in capsys.readouterr().err


@pytest.mark.parametrize(("command", "option"), thinned(OPTIONS, 3))
def test_a_device_is_written_to_and_stays_one(command: str, option: str, tmp_path: Path, capsys) -> None:
    """What is full is told, but for a watch, which goes on."""
    if command == "card":
        pytest.skip("writes to the case as well, which other tests share")
    assert run(with_value(line(command, tmp_path), option, "/dev/null")) in (0, 1, 2)
    assert "is also read" not in capsys.readouterr().err
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)
    full = run(with_value(line(command, tmp_path), option, "/dev/full"))
    said = capsys.readouterr().err
    assert "No space left on device" in said
    assert full == 2 or command == "soak"


def test_devices_and_folders_of_others_are_no_place_for_a_report(tmp_path: Path, capsys) -> None:
    for command in FOLDERS:
        for name, words in (
            ("/dev/null", "is not a folder"),
            ("/etc", "holds"),
            (".", "lies in"),
            ("good.csv", "not a folder"),
        ):
            assert run(with_value(line(command, tmp_path), "--out", name)) == 2
            assert words in capsys.readouterr().err


def test_what_is_read_out_of_a_folder_is_not_replaced_by_a_report(tmp_path: Path, capsys) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    held = folder / "divergences.csv"
    held.write_bytes(Path("good.csv").read_bytes())
    words = ["compare", "--good", str(held), "--suspect", "suspect.csv", "--out", str(folder)]
    assert run(words) == 2
    assert "which a report replaces" in capsys.readouterr().err
    assert held.exists()


def test_one_file_for_two_outputs_is_refused(tmp_path: Path, capsys) -> None:
    words = with_value(line("timing", tmp_path), "--json", str(tmp_path / "timing.csv"))
    assert run(words) == 2
    assert "Name two files" in capsys.readouterr().err


def test_an_input_without_a_name_is_not_left_out(capsys) -> None:
    assert run(["check", "good.csv", "--sheet", ""]) == 2
    assert "--sheet: the name of the file is empty" in capsys.readouterr().err
