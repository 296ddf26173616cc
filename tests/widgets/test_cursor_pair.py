"""Two cursors: what lies between them, and how well it reads."""

from __future__ import annotations

import numpy as np
import pytest

from app.widgets.traces.cursor_pair import Cursor, CursorPair, Periods, cursor_words, next_transition, reading, snapped
from app.widgets.traces.time_axis import TimeAxis
from app.widgets.traces.trace_rows import trace_rows
from tests.widgets.hand_built import CYCLE_PS, CYCLES, LATE_PS, bench_comparison

PERIODS = Periods(41_667, 62_500)


def axis() -> TimeAxis:
    made = TimeAxis()
    made.edges_ps = np.arange(CYCLES + 1, dtype=np.int64) * CYCLE_PS
    made.span = (0, CYCLES * CYCLE_PS)
    return made


def read(a: Cursor, b: Cursor) -> tuple[str, ...]:
    found = reading(CursorPair(a, b), axis(), PERIODS)
    assert found is not None
    return found.wordings


def test_ten_samples_at_24_mhz_are_2_4_mhz() -> None:
    """10 / 24 MHz = 416.67 ns; one sample in ten is a tenth of the frequency."""
    words = read(Cursor(1000), Cursor(1000 + 416_667))
    assert words[0].startswith("+416.7 ns · 1 cycle · 2.4 MHz ±240 kHz · accurate to ±41.7 ns")
    assert words[1] == "+416.7 ns · 1 cycle · accurate to ±41.7 ns"
    assert words[2] == "+416.7 ns ±41.7 ns"


@pytest.mark.parametrize(
    ("sides", "reads_to"),
    [
        (("good", "good"), 41_667),
        (("suspect", "suspect"), 62_500),
        (("good", "suspect"), 104_167),
        ((None, "suspect"), 62_500),
        ((None, None), 41_667),
    ],
)
def test_two_captures_read_to_the_sum_of_their_sample_periods(sides, reads_to: int) -> None:
    pair = CursorPair(Cursor(0, sides[0]), Cursor(10**6, sides[1]))
    found = reading(pair, axis(), PERIODS)
    assert found is not None
    assert found.reads_to_ps == reads_to


def test_b_before_a_is_negative_and_swapping_turns_the_sign() -> None:
    a, b = Cursor(3 * CYCLE_PS), Cursor(5 * CYCLE_PS + CYCLE_PS // 2)
    one, other = (reading(p, axis(), PERIODS) for p in (CursorPair(a, b), CursorPair(b, a)))
    assert one is not None
    assert other is not None
    assert one.apart_ps == -other.apart_ps == 2 * CYCLE_PS + CYCLE_PS // 2
    assert (one.cycle_words, other.cycle_words) == ("2.50 cycles", "\u22122.50 cycles")
    assert one.frequency == other.frequency


def test_too_short_a_time_tells_no_frequency() -> None:
    found = reading(CursorPair(Cursor(0), Cursor(41_667)), axis(), PERIODS)
    assert found is not None
    assert found.frequency == ""
    assert "Hz" not in "".join(found.wordings)


def test_nothing_is_read_from_one_cursor_or_from_two_in_one_place() -> None:
    assert reading(CursorPair(Cursor(5), None), axis(), PERIODS) is None
    assert reading(CursorPair(Cursor(5), Cursor(5)), axis(), PERIODS) is None


def test_outside_the_edges_there_are_no_cycles_to_count() -> None:
    found = reading(CursorPair(Cursor(-10), Cursor(CYCLE_PS)), axis(), PERIODS)
    assert found is not None
    assert found.cycle_words == ""
    at_the_end = reading(CursorPair(Cursor(0), Cursor(CYCLES * CYCLE_PS)), axis(), PERIODS)
    assert at_the_end is not None
    assert at_the_end.cycle_words == f"{CYCLES} cycles"


def test_a_cursor_tells_cycle_and_time_to_what_it_reads() -> None:
    assert cursor_words(0, Cursor(30 * CYCLE_PS + 5), axis(), PERIODS) == "A 30 · 12.48 µs"
    assert cursor_words(1, Cursor(30 * CYCLE_PS + 5), axis(), PERIODS, time=False) == "B 30"
    assert cursor_words(1, Cursor(-41_667), axis(), PERIODS).startswith("B · ")


def test_a_cursor_snaps_to_the_nearer_side_and_knows_it() -> None:
    row = next(r for r in trace_rows(bench_comparison()) if r.finding.signal == "ACK")
    assert row.good is not None
    good = int(row.good.transitions_ps[0])
    assert snapped(row, good + 3000, 5000) == Cursor(good, "good", "ACK")
    assert snapped(row, good + LATE_PS - 3000, 5000) == Cursor(good + LATE_PS, "suspect", "ACK")
    assert snapped(row, good + 6000, 5000) == Cursor(good + 6000)
    assert snapped(None, 77, 5000) == Cursor(77)


def test_transitions_are_gone_through_both_ways_and_end() -> None:
    row = next(r for r in trace_rows(bench_comparison()) if r.finding.signal == "ACK")
    assert row.good is not None
    assert row.suspect is not None
    every = np.union1d(row.good.transitions_ps, row.suspect.transitions_ps).tolist()
    there, at = [], -1
    while (found := next_transition(row, at, True)) is not None:
        at = found.at_ps
        there.append(at)
    back, at = [], at + 1
    while (found := next_transition(row, at, False)) is not None:
        at = found.at_ps
        back.append(at)
    assert there == every
    assert back == every[::-1]


def test_the_nearer_of_two_cursors_is_taken_hold_of() -> None:
    pair = CursorPair(Cursor(100), Cursor(130))
    assert [pair.nearest(t, 20) for t in (90, 112, 118, 131, 160)] == [0, 0, 1, 1, None]
    assert CursorPair().nearest(0, 10**9) is None


def test_the_cursor_placed_last_is_the_one_that_keys_move() -> None:
    pair = CursorPair().placed(0, Cursor(1)).placed(1, Cursor(2))
    assert pair.active == 1
    assert pair.placed(0, Cursor(3)).active == 0
    assert pair.placed(1, None).active == 0
    assert pair.placed(1, None).placed(0, None) == CursorPair()
