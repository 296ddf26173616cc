"""Captures whose rows the board's own clock took: states are compared cycle by cycle, and no times."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.notices.recipes import compared
from tracecore.capture import Capture
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.errors import RequestError
from tracecore.levels_and_timing import levels_and_timing
from tracecore.measure.checkup import check
from tracecore.outcome import Reason
from tracecore.own_names import EACH_ROW
from tracecore.readers import read_capture

COUNT = np.arange(900)
# the lowest bit of a counter, and signals that never repeat
ROWS = np.column_stack([COUNT & 1, np.random.default_rng(8).integers(0, 2, (900, 9))])
NAMES = ["Q0"] + [f"D{b}" for b in range(9)]


def capture(folder: Path, rows: np.ndarray, name: str, layout: str | None = "cycle rows") -> Capture:
    path = folder / f"{name}.csv"
    path.write_text(",".join(NAMES) + "\n" + "".join(",".join(map(str, row)) + "\n" for row in rows))
    return read_capture(path, sample_rate="2 MHz", layout=layout)


def pair(folder: Path, suspect: np.ndarray, layout: str | None = "cycle rows") -> Comparison:
    sides = capture(folder, ROWS, "good", layout), capture(folder, suspect, "suspect", layout)
    return compare(CompareRequest((sides[0],), (sides[1],)))


def flipped(row: int, column: int) -> np.ndarray:
    rows = ROWS.copy()
    rows[row, column] ^= 1
    return rows


@pytest.mark.parametrize("row", [3, 450, 897])
@pytest.mark.parametrize("column", [0, 6])
def test_one_state_in_one_row_is_found_where_it_is(tmp_path: Path, row: int, column: int) -> None:
    found = pair(tmp_path, flipped(row, column))
    assert found.outcome.signals == (NAMES[column],)
    first = found.signal(NAMES[column]).first_divergence
    assert first is not None
    assert first.cycle == row
    assert found.signal(NAMES[column]).skew is None


@pytest.mark.parametrize("start", [1, 37])
def test_sound_rows_agree_in_every_cycle_and_have_no_delays(tmp_path: Path, start: int) -> None:
    found = pair(tmp_path, ROWS[start:])
    assert found.outcome.word == "agrees"
    assert (found.lineup.offset_cycles, found.lineup.matched_cycles) == (-start, 900 - start)
    assert all(own.skew is None for own in found.signals)
    timing = levels_and_timing(found).timing
    assert not timing.rows
    assert "capture again by the instrument's own clock" in timing.notes[0]


@pytest.mark.parametrize("column", [0, 6])
def test_the_same_rows_taken_for_samples_never_clear_a_board(tmp_path: Path, column: int) -> None:
    """Then a bit of a counter passes for the clock, at two samples a cycle."""
    outcome = pair(tmp_path, flipped(450, column), None).outcome
    assert outcome.word != "agrees"
    assert pair(tmp_path, ROWS[7:], None).outcome.reason is Reason.IN_DOUBT


def test_both_sides_are_read_alike(tmp_path: Path) -> None:
    good = capture(tmp_path, ROWS, "good")
    with pytest.raises(RequestError, match=r"good\.csv is read with each row as one cycle"):
        compared(good, capture(tmp_path, ROWS[1:], "suspect", None), clock=None)
    assert EACH_ROW in good.digital


def test_samples_that_are_said_to_be_cycles_are_told_in_the_check_up(tmp_path: Path) -> None:
    """A clock captured by the instrument's own, ten samples a cycle, and the rows of the board beside it."""
    clock = np.tile(np.repeat([1, 0], 5), 90)
    samples = np.column_stack([clock, np.repeat(ROWS[:90, 1:], 10, axis=0)])
    (line,) = [own for own in check(capture(tmp_path, samples, "samples"), ProbeSheet()).lines if "rows" in own.text]
    assert line.kind == "look"
    assert "Q0 ticks evenly, every 10 rows" in line.text
    (line,) = [own for own in check(capture(tmp_path, ROWS, "cycles"), ProbeSheet()).lines if "row" in own.text]
    assert (line.kind, line.text) == (
        "fine",
        "Each row is a cycle of the board's clock: 900 cycles, fit for states alone.",
    )
