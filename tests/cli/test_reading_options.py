"""Every choice that the import form has can be typed, and each refusal names the option that helps."""

from __future__ import annotations

import pytest

from app.cli.arguments import parse
from app.cli.settings_options import reading_typed
from tracecore.errors import CaptureFileError
from tracecore.readers import read_capture

_OPTIONS = ["--delimiter", "semicolon", "--first-row", "3", "--time-unit", "ns", "--layout", "change rows"]


@pytest.mark.parametrize(
    "command",
    [
        ["check", "a.csv"],
        ["compare", "--good", "a.csv", "--suspect", "b.csv"],
        ["levels", "--good", "a.csv", "--suspect", "b.csv"],
        ["timing", "--good", "a.csv", "--suspect", "b.csv"],
        ["soak", "landing"],
        ["part", "7404", "--capture", "a.csv"],
        ["pins", "pins.csv", "--good", "a.csv", "--suspect", "b.csv"],
        ["attach", "case.twinslot", "a.csv"],
    ],
)
def test_each_command_that_reads_files_has_them_all(command):
    more = ["--rate", "24 MHz", "--word-base", "octal", "--column", "A=volts x10"]
    said = reading_typed(parse([*command, *_OPTIONS, *more])).arguments
    assert (said["delimiter"], said["first_row"], said["time_unit"]) == (";", 3, "ns")
    assert set(said) == {"sample_rate", "word_base", "layout", "first_row", "delimiter", "time_unit", "columns"}


@pytest.mark.parametrize("wrong", [["--first-row", "0"], ["--delimiter", "ab"], ["--time-unit", "h"]])
def test_a_choice_that_is_none_is_told(wrong, capsys):
    with pytest.raises(SystemExit):
        parse(["check", "a.csv", *wrong])
    assert wrong[0] in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "option"),
    [
        ("A,B\n0,1\n1,0\n", "--rate"),
        ("Time,A\n5,0\n9,1\n", "--time-unit"),
        ("Time (qs),A\n0.5,0\n0.7,1\n", "--time-unit"),
        ("hello\nworld\n", "--first-row"),
        ("; Samplerate: 1 MHz\nD,E\n12,0\n11,1\n", "--word-base"),
        ("Time [s],A (qV)\n0.0,1.5\n0.1,1.6\n0.2,1.7\n", "--column"),
    ],
)
def test_a_refusal_names_its_option(tmp_path, text, option):
    path = tmp_path / "capture.csv"
    path.write_text(text)
    with pytest.raises(CaptureFileError, match=option):
        read_capture(path)
