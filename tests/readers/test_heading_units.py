"""Units above columns: the known ones are taken, others are asked for or refused, never taken for 1."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture, MissingSampleRate
from tracecore.readers import read_capture

LOGIC = "0.0,0,1\n0.1,1,1\n0.2,1,0\n"
VOLTS = "0.00,200,3400\n0.01,210,3410\n0.02,3400,190\n"


@pytest.mark.parametrize(
    ("above", "rows", "resolution_ps"),
    [
        ("Time [us],A,B\n", LOGIC, 10**5),
        ("Uime [us],A,B\n", LOGIC, 10**5),
        ("Time us,A,B\n", LOGIC, 10**5),
        ("Elapsed us,A,B\n", LOGIC, 10**5),
        ("t/s,A,B\n", LOGIC, 10**11),
        ("Time,A,B\nus,,\n", LOGIC, 10**5),
        ("Time,A,B\n", LOGIC, 10**11),
        ("Time us,A (mV),B (mV)\n", VOLTS, 10**4),
        ("Time,A,B\nus,mV,mV\n", VOLTS, 10**4),
        ("x-axis,A,B,\nus,mV,mV\n", VOLTS, 10**4),
        ("Horizontal Units,us\nVertical Units,mV\nTIME,A,B\n", VOLTS, 10**4),
    ],
)
def test_known_units_are_taken(tmp_path, above, rows, resolution_ps):
    capture = read_capture(put(tmp_path, above + rows))
    assert (capture.channels, capture.resolution_ps) == (("A", "B"), resolution_ps)
    if rows is VOLTS:
        assert capture.analog["B"].volts[0] == pytest.approx(3.4)


@pytest.mark.parametrize(
    ("above", "rows", "found"),
    [
        ("Time [os],A,B\n", LOGIC, "'Time [os]'"),
        ("Time *us),A,B\n", LOGIC, "'Time *us)'"),
        ("Time os,A,B\n", LOGIC, "'Time os'"),
        ("Time,A,B\nts,,\n", LOGIC, "'ts'"),
        ("Uime *us],A,B\n", LOGIC, "'Uime *us]'"),
        ("Time (ts),A (mV),B (mV)\n", VOLTS, "'Time (ts)'"),
        ("Time *us),A (mV),B (mV)\n", VOLTS, "'Time *us)'"),
        ("Time,A,B\nts,mV,mV\n", VOLTS, "'ts'"),
        ("Horizontal Units,ts\nVertical Units,mV\nTIME,A,B\n", VOLTS, "'ts'"),
        ("Gorizontal Units,us\nVertical Units,mV\nTIME,A,B\n", VOLTS, "'us'"),
    ],
)
def test_an_unknown_unit_of_time_is_asked_for(tmp_path, above, rows, found):
    path = put(tmp_path, above + rows)
    with pytest.raises(MissingSampleRate) as caught:
        read_capture(path)
    assert caught.value.line is not None
    assert found in caught.value.found
    assert "unit" in caught.value.do
    assert read_capture(path, time_unit="us").resolution_ps in (10**4, 10**5)


@pytest.mark.parametrize(
    ("above", "line", "column", "found"),
    [
        ("Time (us),A (lV),B (mV)\n", 1, 2, "'lV'"),
        ("Time (us),A (mV),B (mW)\n", 1, 3, "'mW'"),
        ("Time (us),A (mV9,B (mV)\n", 1, 2, "'A (mV9' with a bracket"),
        ("Time (us),A (mV),B 8mV)\n", 1, 3, "'B 8mV)' with a bracket"),
        ("Time,A,B\nus,mV,lV\n", 2, 3, "'lV'"),
        ("Time,A,B\nus,mV,kogic\n", 2, 3, "'kogic'"),
        ("Vertical Units,lV\nTime (us),A,B\n", 1, 2, "'lV'"),
        ("Wertical Units,mV\nTime (us),A,B\n", 1, 2, "'mV'"),
        ("Vertical Units;mV\nTime (us),A,B\n", 1, 1, "'Vertical Units;mV'"),
        ("Vertical,Units,mV\nTime (us),A,B\n", 1, 3, "'mV'"),
        ("Time (us),A (^),B (mV)\n", 1, 2, "'^'"),
        ("Time (us)-A (mV),B (mV)\n", 1, 2, "2 cells above rows of 3"),
    ],
)
def test_an_unknown_unit_of_volts_is_refused(tmp_path, above, line, column, found):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, above + VOLTS))
    assert (caught.value.line, caught.value.column) == (line, column)
    assert found in caught.value.found


def test_a_word_in_brackets_need_not_be_a_unit(tmp_path):
    rows = "".join(f"{i},{i}.5,0.{i}\n" for i in range(4))
    capture = read_capture(put(tmp_path, "Time (us),A (north),B (CH2)\n" + rows))
    assert capture.channels == ("A (north)", "B (CH2)")


def test_the_unit_that_a_person_gives_is_taken(tmp_path):
    path = put(tmp_path, "Time (ts),A (V),B (V)\n" + VOLTS)
    assert read_capture(path, time_unit="ms").analog["A"].interval_ps == Fraction(10**7)


@pytest.mark.parametrize("odd", ["2", "00", "0.5", "q"])
@pytest.mark.parametrize("above", ["Time (us),A,EN\n", "Time (us),A (V),EN\n"])
def test_a_stray_cell_makes_no_volts_of_logic(tmp_path, odd, above):
    rows = [f"0.0{i},{i}.25,{i // 2 % 2}" for i in range(5)]
    whole = read_capture(put(tmp_path, above + "\n".join([*rows, ""])))
    assert list(whole.digital) == ["EN"]
    rows[3] = f"0.03,3.25,{odd}"
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, above + "\n".join([*rows, ""])))
    assert (caught.value.line, caught.value.column) == (5, 3)
