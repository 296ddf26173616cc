"""The sample period of change rows: what an instrument adds to its samples, and what a spreadsheet takes away."""

from __future__ import annotations

import numpy as np
import pytest

from tests.readers.test_readers import put
from tests.thinned import thinned
from tracecore.capture import AnalogTrace
from tracecore.measure.checkup.gaps import stated_samples
from tracecore.measure.families import family
from tracecore.measure.levels import digitise
from tracecore.readers import read_capture
from tracecore.readers.traces.sample_period import sample_grid

_EDGES = np.cumsum(np.random.default_rng(3).integers(1, 40, 300))


def rows(times_ns: list[float], decimals: int = 9) -> str:
    lines = "".join(f"{t / 1e9:.{decimals}f},{i % 2},{i // 3 % 2}\n" for i, t in enumerate(times_ns))
    return "Time [s],A,B\n" + lines


@pytest.mark.parametrize("period", [20, 100, 125 / 3, 62.5])
@pytest.mark.parametrize(
    ("front", "middle", "back"),
    [(True, 0, False), (False, 0, True), (True, 0, True), (False, 1, False), (True, 1, True), (False, 2, True)],
)
def test_rows_off_the_samples_leave_the_period(tmp_path, period, front, middle, back):
    times = (_EDGES * period + 1000).tolist()
    for k in range(middle):
        times.append(times[97 * (k + 1)] + 0.37 * period)
    times = sorted(times)
    times = [times[0] - 0.84 * period] * front + times + [times[-1] + 7.43 * period] * back
    capture = read_capture(put(tmp_path, rows(times, 12)))
    assert abs(capture.resolution_ps - period * 1000) <= 1
    said = dict(capture.facts)["resolution"]
    assert ("off it" in said) == bool(front or middle or back)


def test_every_row_on_a_sample_is_said_to_be(tmp_path):
    capture = read_capture(put(tmp_path, rows((_EDGES * 20).tolist())))
    assert dict(capture.facts)["resolution"] == "20 ns, the step that the times lie on"


def test_a_finer_period_that_the_rows_show_is_not_taken_for_marks():
    """Half of the steps are odd multiples: no row may be left aside to make a coarser one of it."""
    rng = np.random.default_rng(1)
    for period in (20_000, 41_667_000):
        steps = rng.integers(1, 9, 400) * period
        assert sample_grid(steps, 1000) == (period, "")


@pytest.mark.parametrize(("digits", "style"), thinned([(6, "g"), (6, "e"), (7, "e"), (7, "g"), (9, "g"), (9, "e")]))
def test_times_rounded_by_a_spreadsheet_show_the_period_and_what_late_ones_are_worth(tmp_path, digits, style):
    edges = np.cumsum(np.random.default_rng(3).integers(1, 40, 30_000)) * 4e-8
    text = [f"{t:.{digits}g}" if style == "g" else f"{t:.{digits - 1}E}" for t in edges]
    capture = read_capture(put(tmp_path, "Time [s],A\n" + "".join(f"{t},{i % 2}\n" for i, t in enumerate(text))))
    late = 10.0 ** (np.floor(np.log10(edges[-1])) - digits + 1)
    assert capture.resolution_ps == max(40_000, round(late * 1e12))
    said = dict(capture.facts)["resolution"]
    assert "40 ns, the step that the times lie on" in said
    told = [note for note in capture.notes if "rounded to" in note]
    assert [f"rounded to {digits} digits" in note for note in told] == [True] * int(late > 4e-8)


def test_unrounded_times_that_end_coarse_are_not_taken_for_rounded(tmp_path):
    early, late = np.cumsum(np.random.default_rng(3).integers(1, 40, 300)) * 20, 10**6 * np.arange(1, 200)
    capture = read_capture(put(tmp_path, rows([*early.tolist(), *late.tolist()])))
    assert (capture.resolution_ps, capture.notes) == (20_000, ())


def test_a_long_fraction_of_an_interval_counts_right_in_the_levels(tmp_path):
    """Volts at an interval of many digits: times from the fraction, levels from plain numbers."""
    interval = "3.33333333333331E-07"
    volts = np.tile(np.repeat([0.2, 3.4], 500), 20)
    body = "".join(f"{i},{v},,\n" for i, v in enumerate(volts))
    capture = read_capture(put(tmp_path, f"X,CH1,Start,Increment\nSequence,Volt,0,{interval}\n{body}"))
    trace = capture.analog["CH1"]
    levels = digitise(trace, family("74"))
    assert levels.digital.levels.tolist() == [0, 1] * 20
    wanted = np.rint(np.arange(40) * 500 * float(interval) * 1e12)
    assert np.abs(levels.digital.times_ps - wanted).max() <= 1
    assert isinstance(trace, AnalogTrace)


def test_the_band_is_told_at_an_interval_of_many_digits(tmp_path):
    volts = np.tile(np.repeat([0.2, 1.4, 3.4], 500), 7)
    body = "".join(f"{i},{v},,\n" for i, v in enumerate(volts))
    for interval in ("3.33333333333331E-07", "3.333E-07"):
        capture = read_capture(put(tmp_path, f"X,CH1,Start,Increment\nSequence,Volt,0,{interval}\n{body}"))
        levels = digitise(capture.analog["CH1"], family("74")).digital.levels.tolist()
        assert levels == [0, 2, 1] * 7


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("2.500000e+03", (2500, 2500)),
        ("1e5", (50_000, 100_000)),
        ("2500", (2500, 2500)),
        ("2.5k", (2450, 2500)),
        ("1.0000E+06", (999_950, 1_000_000)),
    ],
)
def test_a_record_length_in_powers_of_ten_is_that_many_samples(text, wanted):
    assert stated_samples((("record length", text),)) == wanted
