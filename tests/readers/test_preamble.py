"""Lines of names and values above rows of logic and words: passed over, or above the line that a person says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture

PREAMBLES = {
    "a date": "Taken{d}03.02.2031 10:14:22\n",
    "a device and a date": '"Gerät"{d}"LA 16"\n"Datum"{d}"03.02.2031 10:14:22"\n"Trigger"{d}"RUN steigend"\n\n',
    "counts": "Bench{d}LA 16\nSamples{d}24000\nThreshold{d}1.4\n\n",
    "a level": "Bench{d}LA 16\nBoard{d}1\n",
    "a time of day": "Bench{d}LA 16\nTime{d}10:14:22\n",
    "a rate": "Bench{d}LA 16\nSample Rate{d}20 MHz\n",
    "a number alone": "Samples\n24000\n",
    "a word of hex letters": "Bench{d}LA 16\nFace{d}3\n",
}
NAMES = ("CLK", "RUN", "Q0", "Q1", "Q2", "Q3")


def rows(signals: int, words: bool, delimiter: str, decimal: str, count: int = 60) -> list[str]:
    """Times from -100 ns on, every 50 ns, levels and a byte in hex."""
    rng = np.random.default_rng(signals)
    found = []
    for k in range(count):
        cells = [f"{(k - 2) * 0.05:.3f}".replace(".", decimal), *map(str, rng.integers(0, 2, signals))]
        found.append(delimiter.join(cells + [f"{rng.integers(0, 256):02X}"] * words))
    return found


def file_of(preamble: str, signals: int, words: bool, delimiter: str, decimal: str, title: str) -> tuple[str, int]:
    """The text, and the line of its first row, counted from 1."""
    above = preamble.format(d=delimiter) + delimiter.join([title, *NAMES[:signals]] + ["BUS[7:0]"] * words) + "\n"
    return above + "\n".join(rows(signals, words, delimiter, decimal)) + "\n", above.count("\n") + 1


def agree_with_pandas(path: Path, text: str, first: int, delimiter: str, decimal: str, **said) -> None:
    import pandas as pd

    frame = pd.read_csv(path, sep=delimiter, decimal=decimal, skiprows=first - 2, skip_blank_lines=False, dtype=str)
    capture = read_capture(path, **said)
    times = np.rint(frame.iloc[:, 0].str.replace(",", ".").astype(float).to_numpy() * 10**6).astype(np.int64)
    wanted = {name: frame[name].astype(int).to_numpy() for name in frame.columns[1:] if name in NAMES}
    if "BUS[7:0]" in frame:
        values = frame["BUS[7:0]"].map(lambda cell: int(cell, 16)).to_numpy()
        wanted |= {f"BUS[{bit}]": values >> bit & 1 for bit in range(8)}
    assert set(capture.channels) == set(wanted)
    assert capture.start_ps == times[0]
    for name, levels in wanted.items():
        assert capture.digital[name].level_at(times).tolist() == levels.tolist()


@pytest.mark.parametrize("preamble", PREAMBLES.values(), ids=PREAMBLES.keys())
@pytest.mark.parametrize(("signals", "words"), [(6, True), (6, False), (2, True), (1, True), (2, False)])
@pytest.mark.parametrize(("delimiter", "decimal"), [(";", ","), (",", ".")])
@pytest.mark.parametrize("title", ["Zeit [µs]", "Time (us)"])
def test_a_preamble_above_logic_is_passed_over(tmp_path, preamble, signals, words, delimiter, decimal, title):
    text, first = file_of(preamble, signals, words, delimiter, decimal, title)
    agree_with_pandas(put(tmp_path, text), text, first, delimiter, decimal)


@pytest.mark.parametrize("damage", ["x", "-0,1;0;0", "-0,1\n0;0;0", "-0,1x;0"])
def test_a_damaged_first_row_is_no_preamble(tmp_path, damage):
    text, first = file_of(PREAMBLES["a device and a date"], 6, True, ";", ",", "Zeit [µs]")
    lines = text.split("\n")
    lines[first - 1] = damage + lines[first - 1][8:]
    with pytest.raises(MalformedCapture) as told:
        read_capture(put(tmp_path, "\n".join(lines)))
    assert told.value.line in (first, first + 1)
