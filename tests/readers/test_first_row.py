"""A line above the rows: names stay names, a damaged row is refused, and a person can say which it is."""

from __future__ import annotations

import pytest

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture

RATE = "; Samplerate: 1 MHz\n"
LOGIC = "0,1\n1,1\n1,0\n"
VOLTS = "0.0E-06,0.21,3.30\n1.0E-06,3.30,3.25\n2.0E-06,3.40,3.15\n"


@pytest.mark.parametrize(
    ("text", "names"),
    [
        (RATE + "D1,D3\n" + LOGIC, ("D1", "D3")),
        (RATE + "1A,1Y\n" + LOGIC, ("1A", "1Y")),
        (RATE + "X,Z\n" + LOGIC, ("X", "Z")),
        (RATE + "Board 3, north crate\nA,B\n" + LOGIC, ("A", "B")),
        (RATE + "TEST,TA\n" + LOGIC, ("TEST", "TA")),
        (RATE + "Q\n0\n1\n1\n", ("Q",)),
        (RATE + "Channel list\nQ\n0\n1\n1\n", ("Q",)),
        ("Time (s),0,1\n0.0,0,1\n0.1,1,1\n0.2,1,0\n", ("0", "1")),
        ("t,1\n0.0,0\n0.1,1\n0.2,0\n", ("1",)),
        ("X,C1\ns,V\n0.0,0.25\n0.1,0.35\n0.2,0.25\n", ("C1",)),
    ],
)
def test_short_names_stay_names(tmp_path, text, names):
    assert read_capture(put(tmp_path, text)).channels == names


@pytest.mark.parametrize(
    ("text", "line", "column", "found"),
    [
        (RATE + "A,B\n0-1\n" + LOGIC, 3, None, "1 cell"),
        (RATE + "0-1\n" + LOGIC, 2, None, "'0-1'"),
        (RATE + "A,1\n" + LOGIC, 2, 1, "'A'"),
        (RATE + "A,B\n0,1q1,1\n" + LOGIC, 3, None, "3 cells"),
        (RATE + "A\nq\n0\n1\n1\n", 3, 1, "'q'"),
        (RATE + "A,B\n#,1\n" + LOGIC, 3, 1, "'#'"),
        (RATE + "A,B\n0X0\n" + LOGIC, 3, None, "1 cell"),
        (RATE + "A,B,C\nX\n0,1,1\n1,1,0\n1,0,1\n", 3, None, "1 cell"),
        ("Time (us),A (V)*0.0,0.31,\n0.1,0.25,\n0.2,0.41,\n", 1, 3, "'0.31' among the names"),
        (RATE.strip() + "*0,1\n" + LOGIC, 1, 1, "'; Samplerate: 1 MHz*0'"),
        ("0-0,1\n0.000001,1,1\n0.000002,0,1\n0.000007,0,0\n", 1, None, "2 cells"),
        ("Time (ns),A,B\n;,0,1\n10,1,1\n20,1,0\n", 2, 1, "';'"),
        ("x-axis,A,B\nsecond,Volt,Volt\n-1.0E-06,0.20,3.4x\n" + VOLTS, 3, 3, "'3.4x'"),
        ("x-axis,A,B\nsecond,Volt,Volt\n-1.0E-06.0.20,3.41\n" + VOLTS, 3, None, "2 cells"),
    ],
)  # fmt: skip
def test_a_damaged_row_is_no_heading(tmp_path, text, line, column, found):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, text))
    assert (caught.value.line, caught.value.column) == (line, column)
    assert found in caught.value.found


@pytest.mark.parametrize("first", range(5))
@pytest.mark.parametrize("bus", [("3F", "A0"), ("0", "1")])
def test_decoded_text_in_few_rows_is_left_out_wherever_it_begins(tmp_path, first, bus):
    text = ["" if (i + first) % 5 else f"READ {i}" for i in range(60)]
    rows = (f"{i},{i % 2},{text[i]},{bus[i % 2]}" for i in range(60))
    capture = read_capture(put(tmp_path, "Time [us],CLK,Decoded,BUS\n" + "\n".join(rows) + "\n"))
    assert {name.partition("[")[0] for name in capture.channels} == {"CLK", "BUS"}
    assert any("Decoded" in note for note in capture.notes)


def test_a_damaged_word_for_a_level_is_no_name(tmp_path):
    path = put(tmp_path, RATE + "CLK,BUS\nALSE,TRUE\n" + "FALSE,TRUE\nTRUE,FALSE\n" * 9)
    with pytest.raises(MalformedCapture, match="'ALSE' in the column 'CLK'") as caught:
        read_capture(path)
    assert caught.value.line == 3


def test_a_marker_near_the_end_of_a_short_file_hides_no_row(tmp_path):
    capture = read_capture(put(tmp_path, RATE + "A,B\n0,1\n1,1\nFRAME-END\n0,0\n"))
    assert (capture.channels, capture.stop_ps) == (("A", "B"), 3 * 10**6)


@pytest.mark.parametrize("said", [1, 2])
def test_names_stand_above_a_row_of_unknown_levels_that_is_said(tmp_path, said):
    path = put(tmp_path, "; made up\ntime/ps,B[,'-\n-7,X,X\n")
    assert read_capture(path, first_row=said).channels == read_capture(path).channels == ("B[", "-")


def test_names_stand_above_rows_of_words_for_levels_that_are_said(tmp_path):
    path = put(tmp_path, RATE + "CLK,BUS\n" + "LOW,HIGH\nLOW,HIGH\nHIGH,LOW\n" * 5)
    assert read_capture(path, first_row=5).channels == ("CLK", "BUS")


def test_a_person_may_say_that_it_is_a_heading(tmp_path):
    path = put(tmp_path, RATE + "A,1\n" + LOGIC)
    capture = read_capture(path, first_row=3)
    assert (capture.channels, capture.stop_ps) == (("A", "1"), 3 * 10**6)


@pytest.mark.parametrize(
    "text", [RATE + "A,B\n0", "Time (ns),A,B\n0,0,", "Time (s),A (V),B (V)\n0.0,0", "X,CH1,CH2\nms,V,V\n0,0.25,"]
)
def test_one_row_that_may_be_cut_short_is_refused(tmp_path, text):
    with pytest.raises(MalformedCapture, match="may be cut short") as caught:
        read_capture(put(tmp_path, text))
    assert caught.value.line == text.count("\n") + 1


def test_0_and_1_below_a_unit_of_volts_are_volts(tmp_path):
    capture = read_capture(put(tmp_path, "Time (s),A (V)\n0.0,0\n0.1,1\n0.2,1\n"))
    assert capture.analog["A"].volts.tolist() == [0.0, 1.0, 1.0]
