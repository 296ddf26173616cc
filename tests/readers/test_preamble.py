"""Lines of names and values above rows of logic and words: passed over, or above the line that a person says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.readers.samples import SAMPLES
from tests.readers.test_readers import agree, put
from tests.thinned import thinned
from tracecore.errors import MalformedCapture, UnknownCapture
from tracecore.readers import read_capture
from tracecore.readers.recognise.plan_of import plan_of
from tracecore.readers.source import Source

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
@pytest.mark.parametrize(("signals", "words"), thinned([(6, True), (6, False), (1, True), (2, True), (2, False)]))
@pytest.mark.parametrize(("delimiter", "decimal"), [(";", ","), (",", ".")])
@pytest.mark.parametrize("title", thinned(["Zeit [µs]", "Time (us)"]))
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


@pytest.mark.parametrize("preamble", [*PREAMBLES.values(), "Run{d}7\n16{d}24000\n", "7\n0{d}1{d}1\n\n"])
@pytest.mark.parametrize(("signals", "words"), thinned([(6, True), (6, False), (1, False), (2, True)]))
@pytest.mark.parametrize(("delimiter", "decimal"), [(";", ","), (",", ".")])
def test_the_line_that_is_said_is_the_first_row_and_names_stand_above_it(
    tmp_path, preamble, signals, words, delimiter, decimal
):
    """The line of the names may be said as well; rows above the line that is said are passed over."""
    text, first = file_of(preamble, signals, words, delimiter, decimal, "Zeit [µs]")
    path = put(tmp_path, text)
    for said in (first - 1, first):
        agree_with_pandas(path, text, first, delimiter, decimal, first_row=said)
    later = read_capture(path, first_row=first + 2)
    assert (set(later.channels), later.start_ps) == (set(read_capture(path, first_row=first).channels), 0)


@pytest.mark.parametrize("name", [n for n, s in SAMPLES.items() if s.reader != "value change dump"])
def test_saying_the_first_row_that_is_there_changes_nothing(tmp_path, name):
    path = put(tmp_path, SAMPLES[name].text)
    source = Source(path)
    plan = plan_of(source.head())
    source.close()
    agree(read_capture(path, first_row=plan.data_line + 1), SAMPLES[name])


@pytest.mark.parametrize("above", ["A,B,C,D,E\n", "Time (us),A\n", "16,24000\n", '"torn,\n', "Time [qs],1,2,3\n"])
def test_no_line_above_the_one_that_is_said_is_an_error(tmp_path, above):
    heading = "Taken,03.02.2031\n" + above + "Zeit [us],P,Q\n"
    volts = read_capture(put(tmp_path, heading + "0.0,0.25,3.5\n0.5,0.75,3.25\n1.0,3.25,0.5\n"), first_row=4)
    assert [volts.analog[name].volts.tolist() for name in "PQ"] == [[0.25, 0.75, 3.25], [3.5, 3.25, 0.5]]
    assert volts.analog["P"].interval_ps == 500_000
    logic = read_capture(put(tmp_path, heading + "0.0,0,1\n0.5,1,1\n1.0,0,1\n"), first_row=4)
    assert logic.digital["P"].times_ps.tolist() == [0, 500_000, 1_000_000]
    bare = read_capture(put(tmp_path, above + "0.0,3F,1\n0.5,A2,1\n1.0,B7,0\n"), first_row=2, time_unit="us")
    assert bare.digital["0[7]"].times_ps.tolist() == [0, 500_000]


@pytest.mark.parametrize(("cell", "damage"), [(0, "-0;05"), (0, "t"), (1, "q"), (7, "G7"), (7, "3F;1"), (1, "")])
def test_a_damaged_row_that_is_said_to_be_the_first_is_refused(tmp_path, cell, damage):
    text, first = file_of(PREAMBLES["counts"], 6, True, ";", ",", "Zeit [µs]")
    lines = text.split("\n")
    cells = lines[first].split(";")
    cells[cell] = damage
    lines[first] = ";".join(cells)
    path = put(tmp_path, "\n".join(lines))
    if not damage:  # nothing is an unknown level
        assert read_capture(path, first_row=first + 1).digital["CLK"].levels[0] == 2
        return
    with pytest.raises(MalformedCapture) as told:
        read_capture(path, first_row=first + 1)
    assert told.value.line == first + 1


def test_a_line_without_a_row_is_refused(tmp_path):
    with pytest.raises(UnknownCapture, match="no row from line 9 on"):
        read_capture(put(tmp_path, "Time [ns],A\n0,1\n5,0\n\n"), first_row=9)
