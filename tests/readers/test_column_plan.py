"""Reading by a plan of columns: any dress of a file, and every damage of one byte against a slow, plain reading."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.readers.samples import SAMPLES
from tests.readers.test_column_choice import same
from tracecore.errors import CaptureFileError, MalformedCapture
from tracecore.readers import read_capture
from tracecore.readers.plan.column_choice import ColumnChoice
from tracecore.readers.recognise.plan_of import plan_of
from tracecore.readers.source import Source

HEAD = "; Samplerate: 10 MHz\nA (V),B,W,text\n"
ROWS = "".join(f"{i * 37 % 50 / 10:.1f},{i // 3 % 2},{i * 7 % 256:02x},n{i}\n" for i in range(24))
CHOICES = {
    "A": ColumnChoice("volts", 10),
    "B": ColumnChoice("logic"),
    "W": ColumnChoice("word", base=16),
    "text": ColumnChoice("leave out"),
}
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
WORD = re.compile(r"[0-9a-fA-FxXzZ]+")
DRESSES = {
    "CR LF": lambda b: b.replace(b"\n", b"\r\n"),
    "byte order mark": lambda b: b"\xef\xbb\xbf" + b,
    "gzip": gzip.compress,
    "blank lines at the end": lambda b: b + b"\n\n" if b.endswith(b"\n") else b,
}


@pytest.mark.parametrize("dress", DRESSES)
@pytest.mark.parametrize(
    "name",
    [
        "names in a line",
        "closed rows",
        "blank after comma",
        "changes in ns, semicolons",
        "volts, two heading rows",
        "volts and logic side by side",
        "words and logic behind a time",
    ],
)
def test_each_dress_reads_the_same(tmp_path: Path, name: str, dress: str) -> None:
    path = tmp_path / "capture"
    path.write_bytes(SAMPLES[name].text.encode())
    plain = read_capture(path)
    source = Source(path)
    table = plan_of(source.head())
    source.close()
    assert table is not None
    path.write_bytes(DRESSES[dress](SAMPLES[name].text.encode()))
    same(read_capture(path, columns={c.name: ColumnChoice(c.kind) for c in table.columns}), plain)


def test_decimal_commas_and_quotes(tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_text('"t [us]";"A";"B"\n' + "".join(f'"{i},5";"{i},25";"{i % 2}"\n' for i in range(30)), "utf-8")
    capture = read_capture(path, columns={"A": ColumnChoice("volts", 2), "B": ColumnChoice("logic")})
    assert capture.analog["A"].volts.tolist() == np.array([2 * (i + 0.25) for i in range(30)], np.float32).tolist()
    assert (capture.start_ps, capture.analog["A"].interval_ps) == (500_000, 1_000_000)


def slowly(rows: str) -> tuple[list[float], list[int], list[int]] | None:
    """Volts, levels and words of rows, one by one; None where any does not fit."""
    volts, levels, words = [], [], []
    # blank lines may stand between the heading and the rows, and at the end
    for row in rows.strip("\n").split("\n"):
        cells = [cell.strip(' \t"') for cell in row.rstrip("\r").split(",")]
        if len(cells) != 4 or not NUMBER.fullmatch(cells[0]) or cells[1] not in ("0", "1"):
            return None
        if not WORD.fullmatch(cells[2]) or (cells[2][:2] in ("0x", "0X") and len(cells[2]) > 2):
            return None
        volts.append(float(cells[0]) * 10)
        levels.append(int(cells[1]))
        # x and z are unknown digits, which have no value to compare
        words.append(int(cells[2], 16) if not set(cells[2]) & set("xXzZ") else -1)
    return volts, levels, words


def refusal(path: Path) -> CaptureFileError | None:
    """What reading it meets; None where it can be read."""
    try:
        read_capture(path, columns=CHOICES)
    except CaptureFileError as told:
        return told
    return None


@given(st.integers(0, len(ROWS) - 2), st.sampled_from("0123456789abfxXzZ,.;-+eE\n \"'\t"))
def test_every_damage_of_a_byte_is_told_or_read_as_it_stands(tmp_path_factory, at: int, letter: str) -> None:
    rows = ROWS[:at] + letter + ROWS[at + 1 :]
    path = tmp_path_factory.getbasetemp() / "damaged.csv"
    path.write_bytes((HEAD + rows).encode())
    wanted = slowly(rows)
    told = refusal(path)
    if told is not None:
        line = 3 + rows[:at].count("\n")
        assert isinstance(told, MalformedCapture), told
        # a line end that is gone makes its line too long, one that came makes it too short
        assert told.line in (line, line + 1), (told, rows.split("\n")[line - 3])
        return
    capture = read_capture(path, columns=CHOICES)
    assert wanted is not None, rows.split("\n")[rows[:at].count("\n")]
    volts, levels, words = wanted
    assert capture.analog["A"].volts.tolist() == np.array(volts).astype(np.float32).tolist()
    index = np.arange(len(levels), dtype=np.int64) * 100_000
    assert capture.digital["B"].level_at(index).tolist() == levels
    bits = [capture.digital[f"W[{bit}]"].level_at(index) for bit in range(8) if f"W[{bit}]" in capture.digital]
    for i, word in enumerate(words):
        assert word < 0 or [int(b[i]) for b in bits] == [word >> bit & 1 for bit in range(len(bits))]
