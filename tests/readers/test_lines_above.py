"""What stands between a heading and its rows: a row glued to the heading and a torn heading are named."""

from __future__ import annotations

import pytest

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture

RATE = "; Samplerate: 1 MHz\n"
ROWS = "0.00,200,1100\n0.01,210,1200\n0.02,3400,1300\n"


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        (RATE + "D1,D3*0,1\n1,1\n1,0\n", 2, "3 cells above rows of 2"),
        ("Time (us),A (mV),B (mV)*0.00,200,1100\n" + ROWS, 1, "5 cells above rows of 3"),
        ("Time [us],D,CLK*0,0x3F,0\n1,0x1A,1\n2,0x2B,0\n", 1, "5 cells above rows of 3"),
        ("t,A,B\nm\ns,mV,mV\n" + ROWS, 3, "'s,mV,mV' between the heading and the rows"),
        ("x-,axis,A,B\nus,mV,mV\n" + ROWS, 1, "4 cells above rows of 3"),
        (RATE + "D1,D2,D3\nlogic,logic\n0,1\n1,1\n1,0\n", 2, "3 cells above rows of 2"),
        ("Time (us),A,B\n(mV),\n" + ROWS, 2, "'(mV),' between the heading and the rows"),
        ("Time (ns),D[7:0] (hex)\n.,BA\n11,D3\n22,7F\n33,12\n", 2, "'.,BA'"),
        ("Time (ns),D[7:0] (hex)\np,FA\n11,D3\n22,7F\n33,12\n", 2, "'p,FA'"),
        ("Time (us),A,B\nus,mV,1\n" + ROWS, 2, "the unit '1'"),
        ('"ertical Units,mV\nTime (us),A,B\n' + ROWS, 1, "a quote without its pair"),
        ("X,A,Start,Increment\nSequence,Volt,0,2,.0E-06\n0,0.25,,\n1,0.35,,\n2,3.15,,\n", 2, "5 cells"),
        ("Time (us),A,,B (mV)\n0.00,200,1100,\n0.01,210,1200,\n0.02,3400,1300,\n", 1, "above a column without numbers"),
    ],
)
def test_what_does_not_belong_above_the_rows_is_named(tmp_path, text, line, found):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, text))
    assert caught.value.line == line
    assert found in caught.value.found


@pytest.mark.parametrize(
    ("text", "names"),
    [
        (RATE + 'Probe 5" long\nD1,D3\n0,1\n1,1\n', ("D1", "D3")),
        (RATE + "Board 3\nD1,D3\n0,1\n1,1\n", ("D1", "D3")),
        (RATE + "Board 3\n0,1\n1,1\n", ("0", "1")),
        ("Time base,5 ms\nTime,14:05\nTime (us),A (mV),B (mV)\n" + ROWS, ("A", "B")),
        ("Time,A,B\nus,mV,mV\n" + ROWS, ("A", "B")),
        ("Time,A,B\nus\n0,0,1\n5,1,1\n9,0,1\n", ("A", "B")),
    ],
)
def test_what_belongs_there_is_passed_over(tmp_path, text, names):
    assert read_capture(put(tmp_path, text)).channels == names
