"""What a person says of a file is taken before what it seems to be."""

from __future__ import annotations

import io
import os
import sys
import warnings
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tracecore.errors import CaptureFileError, MalformedCapture, MissingSampleRate
from tracecore.readers import read_capture, source
from tracecore.readers.rows import pieces


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "capture.csv"
    path.write_text(text, "utf-8")
    return path


CHANGES = "time,a,b\n0,0,1\n10,1,0\n30,0,1\n"


def test_a_time_column_without_a_unit_takes_the_one_that_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, CHANGES)
    with pytest.raises(MissingSampleRate):
        read_capture(path)
    capture = read_capture(path, time_unit="us")
    assert capture.digital["a"].times_ps.tolist() == [0, 10_000_000, 30_000_000]
    with pytest.raises(ValueError, match="fortnight"):
        read_capture(path, time_unit="fortnight")


def test_rows_above_the_first_one_are_left_out(tmp_path: Path) -> None:
    path = written(tmp_path, CHANGES)
    capture = read_capture(path, time_unit="ns", first_row=3)
    assert (capture.start_ps, capture.channels) == (10_000, ("a", "b"))


def test_a_delimiter_that_is_said_is_taken(tmp_path: Path) -> None:
    path = written(tmp_path, "; Samplerate: 1 MHz\na;b\n" + "0;1\n1;0\n" * 20)
    assert read_capture(path, delimiter=";").channels == ("a", "b")
    with pytest.raises(CaptureFileError):
        read_capture(path, delimiter="\t")


def test_volts_are_multiplied_for_a_probe_that_the_instrument_did_not_know_of(tmp_path: Path) -> None:
    rows = "".join(f"{i}e-6,0.{i % 5}\n" for i in range(20))
    path = written(tmp_path, "Time (s),CH1 (V)\n" + rows)
    plain, scaled = read_capture(path), read_capture(path, volt_scale=Fraction(10))
    np.testing.assert_allclose(scaled.analog["CH1"].volts, plain.analog["CH1"].volts * 10, rtol=1e-6)
    assert ("volts multiplied by", "10") in scaled.facts
    assert scaled.sha256 == plain.sha256


@pytest.mark.filterwarnings("error")
def test_a_first_look_that_is_stopped_closes_the_file(tmp_path: Path) -> None:
    class Stopped(Exception):
        """The person asked to stop."""

    def tell(share: float, words: str) -> None:
        raise Stopped

    path = written(tmp_path, "; Samplerate: 1 MHz\na,b\n" + "0,1\n1,0\n" * 20)
    opened = len(os.listdir("/proc/self/fd")) if sys.platform == "linux" else 0
    with pytest.raises(Stopped):
        read_capture(path, progress=tell)
    assert not opened or len(os.listdir("/proc/self/fd")) == opened


def test_volts_take_the_unit_of_time_that_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, "X,CH1 (V)\n" + "".join(f"{i},0.{i % 5}\n" for i in range(20)))
    with pytest.raises(MissingSampleRate):
        read_capture(path)
    assert read_capture(path, time_unit="us").analog["CH1"].interval_ps == 1_000_000


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a,b\n0,1\n1,1\n1,0\n0,q\n0,1\n0,1\n", 5),
        ("Sample,a,b\n0,0,1\n1,1,1\n2,0\n3,1,0\n4,1,1\n", 4),
        (CHANGES + "40,2,1\n50,1,1\n60,0,1\n", 5),
        ("X,CH1,CH2\n0,0.1,0.2\n1,0.q,0.2\n2,0.4,0.2\n3,0.1,0.2\n", 3),
    ],
)
def test_a_damaged_row_is_told_before_what_a_person_can_add(tmp_path: Path, text: str, line: int) -> None:
    path = written(tmp_path, text)
    with pytest.raises(MalformedCapture) as caught:
        read_capture(path)
    assert caught.value.line == line
    # the same row is named once it is said
    with pytest.raises(MalformedCapture) as said:
        read_capture(path, sample_rate="1 MHz", time_unit="ns")
    assert str(said.value) == str(caught.value)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(("row", "line"), [("{}e-6,0.1,0.2,0.3", 40), ("{}e-6,0.1,1e39", 40)])
def test_two_threads_leave_the_filters_of_warnings_alone(tmp_path: Path, monkeypatch, row: str, line: int) -> None:
    filters = list(warnings.filters)

    class Spied(io.BytesIO):
        """What the parser of numbers is given."""

        def __init__(self, data: bytes) -> None:
            assert warnings.filters == filters
            super().__init__(data)

    monkeypatch.setattr(io, "BytesIO", Spied)
    monkeypatch.setattr(pieces, "PIECE", 256)
    monkeypatch.setattr(source, "HEAD_BYTES", 256)
    good = "".join(f"{i}e-6,0.{i % 5},0.2\n" for i in range(38))
    path = written(tmp_path, "Time (s),A (V),B (V)\n" + good + "".join(row.format(i) + "\n" for i in range(38, 80)))
    with pytest.raises(MalformedCapture) as caught:
        read_capture(path)
    assert caught.value.line == line
