"""Coverage: every cycle of both captures is counted once, and what no cycle covers is measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.lineup.slipping import slipping_pair
from tests.plant import CLOCK, Plant
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.lineup.coverage import Coverage, Uncovered
from tracecore.lineup.lineup import Lineup, MatchedRun
from tracecore.lineup.slips import Slip

EDGES = np.arange(101, dtype=np.int64) * 1000 + 5000


def test_what_lies_before_and_behind_is_counted_in_cycles_and_in_time() -> None:
    runs, slips = (MatchedRun(10, 0, 30), MatchedRun(40, 33, 50)), (Slip(40, 30, 3, 0, "inserted"),)
    lineup = Lineup("CLK", "rising", "unique", "", -10, 1.0, runs, (), EDGES, EDGES[:90], None, slips)
    good, suspect = replace(lineup, spans_ps=((0, 120_000), (4000, 200_000)), periods_ps=(10, 40)).coverage
    assert (good.before, good.matched, good.slipped, good.after, good.total) == (10, 80, 0, 10, 100)
    assert (suspect.before, suspect.matched, suspect.slipped, suspect.after, suspect.total) == (0, 80, 3, 6, 89)
    # the first good matched edge is the tenth, at 15 000; the last edge of all at 105 000
    assert (good.head, good.tail) == (Uncovered(15_000, 5000), Uncovered(25_000, 15_000))
    assert suspect.tail == Uncovered(200_000 - 88_000, 200_000 - 94_000)
    assert suspect.edgeless_cycles == (1.0, 106.0)
    assert suspect.samples(suspect.tail.whole_ps) == 2800


def test_without_a_line_up_all_lies_before() -> None:
    none = Lineup("CLK", "rising", "none", "", 0, 0.0, (), (), EDGES, EDGES[:0], None, spans_ps=((0, 9), (0, 7)))
    good, suspect = none.coverage
    assert (good.before, good.total, suspect.before, suspect.total) == (100, 100, 0, 0)
    assert suspect.head == Uncovered(7, 7)
    assert good.closes
    assert suspect.closes


def compared(seed: int, inserted: dict[int, int], missing: dict[int, int], qualifier: str | None) -> Comparison:
    pair = slipping_pair(Plant(seed, cycles=700), inserted, missing)
    good, suspect = pair.good.capture(), pair.suspect.capture()
    return compare(CompareRequest((good,), (suspect,), pair.sheet, clock=CLOCK, qualifier=qualifier))


edits = st.dictionaries(st.integers(20, 680), st.integers(1, 4), max_size=3)


@settings(max_examples=6)
@given(st.integers(1, 50), edits, edits, st.sampled_from([None, "D00", "WAIT || D01"]))
def test_every_cycle_of_a_comparison_is_counted_once(seed, inserted, missing, qualifier) -> None:
    found = compared(seed, inserted, missing, qualifier)
    cover: Coverage = found.lineup.coverage
    for side, edges, capture in zip(
        cover,
        (found.lineup.good_edges_ps, found.lineup.suspect_edges_ps),
        (found.request.good[0], found.request.suspect[0]),
        strict=True,
    ):
        assert side.closes
        assert side.total == len(edges) - 1
        assert side.head.edgeless_ps == edges[0] - capture.start_ps
        assert side.tail.edgeless_ps == capture.stop_ps - edges[-1]
        assert side.period_ps == capture.resolution_ps


@pytest.mark.parametrize("qualifier", [None, "D00"])
def test_a_capture_against_itself_is_covered_whole(qualifier) -> None:
    pair = Plant(4, cycles=400).clean()
    good = pair.good.capture()
    found = compare(CompareRequest((good,), (good,), pair.sheet, clock=CLOCK, qualifier=qualifier))
    cover = found.lineup.coverage
    assert cover.good == cover.suspect
    assert cover.good.matched + cover.good.left_out == cover.good.total
    assert cover.good.outside == 0
