"""A drive that turns 3600 times a minute gives an index pulse each 16.667 ms (common practice: 60 s / 3600)."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tracecore.measure.clock import active_edges_ps, clock_candidates
from tracecore.quantities import format_time, parse_time_ps
from tracecore.readers import read_capture

TURN_S = Fraction(60, 3600)
TURNS = 6


def test_a_turn_is_told_as_handbooks_print_it():
    assert format_time(TURN_S * 10**12, digits=5) == "16.667 ms"


def test_sampled_rows_show_it_to_one_sample(tmp_path: Path):
    rate = 50_000
    at = np.arange(int(TURNS * TURN_S * rate))
    pulse = at * TURN_S.denominator % rate < rate // 50
    path = tmp_path / "index.csv"
    path.write_text("# Sample rate: 50 kHz\nINDEX,READY\n" + "".join(f"{int(p)},1\n" for p in pulse), "utf-8")
    turns = np.diff(active_edges_ps(read_capture(path).digital["INDEX"], "rising"))
    assert len(turns) == TURNS - 2
    assert np.abs(turns - float(parse_time_ps("16.667 ms"))).max() <= 10**12 / rate


def test_change_rows_show_it_to_the_printed_digit(tmp_path: Path):
    rows = []
    for turn in range(TURNS):
        begins = float(turn * TURN_S)
        rows += [f"{begins:.9f},1,{turn % 2}", f"{begins + 0.001:.9f},0,{turn % 2}"]
    path = tmp_path / "index.csv"
    path.write_text("Time [s],INDEX,SECTOR\n" + "\n".join(rows) + "\n", "utf-8")
    capture = read_capture(path)
    turns = np.diff(active_edges_ps(capture.digital["INDEX"], "rising"))
    assert np.abs(turns - float(TURN_S * 10**12)).max() <= 1000
    assert {format_time(int(t), digits=5) for t in turns} == {"16.667 ms"}


def test_scope_columns_show_it_to_one_sample(tmp_path: Path):
    interval_us = 50
    at = np.arange(2200) * interval_us
    volts = np.where(at * 60 % 1_000_000 < 20_000, 3.4, 0.2)
    path = tmp_path / "index.csv"
    rows = "\n".join(f"{t / 1e6:.6f},{v:.1f}" for t, v in zip(at.tolist(), volts.tolist(), strict=True))
    path.write_text("Time (s),INDEX (V)\n" + rows + "\n", "utf-8")
    trace = read_capture(path).analog["INDEX"]
    rises = np.flatnonzero((trace.volts[1:] > 2) & (trace.volts[:-1] <= 2)) + 1
    turns = np.diff(trace.times_ps(rises))
    assert len(turns) >= 5
    assert np.abs(turns - float(TURN_S * 10**12)).max() <= interval_us * 10**6


def test_sixty_a_second_is_its_rate(tmp_path: Path):
    path = tmp_path / "index.csv"
    rows = [f"{n * 16_666_667 + part},{1 - (part > 0)},0" for n in range(12) for part in (0, 1_000_000)]
    path.write_text("Time [ns],INDEX,SPARE\n" + "\n".join(rows) + "\n", "utf-8")
    capture = read_capture(path)
    (index,) = clock_candidates(capture.digital, capture.resolution_ps)
    assert index.signal == "INDEX"
    assert index.rate_hz == pytest.approx(60, abs=1e-4)
