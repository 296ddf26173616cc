"""Active edges, cycle states with their guard band, and clock candidates."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tracecore.capture import UNKNOWN, digital_trace
from tracecore.measure.clock import active_edges_ps, clock_candidates, cycle_states, known_transitions


def square(period: int, count: int, start: int = 0):
    times = start + np.arange(2 * count, dtype=np.int64) * (period // 2)
    return digital_trace(times, (np.arange(2 * count) % 2).astype(np.uint8), int(times[-1]) + period // 2)


def test_edges_of_a_square_wave_are_one_period_apart():
    edges = active_edges_ps(square(1000, 20), "rising")
    assert np.diff(edges).tolist() == [1000] * 19
    assert active_edges_ps(square(1000, 20), "falling")[0] == 1000


def test_an_edge_through_unknown_counts_where_the_new_level_is_reached():
    trace = digital_trace(np.array([0, 50, 60, 100, 110]), np.array([0, 2, 1, 2, 1], np.uint8), 200)
    assert active_edges_ps(trace, "rising").tolist() == [60]


@given(st.lists(st.tuples(st.integers(1, 30), st.integers(0, 2)), min_size=1, max_size=40), st.integers(0, 12))
def test_states_agree_with_a_plain_reading_of_the_trace(steps, guard):
    times = np.cumsum([0, *(gap for gap, _ in steps)]).astype(np.int64)
    levels = np.array([0, *(level for _, level in steps)], np.uint8)
    trace = digital_trace(times, levels, int(times[-1]) + 20)
    edges = np.arange(0, int(times[-1]) + 40, 37, dtype=np.int64)
    states = cycle_states(trace, edges, guard)
    for k, state in enumerate(states.tolist()):
        read = int(edges[k + 1]) - guard
        moved = any(read - guard < t <= read + guard for t in trace.times_ps.tolist())
        outside = read - guard < 0 or read + guard > trace.stop_ps
        level = int(trace.level_at(np.array([min(read, trace.stop_ps - 1)]))[0])
        assert state == (UNKNOWN if moved or outside else level)


def test_unknown_stretches_vanish_from_known_transitions():
    trace = digital_trace(np.array([0, 5, 9, 12]), np.array([2, 0, 2, 0], np.uint8), 20)
    known = known_transitions(trace)
    assert known.times_ps.tolist() == [0]
    assert known.levels.tolist() == [0]


def test_the_even_signal_is_taken_for_the_clock_before_a_faster_uneven_one():
    rng = np.random.default_rng(1)
    uneven = np.cumsum(rng.integers(50, 600, 400)).astype(np.int64)
    traces = {
        "D": digital_trace(np.append(0, uneven), (np.arange(401) % 2).astype(np.uint8), int(uneven[-1]) + 1),
        "PH": square(1000, 100),
    }
    best = clock_candidates(traces, 10)[0]
    assert best.signal == "PH"
    assert abs(best.rate_hz - 1e9) < 1
    assert best.samples_per_cycle == 100
