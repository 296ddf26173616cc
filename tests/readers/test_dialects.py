"""The same rows in every dress that programs and spreadsheets give them."""

from __future__ import annotations

import re

import pytest

from tests.readers.samples import SAMPLES
from tests.readers.test_readers import agree, put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture

# one has a delimiter of its own, and a row that is cut short is whole in some dresses
_ROWS = {
    name: sample
    for name, sample in SAMPLES.items()
    if sample.reader != "value change dump" and name not in ("changes in ns, semicolons", "cut short")
}
EACH = pytest.mark.parametrize("sample", _ROWS.values(), ids=_ROWS.keys())


def per_row(change):
    """``change`` on each line that is no comment."""

    def dressed(text: str) -> str:
        return "\n".join(line if line[:1] in ";#" or not line else change(line) for line in text.split("\n"))

    return dressed


def decimal_comma(delimiter: str):
    def changed(line: str) -> str:
        cells = [re.sub(r"^([ +-]*\d*)\.(\d)", r"\1,\2", cell) for cell in line.split(",")]
        return delimiter.join(cells)

    return per_row(changed)


DRESSES = {
    "blank after comma": per_row(lambda line: line.replace(",", ", ").replace(",  ", ", ")),
    "blank before comma": per_row(lambda line: line.replace(",", " ,")),
    "closed rows": per_row(lambda line: line if line.endswith(",") else line + ","),
    "quotes": per_row(lambda line: ",".join('"' + cell.strip().strip('"') + '"' for cell in line.split(","))),
    "quotes, semicolons": per_row(lambda line: ";".join('"' + c.strip().strip('"') + '"' for c in line.split(","))),
    "tabs": per_row(lambda line: line.replace(",", "\t")),
    "semicolons": per_row(lambda line: line.replace(",", ";")),
    "decimal comma, semicolons": decimal_comma(";"),
    "decimal comma, tabs": decimal_comma("\t"),
    "other comments": lambda text: text.replace("; ", "% "),
    "comments of two strokes": lambda text: text.replace("; ", "// "),
    "comments without a blank": lambda text: text.replace("; ", "#"),
    "a comment above": lambda text: "# made by hand, twice\n" + text,
    "plus signs": per_row(lambda line: re.sub(r"^(\d+\.\d*,)", r"+\1", line)),
}


@EACH
@pytest.mark.parametrize("dress", DRESSES.values(), ids=DRESSES.keys())
def test_each_shape_reads_the_same_in_every_dialect(tmp_path, sample, dress):
    text = dress(sample.text)
    agree(read_capture(put(tmp_path, text)), sample)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("; Samplerate: 1 MHz\nCLK\nlogic\n0\n1\n", ("CLK",)),
        ("; Channels (1/8): CLK\n; Samplerate: 1 MHz\nlogic\n0\n1\n", ("CLK",)),
        ("; Samplerate: 1 MHz\nA,B\nlogic,logic\n0,1\n1,1\n", ("A", "B")),
        ("Time [ns],A\nns,logic\n0,1\n7,0\n9,1\n", ("A",)),
        ("# Samplerate: 1 MHz\n# A,B\n0,1\n1,1\n", ("A", "B")),
        ("# Time [ns],A,B\n0,1,0\n7,0,0\n9,1,1\n", ("A", "B")),
        ("; Samplerate: 1 MHz\n/RES,!CS\n0,1\n1,1\n", ("/RES", "!CS")),
        ("; Samplerate: 1 MHz\n!CS,/RES\n0,1\n1,1\n", ("!CS", "/RES")),
        ("# Time (s),A (V),B (V)\n0.0,0.5,1.5\n0.1,0.6,1.5\n0.2,0.5,1.7\n", ("A", "B")),
    ],
)
def test_names_wherever_they_stand(tmp_path, text, names):
    assert read_capture(put(tmp_path, text)).channels == names


def test_a_point_beside_decimal_commas_is_no_number(tmp_path):
    rows = [f"0,{i};0,5" for i in range(9)]
    rows[4] = "0.4;0,5"
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time (s);A\n" + "\n".join(rows) + "\n"))
    assert (caught.value.line, caught.value.column) == (6, 1)
    logic = [f"0,{i};{i % 2}" for i in range(9)]
    logic[4] = "0.4;0"
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time [s];A\n" + "\n".join(logic) + "\n"))
    assert (caught.value.line, caught.value.column) == (6, 1)


def test_a_sample_rate_in_a_comment_serves_an_index(tmp_path):
    capture = read_capture(put(tmp_path, "// Sample rate: 1 MHz\nX,CH1\n0,0.2\n1,0.4\n2,3.1\n"))
    assert capture.analog["CH1"].interval_ps == 10**6
