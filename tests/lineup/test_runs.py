"""Runs kept as one table behave as the tuple of runs that they stand for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.compare.divergence import matched
from tracecore.lineup import lineup
from tracecore.lineup.lineup import find_lineup
from tracecore.lineup.runs import MatchedRun, Runs, run_indices, runs_table, values_of_runs

rows = st.lists(st.tuples(st.integers(0, 90), st.integers(0, 90), st.integers(1, 9)), max_size=6)


@given(rows, st.integers(-7, 7), st.integers(-7, 7))
def test_a_table_of_runs_is_a_sequence_of_runs(table, first, stop):
    plain = tuple(MatchedRun(*row) for row in table)
    runs = Runs(np.array(table, np.int64))
    assert tuple(runs) == plain
    assert runs == plain
    assert len(runs) == len(plain)
    assert bool(runs) == bool(plain)
    assert tuple(runs[first:stop]) == plain[first:stop]
    assert [runs[i] for i in range(-len(plain), len(plain))] == [plain[i] for i in range(-len(plain), len(plain))]
    assert (runs_table(runs) == runs_table(plain)).all()
    assert not runs.table.flags.writeable


@given(rows)
def test_values_of_runs_are_those_of_their_slices(table):
    values = np.arange(200) * 3
    taken = Runs(np.array(table, np.int64)).table
    expected = [v for a, _, n in table for v in values[a : a + n]]
    assert values_of_runs(values, taken[:, 0], taken[:, 2]).tolist() == expected
    assert values[run_indices(taken[:, :1], taken[:, 2])[0]].tolist() == expected


def test_a_condition_that_cuts_out_every_other_cycle_leaves_runs_of_one():
    cycles = 120_000
    rng = np.random.default_rng(1)
    states = (np.cumsum(rng.random((6, cycles)) < 0.3, axis=1) % 2).astype(np.uint8)
    edges = np.arange(cycles + 1) * 250_000
    out = np.arange(cycles) % 2 == 0
    names = tuple("ABCDEF")
    found = find_lineup("CLK", "rising", edges, edges, states, states, names, left_out=(out, out), periods_ps=(1, 1))
    assert len(found.runs) == found.matched_cycles == cycles // 2
    assert found.runs[1] == MatchedRun(3, 3, 1)
    pairing = matched(found)
    assert (pairing.cycles == np.arange(1, cycles, 2)).all()
    assert (pairing.timemap.to_good_ps(edges[1:50:2] + 7) == edges[1:50:2] + 7).all()


@pytest.mark.parametrize("every", [2, 9, 1000])
def test_runs_taken_in_parts_are_the_same(monkeypatch, every):
    rng = np.random.default_rng(every)
    states = rng.integers(0, 2, (12, 1500)).astype(np.uint8)
    suspect = np.repeat(states, 1 + 2 * (np.arange(1500) == 700), axis=1)
    edges = [np.arange(side.shape[1] + 1, dtype=np.int64) * 1000 for side in (states, suspect)]
    out = tuple(np.arange(side.shape[1]) % every == 0 for side in (states, suspect))
    names = tuple("ABCDEFGHIJKL")
    whole = find_lineup("CLK", "rising", *edges, states, suspect, names, left_out=out)
    monkeypatch.setattr(lineup, "_PART", 7)
    parts = find_lineup("CLK", "rising", *edges, states, suspect, names, left_out=out)
    assert parts.runs == whole.runs
    assert parts.slips == whole.slips
