"""A last row without a line end: kept where no letter of it can be missing, left out with a note elsewhere."""

from __future__ import annotations

import gzip

import numpy as np
import pytest

from tests.readers.samples import SAMPLES
from tests.readers.test_readers import agree, put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture, source
from tracecore.readers.rows import pieces

OPEN_VOLTS = ("volts, two heading rows", "preamble above")
VOLTS = [name for name, sample in SAMPLES.items() if sample.volts]


def short(trace) -> list[float]:
    return trace.volts.tolist()


@pytest.mark.parametrize("name", [n for n in SAMPLES if n not in OPEN_VOLTS and n != "cut short"])
def test_a_last_row_that_cannot_be_cut_is_kept_without_a_line_end(tmp_path, name):
    agree(read_capture(put(tmp_path, SAMPLES[name].text.rstrip("\n"))), SAMPLES[name])


@pytest.mark.parametrize("name", OPEN_VOLTS)
@pytest.mark.parametrize("packed", [bytes, gzip.compress])
def test_a_last_volt_without_a_line_end_is_left_out_with_a_note(tmp_path, name, packed):
    text = SAMPLES[name].text.rstrip("\n")
    capture = read_capture(put(tmp_path, packed(text.encode())))
    for channel, volts in SAMPLES[name].volts.items():
        assert short(capture.analog[channel]) == np.array(volts[:-1], np.float32).tolist()
    line = text.count("\n") + 1
    assert capture.notes == (f"The last row (line {line}) has no line end, may be cut short, and is left out.",)


@pytest.mark.parametrize("name", VOLTS)
def test_volts_cut_anywhere_in_the_last_row_are_those_of_whole_rows(tmp_path, name):
    data = SAMPLES[name].text.encode()
    rows = len(next(iter(SAMPLES[name].volts.values())))
    begin = data.rstrip(b"\n").rindex(b"\n") + 1
    for size in range(begin + 1, len(data)):
        capture = read_capture(put(tmp_path, data[:size]))
        for channel, volts in SAMPLES[name].volts.items():
            found = short(capture.analog[channel])
            assert found == np.array(volts[: len(found)], np.float32).tolist(), size
            assert len(found) == rows - bool(capture.notes), size


@pytest.mark.parametrize(
    ("last", "rows"),
    [("340", 3), ("3400", 3), ("34000", 3), ("3400,", 4), ("3400,\n", 4), ("3,", 4), ("3", 3), ("-", 3), ("", 3)],
)
def test_only_a_delimiter_or_a_line_end_closes_a_volt(tmp_path, last, rows):
    text = "Time (us),Ch A (mV)\n0.00,200,\n0.01,210,\n0.02,3400,\n0.03," + last
    capture = read_capture(put(tmp_path, text))
    assert len(capture.analog["Ch A"].volts) == rows
    assert len(capture.notes) == 4 - rows


@pytest.mark.parametrize("head_bytes", [40, 64, 1 << 16])
def test_the_last_row_is_told_wherever_the_first_look_ends(tmp_path, monkeypatch, head_bytes):
    monkeypatch.setattr(source, "HEAD_BYTES", head_bytes)
    rows = [f"0.{i:02d},1.{i:02d}" for i in range(30)]
    text = "Time (us),A (V)\n" + "\n".join(rows)
    capture = read_capture(put(tmp_path, text))
    assert len(capture.analog["A"].volts) == 29
    assert "line 31" in capture.notes[0]
    assert len(read_capture(put(tmp_path, text + "\n")).analog["A"].volts) == 30


def test_one_row_without_a_line_end_is_an_error_that_names_it(tmp_path):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time (us),A (V)\n0.00,0.25"))
    assert caught.value.line == 2


@pytest.mark.parametrize(("high", "low"), [("1", "0"), ("H", "L"), ("X", "0")])
def test_an_empty_last_level_is_whole_only_where_none_was_known_above(tmp_path, high, low):
    rows = "".join(f"{i},{high},{low}\n" for i in range(9)) + f"9,{high},{high}\n"
    capture = read_capture(put(tmp_path, "Time [ns],A,B\n" + rows + f"10,{low},"))
    assert capture.digital["B"].stop_ps == (11_000 if high == "X" else 10_000)
    assert bool(capture.notes) == (high != "X")


@pytest.mark.parametrize("piece", [40, 64, 1 << 21])
def test_the_row_above_the_last_one_may_stand_in_another_piece(tmp_path, monkeypatch, piece):
    monkeypatch.setattr(source, "HEAD_BYTES", 40)
    monkeypatch.setattr(pieces, "PIECE", piece)
    rows = [f"{i / 1000:.3f},0," for i in range(40)]
    for count in range(34, 40):
        assert read_capture(put(tmp_path, "Time [ns],A,B\n" + "\n".join(rows[:count]))).notes == ()


@pytest.mark.parametrize("hollow", ["\n", "\n\n", ",,\n", "\n,,\n \n"])
@pytest.mark.parametrize(("last", "told"), [("10,1", ""), ("10,", "cut short"), ("10,1,2", "3 cells"), ("x,1", "'x'")])
def test_the_line_of_the_last_row_counts_what_is_empty_above_it(tmp_path, hollow, last, told):
    path = put(tmp_path, "Time [ns],A\n" + "".join(f"{i},1\n" for i in range(9)) + hollow + last)
    line = 11 + hollow.count("\n")
    if told == "cut short":
        notes = read_capture(path).notes
        assert [f"(line {line})" in note for note in notes if told in note] == [True]
        return
    with pytest.raises(MalformedCapture, match=told or "blank line|taken for time") as caught:
        read_capture(path)
    # below a row that fits, the empty one is the first that does not
    assert caught.value.line == (line if told else 11)


@pytest.mark.parametrize("rest", ["\r", " ", "\r\n\r", "\r\n \r"])
def test_white_space_behind_the_last_line_end_is_no_row(tmp_path, rest):
    text = "Time [ns],A\r\n" + "".join(f"{i},{i % 2}\r\n" for i in range(9))
    capture = read_capture(put(tmp_path, text + rest))
    assert (capture.notes, capture.stop_ps) == ((), read_capture(put(tmp_path, text)).stop_ps)


def test_an_unknown_last_level_needs_no_delimiter_behind_it(tmp_path):
    rows = "".join(f"{i},1,,\n" for i in range(9))
    capture = read_capture(put(tmp_path, "Time [ns],A,B\n" + rows + "9,0,"))
    assert (capture.notes, capture.digital["A"].times_ps.tolist()) == ((), [0, 9000])


def test_a_stray_carriage_return_at_the_very_end_is_named(tmp_path):
    rows = "".join(f"{i},1\r\n" for i in range(9))
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time [ns],A\r\n" + rows + "9,0\r\r\n"))
    assert caught.value.line == 11


@pytest.mark.parametrize("last", [";", '"', ',"'])
def test_a_last_line_of_anything_but_delimiters_is_named(tmp_path, last):
    text = "Time [ns],A\n" + "".join(f"{i},1\n" for i in range(9)) + last + "\n"
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, text))
    assert caught.value.line == 11
