"""Rows that the board's own clock took: each is a cycle, whatever the time between two of them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tracecore.capture import UNKNOWN, Capture
from tracecore.errors import UnknownCapture
from tracecore.measure.clock import active_edges_ps, cycle_states
from tracecore.own_names import EACH_ROW
from tracecore.readers import read_capture

NAMES = ("A", "B", "C")


def states_of(capture: Capture, names: tuple[str, ...] = NAMES) -> np.ndarray:
    """As the line-up reads them: the state of each cycle that the rows count."""
    edges = active_edges_ps(capture.digital[EACH_ROW], "rising")
    return np.stack([cycle_states(capture.digital[name], edges, capture.resolution_ps) for name in names], 1)


def written(path: Path, rows: np.ndarray, above: str = "", index: int | None = None) -> Path:
    titles = ("Sample,", "") if index is None else ("", "Sample,")
    lines = [above + titles[1] + ",".join(NAMES)] if index is not None else [above + ",".join(NAMES)]
    for at, row in enumerate(rows):
        lines.append((f"{index + at}," if index is not None else "") + ",".join(map(str, row)))
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.mark.parametrize("rate", [None, "1 MHz", "24 MHz", "7159090 Hz", Fraction(10**12, 3)])
@pytest.mark.parametrize("index", [None, 0, -40])
def test_each_row_is_a_cycle_with_its_state(tmp_path: Path, rate: str | None, index: int | None) -> None:
    rows = np.random.default_rng(4).integers(0, 2, (500, 3))
    rows[-1] = rows[-2]  # a last row that changes nothing is a cycle as well
    path = written(tmp_path / "rows.csv", rows, index=index)
    capture = read_capture(path, sample_rate=rate, layout="cycle rows")
    assert capture.row_is_cycle
    assert "3 logic channels" in repr(capture)
    # an independent reading
    table = pd.read_csv(path)[list(NAMES)].to_numpy()
    assert np.array_equal(states_of(capture), table)
    assert not capture.notes


def test_words_and_unknown_levels_stand_in_rows_too(tmp_path: Path) -> None:
    path = tmp_path / "words.csv"
    path.write_text("; Samplerate: 24 MHz\nBUS[3:0] (hex),RD\n" + "A,1\n3,0\nx,1\n3,1\n" * 5)
    capture = read_capture(path, layout="cycle rows")
    bus = states_of(capture, ("BUS[3]", "BUS[2]", "BUS[1]", "BUS[0]", "RD"))
    assert bus[:4].tolist() == [[1, 0, 1, 0, 1], [0, 0, 1, 1, 0], [UNKNOWN] * 4 + [1], [0, 0, 1, 1, 1]]
    assert len(bus) == 20
    # the rate of an instrument that did not count the time says nothing
    assert ("rate of that clock", "not known") in capture.facts
    assert not capture.notes


def test_times_beside_the_rows_are_left_out_and_told(tmp_path: Path) -> None:
    rows = np.random.default_rng(6).integers(0, 2, (300, 3))
    rows[100:120] = rows[100]  # states that stay are cycles all the same
    path = tmp_path / "times.csv"
    times = np.cumsum(np.random.default_rng(7).integers(200, 900, len(rows)))
    text = "".join(f"{t},{','.join(map(str, row))}\n" for t, row in zip(times, rows, strict=True))
    path.write_text(f"Time [ns],{','.join(NAMES)}\n{text}")
    capture = read_capture(path, layout="cycle rows")
    assert np.array_equal(states_of(capture), rows)
    assert ("left out, as each row is a cycle", "the times in column Time") in capture.facts
    assert not capture.notes


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Time [s],A [V]\n0.0,0.1\n0.1,3.3\n0.2,0.2\n", "volts in column A"),
        ("$timescale 1 ns $end\n$var wire 1 ! A $end\n$enddefinitions $end\n#0\n0!\n#5\n1!\n", "a value change dump"),
        (f"A,{EACH_ROW}\n0,0\n1,1\n", f"a signal named {EACH_ROW}"),
    ],
)
def test_what_holds_no_cycle_a_row_is_refused_with_what_to_do(tmp_path: Path, text: str, found: str) -> None:
    path = tmp_path / "other.csv"
    path.write_text(text)
    with pytest.raises(UnknownCapture, match="found " + found) as told:
        read_capture(path, layout="cycle rows")
    assert "--column" in str(told.value)
