"""Rows with times are samples where each is one step after the last in the whole file, also where nothing changes."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests.readers.test_readers import put
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.measure.checkup import check
from tracecore.readers import read_capture
from tracecore.readers.rows import pieces

COUNT = 3000
LEVELS = (np.arange(COUNT) // 10 % 2, (np.arange(COUNT) * 7 // 64) % 2)


def text_of(times: list[str], levels=LEVELS) -> str:
    return "Time [us],CLK,D\n" + "".join(f"{t},{a},{b}\n" for t, a, b in zip(times, *levels, strict=False))


@pytest.mark.parametrize(("step", "decimals"), [(0.05, 3), (1 / 24, 3), (1 / 24, 6), (0.001, 3), (2.5, 1)])
@pytest.mark.parametrize("start", [0.0, -4.193])
def test_even_rows_are_samples_and_are_read_as_before(tmp_path, step, decimals, start):
    """numpy reads the same numbers; the layout that is asked for changes the name alone."""
    path = put(tmp_path, text_of([f"{round(start, decimals) + i * step:.{decimals}f}" for i in range(COUNT)]))
    capture = read_capture(path)
    assert capture.reader == "sampled rows"
    assert abs(capture.resolution_ps - step * 1e6) <= 1
    table = np.loadtxt(path, delimiter=",", skiprows=1)
    times = np.rint(table[:, 0] * 1e6).astype(np.int64)
    for name, levels in zip(("CLK", "D"), table[:, 1:].T.astype(int), strict=True):
        moves = np.concatenate(([0], np.flatnonzero(np.diff(levels)) + 1))
        assert capture.digital[name].times_ps.tolist() == times[moves].tolist()
        assert capture.digital[name].levels.tolist() == levels[moves].tolist()
    changes = read_capture(path, layout="change rows")
    assert changes.reader == "change rows"
    assert (changes.start_ps, changes.stop_ps) == (capture.start_ps, capture.stop_ps)


def test_the_check_up_counts_their_samples(tmp_path):
    capture = read_capture(put(tmp_path, text_of([f"{i * 0.05:.3f}" for i in range(COUNT)])))
    assert [line.text for line in check(capture, ProbeSheet()).lines if "Clock" in line.text] == [
        "Clock CLK 1 MHz, 20 samples a cycle: fit for states and timing."
    ]
    assert dict(capture.facts)["resolution"] == "50 ns, the sample period: each row is so much later"


EVEN = [0.05 * i for i in range(COUNT)]
BUSY = (np.arange(COUNT) % 2, LEVELS[1])
FEW = (np.where(np.isin(np.arange(COUNT), (7, 1500, 2200)), 0, np.arange(COUNT) % 2), LEVELS[1])


@pytest.mark.parametrize(
    ("times", "levels"),
    [
        (EVEN, BUSY),  # a clock of changes alone
        (EVEN, FEW),  # and rows such as a trigger
        (EVEN[:2990] + [t + 0.05 for t in EVEN[2990:]], LEVELS),  # a step of two near the end
        ([*EVEN[:-1], EVEN[-1] + 0.004], LEVELS),  # a last row off the step
        ([EVEN[0] - 0.004, *EVEN[1:]], LEVELS),  # a first row
        ([*EVEN[:60], *(3 + np.cumsum(np.random.default_rng(2).integers(1, 9, 2940)) * 0.05)], LEVELS),
        (np.cumsum(np.random.default_rng(5).integers(50, 52, COUNT)) * 0.001, LEVELS),  # unsteady by one digit
        (EVEN[:4], (np.zeros(4, int), np.array([0, 1, 1, 0]))),
    ],
)
def test_change_rows_that_are_even_for_a_while_or_without_samples_stay_what_they_are(tmp_path, times, levels):
    capture = read_capture(put(tmp_path, text_of([f"{t:.3f}" for t in times], levels)))
    assert capture.reader == "change rows"


def test_a_column_that_is_left_out_may_hold_what_changed(tmp_path):
    path = put(tmp_path, text_of([f"{t:.3f}" for t in EVEN], (LEVELS[0], BUSY[0])))
    from tracecore.readers.plan.column_choice import ColumnChoice

    assert read_capture(path, columns={"D": ColumnChoice("leave out")}).reader == "change rows"


@pytest.mark.parametrize("jump", [5, 1_000, 15_000, 21_999])
def test_the_whole_of_a_long_file_counts(tmp_path, jump, monkeypatch):
    """A row that is late by a step is found in whatever piece of the file it stands."""
    monkeypatch.setattr(pieces, "PIECE", 1 << 16)
    count, late = 22_000, Fraction(1, 20)
    rows = [f"{float(late * (i + (i >= jump))):.2f},{i // 10 % 2},{i // 7 % 2}\n" for i in range(count)]
    assert read_capture(put(tmp_path, "Time [us],A,B\n" + "".join(rows))).reader == "change rows"
