"""Both sides' timing: verdicts by part, by entered and by learned limits, and what cannot be judged."""

from __future__ import annotations

import numpy as np
import pytest

from tracecore.capture import DigitalTrace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.findings import SignalFinding
from tracecore.compare.timing_comparison import (
    TimingLimits,
    TimingSettings,
    compare_timing,
)
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import MatchedRun
from tracecore.measure.timing import timing_figures

NS, CYCLE, CYCLES = 1000, 400_000, 300


def edges(count: int = CYCLES) -> np.ndarray:
    return np.arange(count, dtype=np.int64) * CYCLE


def signal(delay_ns: float, late: dict[int, float] | None = None) -> DigitalTrace:
    at = [k * CYCLE + round((late or {}).get(k, delay_ns) * NS) for k in range(1, CYCLES - 1)]
    times = np.array([0, *at], np.int64)
    return DigitalTrace(times, (np.arange(len(times)) % 2).astype(np.uint8), CYCLES * CYCLE)


def still() -> DigitalTrace:
    return DigitalTrace(np.array([0], np.int64), np.array([0], np.uint8), CYCLES * CYCLE)


def lined(resolution: int = 10 * NS) -> Lineup:
    runs = (MatchedRun(0, 12, CYCLES - 12),)
    return Lineup(
        "MCLK", "rising", "unique", "", 12, 1.0, runs, (), edges(), edges(), 0.0, periods_ps=(resolution, resolution)
    )


def finding(name: str, good: DigitalTrace, suspect: DigitalTrace) -> SignalFinding:
    return SignalFinding(name, "agrees", "7", "A09", good_trace=good, suspect_trace=suspect)


def report(one: SignalFinding, into: str = "7474", resolution: int = 10 * NS, **settings):
    sheet = ProbeSheet((Probe(one.signal, one.signal, into=into),))
    return compare_timing([one], lined(resolution), sheet, TimingSettings(**settings))


def test_a_setup_missed_once_is_found_where_it_is():
    one = finding("ACK", signal(250), signal(250, {118: 395}))
    row = report(one, resolution=2 * NS).row("ACK")
    assert row.verdict == "violates"
    assert (row.worst.what, row.worst.smallest.value_ps, row.worst.breaking) == ("setup", 5_000, 1)
    assert (row.worst.smallest.cycle, row.worst.good_cycle) == (118, 106)
    assert "SDLS119" in row.limits.source


def test_the_same_reading_of_a_slow_instrument_cannot_be_judged_and_a_rate_is_named():
    row = report(finding("ACK", signal(250), signal(250, {118: 395})), resolution=42 * NS).row("ACK")
    assert row.verdict == "cannot be judged"
    assert "66.67 MHz or more would tell" in row.why


def test_what_is_sound_is_within_and_no_difference():
    row = report(finding("ACK", signal(250), signal(252))).row("ACK")
    assert row.verdict == "within"
    assert row.difference_ps == pytest.approx(2_000, abs=1)
    assert not row.differs  # sampling is locked to the clock here, so medians read to both periods


def test_what_two_sound_boards_may_differ_by_is_no_difference():
    # beyond what it reads to, and what a few gates' spread may make
    assert not report(finding("ACK", signal(250), signal(261)), resolution=NS).row("ACK").differs
    assert report(finding("ACK", signal(250), signal(263)), resolution=NS).row("ACK").differs


def test_a_signal_that_is_late_by_more_than_both_read_to_differs():
    row = report(finding("ACK", signal(250), signal(333))).row("ACK")
    assert row.differs
    assert row.difference_ps == pytest.approx(83_000, abs=1)


@pytest.mark.parametrize(
    ("suspect", "into", "why"),
    [
        (still(), "7474", "no transitions on the suspect side"),
        (signal(250), "", "no part given"),
        (signal(250), "9999", "its part has no figures"),
        (signal(250), "7400", "its part has no figures"),
        (signal(250), "74LS112A", "its part has no figures"),
    ],
)
def test_what_cannot_be_judged_says_why(suspect, into, why):
    found = report(finding("ACK", signal(250), suspect), into)
    assert (found.row("ACK").verdict, found.row("ACK").why) == ("cannot be judged", why)
    assert bool(found.notes) == (why == "its part has no figures")


def test_entered_limits_go_before_the_parts():
    one = finding("ACK", signal(250), signal(250))
    limits = TimingLimits(200 * NS, None, "entered by hand")
    assert report(one, entered={"ACK": limits}).row("ACK").verdict == "violates"


def test_limits_are_learned_from_three_good_captures():
    one = finding("ACK", signal(250), signal(250, {118: 330}))
    more = [{"ACK": timing_figures(signal(d), edges(), 10 * NS)} for d in (245, 255)]
    sheet = ProbeSheet((Probe("ACK", "ACK"),))
    row = compare_timing([one], lined(), sheet, None, more).row("ACK")
    assert row.limits.source == "learned from 3 known-good captures"
    assert row.limits.setup_ps == 145_000 - 10_000
    assert row.verdict == "violates"
    assert compare_timing([one], lined(), sheet, None, more[:1]).row("ACK").limits is None


def test_an_edge_that_never_comes_is_told():
    lineup = Lineup("MCLK", "rising", "none", "", 0, 0.0, (), (), edges(1), edges(1), None)
    sheet = ProbeSheet((Probe("ACK", "ACK", into="7474"),))
    found = compare_timing([finding("ACK", signal(250), signal(250))], lineup, sheet)
    assert "never comes twice" in found.notes[0]
    assert found.row("ACK").verdict == "cannot be judged"


def test_the_worst_stands_first_and_what_has_no_part_last():
    sheet = ProbeSheet(tuple(Probe(n, n, into="7474" if n != "X" else "") for n in ("A", "B", "X")))
    signals = [
        finding("X", signal(250), signal(250)),
        finding("A", signal(250), signal(250)),
        finding("B", signal(250), signal(250, {50: 399})),
    ]
    assert [r.signal for r in compare_timing(signals, lined(NS), sheet).rows] == ["B", "A", "X"]
