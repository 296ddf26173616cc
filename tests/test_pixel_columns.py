"""Pixel columns against slow, plain definitions."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import digital_traces
from tracecore.capture import AnalogTrace, DigitalTrace
from tracecore.pixel_columns import (
    BLOCK,
    BUSY,
    EDGE,
    NO_DATA,
    SpanColumns,
    TraceColumns,
    VoltColumns,
    column_edges_ps,
    volt_columns,
)


def plain_states(trace: DigitalTrace, edges: list[int]) -> list[int]:
    """One column after the other, by the definition."""
    out = []
    for left, right in pairwise(edges):
        moves = sum(left <= t < right for t in trace.transitions_ps.tolist())
        if right <= trace.start_ps or left >= trace.stop_ps:
            out.append(NO_DATA)
        elif moves:
            out.append(EDGE if moves == 1 else BUSY)
        else:
            held = [v for t, v in zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True) if t <= left]
            out.append(held[-1] if held else int(trace.levels[0]))
    return out


@given(digital_traces(most=60, start_ps=1000), st.integers(0, 12_000), st.integers(1, 700), st.integers(1, 40))
def test_states_are_as_defined(trace: DigitalTrace, t0: int, ps_per_px: int, width: int) -> None:
    edges = column_edges_ps(t0, ps_per_px, width)
    found = TraceColumns(trace.times_ps, trace.levels, trace.stop_ps).states(edges)
    assert found.tolist() == plain_states(trace, edges.tolist())


@given(st.integers(0, 2**32 - 1), st.integers(1, 30), st.floats(0, 1), st.floats(0, 1))
def test_crowded_views_are_exact_too(seed: int, width: int, at: float, share: float) -> None:
    """Bursts of thousands of transitions, seen through few columns, so that the pauses decide."""
    rng = np.random.default_rng(seed)
    gaps = rng.integers(1, 50, 20_000)
    gaps[rng.integers(0, len(gaps), 40)] *= 5000
    times = np.concatenate(([0], np.cumsum(gaps)))
    levels = (np.arange(len(times)) % 2).astype(np.uint8)
    stop = int(times[-1]) + 10
    t0 = int(at * stop) - 100
    edges = column_edges_ps(t0, max(1, int(share * (stop - t0)) // width), width)
    columns = TraceColumns(times, levels, stop)
    columns._pauses = None
    plain = columns.states(edges)
    columns.make_ready()
    found = columns.states(edges)
    assert (found == plain).all()
    index = times[1:].searchsorted(edges)
    count = np.diff(index)
    expected = np.where(count > 1, BUSY, np.where(count == 1, EDGE, levels[index[:-1]]))
    expected[(edges[1:] <= 0) | (edges[:-1] >= stop)] = NO_DATA
    assert (found == expected).all()


@pytest.mark.parametrize("ps_per_px", [3, 1000, 40_000, 10**7])
def test_no_glitch_is_lost_at_any_zoom(ps_per_px: int) -> None:
    """A pulse of one picosecond in a still second shows in the one column that holds it."""
    times = np.array([0, 500_000_001, 500_000_002])
    trace = TraceColumns(times, np.array([0, 1, 0], np.uint8), 10**12)
    edges = column_edges_ps(500_000_000 - 20 * ps_per_px, ps_per_px, 40)
    found = trace.states(edges)
    assert np.flatnonzero(found == BUSY).tolist() == [20]
    assert (np.delete(found, 20)[edges[:-1][np.arange(40) != 20] >= 0] == 0).all()


spans = st.lists(st.tuples(st.integers(1, 40), st.integers(1, 40)), max_size=20)


@given(spans, st.integers(-50, 300), st.integers(1, 60), st.integers(1, 30))
def test_span_mask_is_as_defined(pairs: list[tuple[int, int]], t0: int, ps_per_px: int, width: int) -> None:
    bounds = np.cumsum(np.array(pairs, np.int64).reshape(-1, 2).ravel()).reshape(-1, 2)
    edges = column_edges_ps(t0, ps_per_px, width)
    expected = [
        any(a < right and b > left for a, b in bounds.tolist())
        for left, right in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
    ]
    assert SpanColumns(bounds).mask(edges).tolist() == expected


@given(st.integers(0, 2**32 - 1), st.integers(1, 60), st.floats(0, 1), st.floats(0, 1))
def test_crowded_spans_are_exact_too(seed: int, width: int, at: float, share: float) -> None:
    rng = np.random.default_rng(seed)
    lengths = rng.integers(1, 30, 4000)
    lengths[rng.integers(0, 2000, 20) * 2] *= 3000
    bounds = np.cumsum(lengths).reshape(-1, 2)
    stop = int(bounds[-1, 1])
    t0 = int(at * stop) - 100
    edges = column_edges_ps(t0, max(1, int(share * (stop - t0)) // width), width)
    columns = SpanColumns(bounds)
    found = columns.mask(edges)
    columns._pauses = None
    assert (found == columns.mask(edges)).all()
    begun, ended = bounds[:, 0].searchsorted(edges[1:]), bounds[:, 1].searchsorted(edges[:-1], side="right")
    assert (found == (begun > ended)).all()


@given(st.integers(0, 2**32 - 1), st.integers(1, 5000), st.integers(1, 12), st.booleans())
def test_every_extreme_of_the_volts_is_kept(seed: int, count: int, width: int, wide: bool) -> None:
    rng = np.random.default_rng(seed)
    volts = rng.normal(size=count).astype(np.float32)
    if wide:
        step = int(rng.integers(BLOCK, 3 * BLOCK))
        edges = np.arange(width + 1) * step + int(rng.integers(0, BLOCK))
    else:
        edges = np.sort(rng.integers(0, count + 1, width + 1))
    low, high = volt_columns(volts, edges)
    for i, (a, b) in enumerate(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)):
        part = volts[a:b]
        if len(part):
            assert (low[i], high[i]) == (part.min(), part.max())
        else:
            assert np.isnan(low[i])
            assert np.isnan(high[i])


@given(
    st.integers(-10_000, 10_000), st.fractions(Fraction(1, 3), 500), st.integers(1, 60), st.integers(-15_000, 40_000)
)
def test_an_edge_finds_the_first_sample_at_or_after_it(start: int, interval: Fraction, count: int, edge: int) -> None:
    trace = AnalogTrace(start, interval, np.zeros(count, np.float32))
    times = trace.times_ps(np.arange(count))
    assert VoltColumns(trace).index_edges(np.array([edge])).tolist() == [int(times.searchsorted(edge))]


def test_a_long_trace_keeps_one_needle() -> None:
    volts = np.zeros(1_000_000, np.float32)
    volts[654_321] = 5
    low, high = VoltColumns(AnalogTrace(0, Fraction(1000), volts)).extremes(column_edges_ps(0, 10**6, 1000))
    assert np.flatnonzero(high).tolist() == [654]
    assert not low.any()
