"""Comparisons written by hand, so that the widgets are tested without the engine that finds them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np

from tracecore.capture import Capture, DigitalTrace, Int64, digital_trace
from tracecore.compare.findings import FirstDivergence, LevelViolation, SignalFinding, Ties
from tracecore.comparison import CompareRequest, Comparison
from tracecore.lineup.lineup import Lineup, MatchedRun

CYCLE_PS, CYCLES = 416_000, 40
STOP_PS = CYCLE_PS * CYCLES
LATE_PS = 170_000


def steps(bits: str, *, delay_ps: int = 0) -> DigitalTrace:
    """A trace with one level a cycle: ``0``, ``1`` or ``x``; it changes ``delay_ps`` after the active edge."""
    levels = np.array(["01x".index(b) for b in bits], np.uint8)
    times = np.arange(len(bits), dtype=np.int64) * CYCLE_PS + delay_ps
    times[0] = 0
    return digital_trace(times, levels, STOP_PS)


def clock() -> DigitalTrace:
    """Rises at every cycle's start, falls in its middle."""
    times = np.arange(2 * CYCLES, dtype=np.int64) * (CYCLE_PS // 2)
    return digital_trace(times, (1 - np.arange(2 * CYCLES) % 2).astype(np.uint8), STOP_PS)


def finding_of(
    signal: str,
    good: DigitalTrace | None,
    suspect: DigitalTrace | None,
    *,
    spans: Int64 | None = None,
    **more: Any,
) -> SignalFinding:
    """A finding whose suspect trace lies on the good side's time already."""
    spans = spans if spans is not None else np.empty((0, 2), np.int64)
    if "ties" not in more and good is not None and suspect is not None:
        count = min(len(good.transitions_ps), len(suspect.transitions_ps))
        more["ties"] = Ties(good.transitions_ps[:count], suspect.transitions_ps[:count])
    return SignalFinding(
        signal,
        more.pop("verdict", "agrees"),
        good_trace=good,
        suspect_trace=suspect,
        suspect_on_good=more.pop("on_good", suspect),
        difference_on_good_ps=spans,
        **more,
    )


def comparison_of(
    findings: Sequence[SignalFinding],
    edges_ps: Int64,
    *,
    rate_hz: Fraction = Fraction(24_000_000),
    lined_up: bool = True,
) -> Comparison:
    """Both sides on one time axis, cycle for cycle."""
    cycles = len(edges_ps) - 1
    runs = (MatchedRun(0, 0, cycles),) if lined_up else ()
    lineup = Lineup("MCLK", "rising", "unique" if lined_up else "none", "", 0, 1.0, runs, (), edges_ps, edges_ps, 0.0)
    step = int(10**12 / rate_hz) + 1
    tiny = digital_trace(np.array([0]), np.array([0], np.uint8), int(edges_ps[-1]) if len(edges_ps) else 1)
    sides = [Capture(name, {"MCLK": tiny}, {}, step, "by hand") for name in ("good", "suspect")]
    request = CompareRequest((sides[0],), (sides[1],), clock="MCLK")
    return Comparison(request, lineup, tuple(findings), (), ())


def bench_comparison() -> Comparison:
    """Every mark once: a stuck bit, a late handshake, a weak low, an unknown level, a signal that one side lacks."""
    late = steps("0" * 10 + "1" * 20 + "0" * 10, delay_ps=40_000)
    late_suspect = digital_trace(late.times_ps + np.array([0, LATE_PS, 0]), late.levels, STOP_PS)
    bits = [("0011" * 10, 0), ("0101" * 10, 1), ("0110" * 10, 2)]
    d3 = steps("01" * 20, delay_ps=20_000)
    stuck = steps("01" * 6 + "0" * 28, delay_ps=20_000)
    wrong = d3.transitions_ps[d3.transitions_ps > stuck.transitions_ps[-1]]
    weak = LevelViolation("weak low", "suspect", 25 * CYCLE_PS, 26 * CYCLE_PS, 1.1, 0.8, 25)
    findings = [
        finding_of("MCLK", clock(), clock(), slot="7", pin="A01"),
        finding_of(
            "ACK",
            late,
            late_suspect,
            slot="7",
            pin="A09",
            active="low",
            verdict="diverges",
            fault_mode="late by 170 ns",
            moved_transitions=1,
            diverging_cycles=np.array([10]),
            ties=Ties(
                late.transitions_ps[1:],
                late.transitions_ps[1:],
                late.transitions_ps[:1],
                late_suspect.transitions_ps[:1],
            ),
        ),
        *(
            finding_of(f"D0{i}", steps(row, delay_ps=20_000), steps(row, delay_ps=20_000), bus="D", bit=i)
            for row, i in bits
        ),
        finding_of(
            "D03",
            d3,
            stuck,
            slot="7",
            pin="B04",
            bus="D",
            bit=3,
            verdict="diverges",
            fault_mode="stuck low",
            missing_transitions=len(wrong),
            diverging_cycles=np.arange(13, 40, 2, dtype=np.int64),
            spans=np.append(wrong, STOP_PS)[: len(wrong) // 2 * 2 + len(wrong) % 2 * 2].reshape(-1, 2),
            ties=Ties(stuck.transitions_ps, stuck.transitions_ps, missing_ps=wrong),
            first_divergence=FirstDivergence(13, 13 * CYCLE_PS, 13 * CYCLE_PS),
        ),
        finding_of("SEQ2", steps("0" * 20 + "1" * 2 + "0" * 18), steps("0" * 20 + "1" * 2 + "0" * 18), levels=(weak,)),
        finding_of("HALT", steps("0" * 20 + "x" * 4 + "1" * 16), steps("0" * 20 + "x" * 4 + "1" * 16)),
        finding_of("SPARE", steps("01" * 20), None, verdict="missing"),
    ]
    return comparison_of(findings, np.arange(CYCLES + 1, dtype=np.int64) * CYCLE_PS)


def without_lineup() -> Comparison:
    """The same captures, not lined up."""
    full = bench_comparison()
    none = np.empty(0, np.int64)
    findings = [replace(f, suspect_on_good=None, ties=Ties(), diverging_cycles=none) for f in full.signals]
    return comparison_of(findings, np.empty(0, np.int64), lined_up=False)
