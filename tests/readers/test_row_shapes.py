"""Rows that are not shaped as the others: what a byte may have been lost to is named, whatever the cells hold."""

from __future__ import annotations

import numpy as np
import pytest

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture

HEADS = {
    "volts": ("Time (us),A (V),B (V)\n", "0.{i:02d},1.{i:02d},2.5{k}"),
    "volts and logic": ("Time (us),A (V),B\n", "0.{i:02d},1.{i:02d},{k}"),
    "words": ("Time (us),A (hex),B\n", "0.{i:02d},{i:02d},{k}"),
    "levels in words": ("Time (us),A,B\n", "0.{i:02d},H,L"),
    "logic": ("Time (us),A,B\n", "0.{i:02d},1,{k}"),
}


def lines(kind: str) -> list[str]:
    return [HEADS[kind][1].format(i=i, k=i // 3 % 2) for i in range(12)]


# letters of logic cannot be lost to a delimiter behind them
@pytest.mark.parametrize("kind", [kind for kind in HEADS if kind != "logic"])
@pytest.mark.parametrize("closed", ["", ","])
@pytest.mark.parametrize(
    ("damage", "found"),
    [
        (lambda row: row + "\r", "line end|carriage return"),
        (lambda row: row.replace(",", ",\r", 1), "carriage return|'"),
        (lambda row: row + ",", "cells"),
        (lambda row: row.rpartition(",")[0], "cell"),
        (lambda row: row + '"', "quote without its pair"),
        (lambda row: "", "a blank line"),
    ],
    ids=["line end", "carriage return", "delimiter", "cell lost", "quote", "blank"],
)
def test_a_row_of_another_shape_is_named(tmp_path, kind, closed, damage, found):
    rows = [row + closed for row in lines(kind)]
    head = HEADS[kind][0]
    assert "B" in read_capture(put(tmp_path, head + "\n".join(rows) + "\n")).channels
    rows[6] = damage(rows[6][: len(rows[6]) - len(closed)]) + closed * (damage("x") != "")
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, head + "\n".join(rows) + "\n"))
    assert caught.value.line == 8
    assert any(word in caught.value.found for word in found.split("|"))


@pytest.mark.parametrize("kind", HEADS)
@pytest.mark.parametrize("delimiter", [";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("last", ["", "\n", "\n\n"])
def test_closed_rows_read_alike_behind_any_delimiter_and_line_end(tmp_path, kind, delimiter, end, last):
    plain = read_capture(put(tmp_path, HEADS[kind][0] + "\n".join(lines(kind)) + "\n"))
    rows = [row.replace(",", delimiter) + delimiter for row in lines(kind)]
    text = HEADS[kind][0].strip().replace(",", delimiter) + end + end.join(rows) + last.replace("\n", end)
    found = read_capture(put(tmp_path, text))
    assert found.notes == ()
    for name, trace in plain.digital.items():
        assert found.digital[name].times_ps.tolist() == trace.times_ps.tolist()
        assert found.digital[name].stop_ps == trace.stop_ps
    for name, volts in plain.analog.items():
        assert np.array_equal(found.analog[name].volts, volts.volts)


def test_a_blank_column_that_has_a_name_is_no_delimiter_behind_the_rows(tmp_path):
    rows = "".join(f"{i % 2},{i // 2 % 2},\n" for i in range(12))
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "; Samplerate: 10 MHz\nA,B,C\n" + rows))
    assert (caught.value.line, caught.value.column) == (3, 3)
