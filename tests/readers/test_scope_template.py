"""Numbers taken digit by digit are those that Python reads, and anything else is left to the slower reader."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.readers import read_capture
from tracecore.readers.plan.plan import CHANGES, SAMPLED, SCOPE, Column, Plan
from tracecore.readers.plan.words import WordColumn
from tracecore.readers.rows.row_template import TemplateRows
from tracecore.readers.rows.row_text import TimeScale
from tracecore.readers.rows.row_values import RowValues

FORMS = ("{:.6f}", "{:+.4f}", "{:.3e}", "{:+.9E}", "{:.0f}", "{:012.7f}", " {:.2f}", "{:.2f} ")


@st.composite
def tables(draw: st.DrawFn) -> list[list[str]]:
    """Cells of one to forty rows; a column keeps to one form."""
    forms = draw(st.lists(st.sampled_from(FORMS), min_size=1, max_size=3))
    value = st.floats(-2000, 2000, allow_nan=False)
    rows = draw(st.lists(st.tuples(*[value for _ in forms]), min_size=1, max_size=40))
    return [[form.format(number) for form, number in zip(forms, row, strict=True)] for row in rows]


def _text(table: list[list[str]], end: str = "\n") -> bytes:
    return "".join(",".join(row) + end for row in table).encode()


def _read(piece: bytes, width: int) -> list[list[float]] | None:
    """The columns of volts of a piece; None where it is left to the slower reading."""
    columns = tuple(Column(i, str(i), "volts") for i in range(width))
    values = RowValues(Plan(SCOPE, 0, width, columns, ","), TimeScale())
    values.carriage = piece.partition(b"\n")[0].endswith(b"\r")
    block = TemplateRows(values).read(piece)
    return None if block is None else [block.numbers[cell].tolist() for cell in range(width)]


@given(tables(), st.sampled_from(["\n", "\r\n"]))
def test_each_number_is_what_python_reads(table: list[list[str]], end: str) -> None:
    width = len(table[0])
    found = _read(_text(table, end), width)
    if found is not None:
        for column, values in enumerate(found):
            assert values == [float(row[column]) for row in table]


@given(tables(), st.data())
def test_a_changed_byte_gives_the_changed_number_or_is_left(table: list[list[str]], data: st.DataObject) -> None:
    width, text = len(table[0]), bytearray(_text(table))
    at = data.draw(st.integers(0, len(text) - 1))
    text[at] = data.draw(st.sampled_from(b'0 9,.;/:+-eExX\r\n\t"\x00\xff'))
    found = _read(bytes(text), width)
    if found is not None and text.endswith(b"\n"):
        rows = [line.removesuffix("\r").split(",") for line in text.decode("latin-1")[:-1].split("\n")]
        assert all(len(row) == width for row in rows)
        for column, values in enumerate(found):
            assert values == [float(row[column]) for row in rows]


def test_rows_of_one_layout_are_read() -> None:
    table = [[f"{i * 4e-9:.9f}", f"{(i * 37) % 500 / 100:.4f}"] for i in range(20_000)]
    found = _read(_text(table), 2)
    assert found is not None
    assert found == [[float(row[c]) for row in table] for c in (0, 1)]


@pytest.mark.parametrize("odd", ["nan", "1e999", "0x10", "1_0", "1.5.2", "", "--1", ",1", "1 2", '"1"'])
def test_what_is_no_plain_number_is_left(odd: str) -> None:
    text = b"0,1.0\n1,1.5\n" + f"2,{odd}\n".encode()
    assert _read(text, 2) is None


def test_a_letter_that_is_left_out_is_looked_at_too() -> None:
    columns = (Column(0, "t", "time"), Column(1, "a", "leave out", cells=("X", "0")), Column(2, "b", "logic"))
    template = TemplateRows(RowValues(Plan(CHANGES, 0, 3, columns, ","), TimeScale()))
    assert template.read(b"1,X,0\n2,0,1\n") is not None
    assert template.read(b"1,X,0\n2,,,1\n") is None


def test_words_of_one_width_are_read_and_others_left() -> None:
    word = WordColumn("D", 16, "", (), "3F", True)
    template = TemplateRows(RowValues(Plan(SAMPLED, 0, 1, (Column(0, "D", "word", word=word),), ","), TimeScale()))
    block = template.read(b"3F\n3F\na0\nA0\n")
    assert block is not None
    assert block.words[0].rows.tolist() == [0, 2, 3]
    assert block.words[0].value.tolist() == [0x3F, 0xA0, 0xA0]
    for odd in (b"3,", b"3\n", b"3G", b",3", b"\n3", b"3 "):
        assert template.read(b"3F\n3F\n" + odd + b"\nA0\n") is None


def test_powers_beyond_exact_doubles_are_left() -> None:
    assert _read(b"0,1.0E-05\n1,1.0E-25\n", 2) is None


def test_volts_of_a_file_are_floats_of_their_cells(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    cells = [f"{v:.4f}" for v in rng.uniform(-0.3, 12, 30_000)]
    path = tmp_path / "volts.csv"
    path.write_text("Time (s),A (V)\n" + "".join(f"{i * 4e-9:.9f},{cell}\n" for i, cell in enumerate(cells)))
    volts = read_capture(path).analog["A"].volts
    assert np.array_equal(volts, np.array([float(cell) for cell in cells]).astype(np.float32))


def test_a_first_row_beyond_exact_doubles_is_left() -> None:
    assert _read(b"0,1.0E-25\n1,1.0E-05\n", 2) is None
