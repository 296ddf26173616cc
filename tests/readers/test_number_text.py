"""Numbers of changing width, read as one array, are those that Python reads; all else is left to slower readings."""

from __future__ import annotations

import re
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture
from tracecore.readers.plan.plan import SCOPE, Column, Plan
from tracecore.readers.rows.cell_block import split_block
from tracecore.readers.rows.number_text import NumberText
from tracecore.readers.rows.read_rows import _Reading
from tracecore.readers.rows.row_text import TimeScale
from tracecore.readers.rows.row_values import RowValues

FORMS = ("{:.3f}", "{!r}", "{:g}", "{:.18e}", "{:+.1f}", "{:.0f}", "{:.0f}.", "0{:.2f}", " {:E} ")
# the middle between two doubles, the largest and the least of them, whole numbers about the ends of int64 and uint64
HARD = (
    "9007199254740993",
    "9007199254740992.9999999999999999999",
    "1.7976931348623157e308",
    "-2.2250738585072011e-308",
    "4.9e-324",
    "1e-400",
    *(str(sign * 2**bits + add) for bits in (53, 63, 64) for sign in (1, -1) for add in (-1, 0, 1)),
    "-0.0",
    "0.1e1",
    ".5",
    "-.5",
    "5.",
    "1e0007",
)


def reader(width: int, delimiter: str = ",", decimal: str = ".", end: str = "\n") -> NumberText:
    columns = tuple(Column(i, str(i), "volts") for i in range(width))
    values = RowValues(Plan(SCOPE, 0, width, columns, delimiter, decimal), TimeScale())
    values.carriage = end == "\r\n"
    return NumberText(values)


@st.composite
def tables(draw: st.DrawFn) -> list[list[str]]:
    width = draw(st.integers(1, 4))
    value = st.floats(-(10.0**30), 10.0**30) | st.floats(-9, 9) | st.integers(-9, 9).map(float)
    cell = st.builds(str.format, st.sampled_from(FORMS), value)
    forms = [cell | st.sampled_from(HARD) if draw(st.booleans()) else cell for _ in range(width)]
    return [list(row) for row in draw(st.lists(st.tuples(*forms), min_size=1, max_size=12))]


@given(tables(), st.sampled_from([",.", ";.", "\t.", ";,", "\t,"]), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_each_number_is_what_python_reads(table, marks, end, beside):
    # minus and a leading zero, or two signs, make no number
    table = [[re.sub(r"0([+-])", r"\g<1>0", cell) for cell in row] for row in table]
    delimiter, decimal = marks
    text = "".join(delimiter.join(row).replace(".", decimal) + end for row in table)
    numbers = reader(len(table[0]), delimiter, decimal, end)
    found = numbers.of_rows(text.encode())
    wanted = [[float(cell) for cell in row] for row in table]
    assert found is not None
    assert found.tolist() == wanted
    if beside:
        # the same with columns among them that hold what no number does
        rows = [delimiter.join(f"[{i}]{delimiter}{cell}" for cell in row) for i, row in enumerate(table)]
        text = "".join(row.replace(".", decimal) + end for row in rows)
        columns = tuple(Column(i, str(i), "volts" if i % 2 else "leave out") for i in range(2 * len(table[0])))
        values = RowValues(Plan(SCOPE, 0, len(columns), columns, delimiter, decimal), TimeScale())
        values.carriage = end == "\r\n"
        cells = split_block(text.encode(), values)
        assert cells is not None
        found = NumberText(values).of_cells(cells[1::2])
        assert found is not None
        assert found.tolist() == wanted


@pytest.mark.parametrize(
    "rows",
    [
        "1,2\n[3],4\n",
        "[1,2\n3],4\n",
        "1,2\n3,4]\n",
        "1,[2\n3,4\n",
        "1,2\n3,4],[5\n",
        "1,2\nnull,4\n",
        "1,2\ntrue,4\n",
        '1,2\n"3",4\n',
        "1,2\n{},4\n",
        "1,2\n1_0,4\n",
        "1,2\n3,4 5\n",
        "1,2\n3,4,5\n6\n",
        "1\n2,3,4\n5,6\n",
        "1,2\n,4\n",
        "1,2\n3,\n",
        "1,2\n\n3,4\n",
        "1,2\n3\r,4\n",
        "1,2\n3,4\r\n",
        "1,2\n3,\t4\n",
        "1,2\n3,- 4\n",
        "1,2\n3,+-4\n",
        "1,2\n3,1.2.3\n",
        "1,2\n3,0x10\n",
        "1,2\n3,\xff\n",
        "1,2\n3,\x00\n",
        "1,2\n3:4\n",
    ],
)
def test_what_is_no_table_of_numbers_is_left(rows):
    numbers = reader(2)
    assert numbers.of_rows(rows.encode("latin-1")) is None
    # and what comes behind is read
    assert numbers.of_rows(b"1,2\n-3,4e1\n").tolist() == [[1, 2], [-3, 40]]


def test_two_threads_that_ask_for_the_last_parser_both_get_one():
    class LastTaken(list):
        """As it is found where another thread takes the last one at the same time."""

        def __bool__(self):
            return True

    numbers = reader(1)
    numbers._idle = LastTaken()
    assert numbers.of_rows(b"1\n-2.5\n").tolist() == [[1], [-2.5]]


def test_what_is_beyond_all_numbers_is_not_finite():
    assert not np.isfinite(reader(2).of_rows(b"1,2\n1e999,nan\n")[1]).any()


@pytest.mark.parametrize("row", ["1.{0},5", "1,{0}.5,\r", "1.5e{0}"])
def test_damage_among_rows_of_changing_width_is_named(tmp_path, row):
    rows = [f"{i},{-3.5 + i},{i - 9}e-1" for i in range(20)]
    head = "Time (us),A (V),B (V)\n"
    volts = read_capture(put(tmp_path, head + "\n".join(rows) + "\n")).analog
    assert volts["B"].volts.tolist() == [np.float32((i - 9) * 0.1) for i in range(20)]
    rows[12] = row.format(12)
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, head + "\n".join(rows) + "\n"))
    assert caught.value.line == 14


def test_a_cell_too_many_is_named_though_another_row_lacks_a_delimiter(tmp_path):
    rows = [f"{i},{-3.5 + i}," for i in range(20)]
    rows[4], rows[12] = "4,0.5", "12,8,.5,"
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time (us),A (V)\n" + "\n".join(rows) + "\n"))
    assert caught.value.line == 14


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("Time (us),A (V)", "{t:g},{v:g}"),
        ("Time (us),A (V)", "{t:g},{v:g},"),
        ("Time (us),A (V)", "{t:g}, {v:+.1f}\r"),
        ("Time (us);A (V)", '"{t:g}";"{v:g}"'),
        ("Time (us),A (V),EN", "{t:g},{v:g},1"),
        ("Time (us),Text,A (V)", '{t:g},"a [{v}]",{v:g}'),
    ],
)
def test_rows_of_changing_width_are_not_read_one_by_one(tmp_path, monkeypatch, head, row):
    rows = [row.format(t=i, v=(i - 9) * 1.5) for i in range(20)]
    if ";" in head:
        rows = [line.replace(".", ",") for line in rows]
    monkeypatch.setattr(_Reading, "_line_by_line", None)
    end = "\r\n" if row.endswith("\r") else "\n"
    volts = read_capture(put(tmp_path, head + end + "\n".join(rows) + "\n")).analog["A"].volts
    assert volts.tolist() == [(i - 9) * 1.5 for i in range(20)]


def test_volts_are_read_without_pandas(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    rows = "\n".join(f"{i},{-3.5 + i}" for i in range(20))
    assert len(read_capture(put(tmp_path, f"Time (us),A (V)\n{rows}\n")).analog["A"].volts) == 20
