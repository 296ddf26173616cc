"""What a difference in volts may come from: planted, and named; and what is said where nothing can be."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tracecore.capture import AnalogTrace, DigitalTrace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.findings import LevelViolation, SignalFinding
from tracecore.compare.level_comparison import LevelRequest, compare_levels
from tracecore.compare.violations import new_violations
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import MatchedRun
from tracecore.measure.families import family
from tracecore.measure.levels import digitise

NS, HALF, TURNS = 1000, 200, 60
SHEET = ProbeSheet((Probe("X", "X", "7", "B03", family="74LS", driver="6-B21"),))


def volts(
    low: float = 0.25, high: float = 3.4, tau_rise: float = 3, tau_fall: float = 3, seed: int = 1, shift: float = 0.0
) -> np.ndarray:
    """A square wave of exponential transitions, at 1 GS/s, with a little noise."""
    t = np.arange(HALF)
    rise, fall = high + (low - high) * np.exp(-t / tau_rise), low + (high - low) * np.exp(-t / tau_fall)
    noise = np.random.default_rng(seed).normal(0, 0.01, 2 * HALF * TURNS)
    return np.tile(np.concatenate((rise, fall)), TURNS) + noise + shift


def trace(wave: np.ndarray) -> AnalogTrace:
    return AnalogTrace(0, Fraction(NS), wave.astype(np.float32))


def lined() -> Lineup:
    edges = np.arange(TURNS, dtype=np.int64) * 2 * HALF * NS
    return Lineup("MCLK", "rising", "unique", "", 0, 1.0, (MatchedRun(0, 0, TURNS - 1),), (), edges, edges, 0.0)


def report(good: np.ndarray | None, suspect: np.ndarray | None, *others: SignalFinding, **more):
    a, b = (None if wave is None else trace(wave) for wave in (good, suspect))
    digital = [None if t is None else digitise(t, family("74LS")).digital for t in (a, b)]
    one = SignalFinding(
        "X", "agrees", "7", "B03", good_volts=a, suspect_volts=b, good_trace=digital[0], suspect_trace=digital[1]
    )
    return compare_levels([one, *others], lined(), SHEET, LevelRequest(**more))


def weak(level: float = 1.1) -> np.ndarray:
    wave = volts(seed=2)
    for k in range(10, TURNS, 3):
        low = slice((2 * k + 1) * HALF, (2 * k + 2) * HALF + 3)
        wave[low] = np.maximum(wave[low], level + wave[low.start - HALF : low.stop - HALF] - 3.4)
    return wave


def test_what_is_sound_has_no_finding():
    row = report(volts(), volts(seed=9)).row("X")
    assert (row.verdict, row.finding, row.violations) == ("within", None, ())
    assert not row.low_shift.tells or abs(row.low_shift.value) < 0.01


def test_a_weak_low_is_named_with_where_to_probe_and_what_it_may_be():
    row = report(volts(), weak()).row("X")
    assert row.verdict == "violates"
    assert row.finding.title == "weak low 1.10 V"
    assert row.finding.probe == "6-B21"
    assert row.finding.since_cycle == 10
    assert "may be a contact or wire" in row.finding.text
    assert row.suspect.low_margin_v == pytest.approx(-0.3, abs=0.05)
    assert row.good.low_margin_v > 0.4


def test_a_level_at_which_all_weak_lows_fall_is_named():
    times = [0]
    levels = [0]
    for k in range(10, TURNS, 3):
        times += [(2 * k + 1) * HALF * NS, (2 * k + 2) * HALF * NS]
        levels += [1, 0]
    enable = DigitalTrace(np.array(times, np.int64), np.array(levels, np.uint8), 2 * HALF * TURNS * NS)
    other = SignalFinding("ENB", "agrees", suspect_trace=enable, good_trace=enable)
    row = report(volts(), weak(), other).row("X")
    assert (row.condition, row.condition_high) == ("ENB", True)
    assert "while ENB is high" in row.finding.text


def test_an_open_input_is_suggested():
    wave = np.full(2 * HALF * TURNS, 1.4) + np.random.default_rng(3).normal(0, 0.01, 2 * HALF * TURNS)
    row = report(volts(), wave).row("X")
    assert row.finding.title == "rests at 1.40 V"
    assert "may be an open input" in row.finding.text
    assert "with power off" in row.finding.probe


def test_a_slow_rise_beside_a_quick_fall_is_a_line_without_its_pull_up():
    row = report(volts(), volts(tau_rise=60)).row("X")
    assert row.finding.title.startswith("slow rise")
    assert "without its pull-up" in row.finding.text
    assert row.rise_ratio.value > 10
    assert row.rise_ratio.tells


def test_both_levels_raised_alike_may_be_ground():
    row = report(volts(), volts(shift=0.3)).row("X")
    assert row.finding.title == "both levels raised by 0.30 V"
    assert row.low_shift.value == pytest.approx(0.3, abs=0.01)


def test_a_low_that_alone_is_raised_is_no_shift_of_ground():
    row = report(volts(), volts(low=0.6)).row("X")
    assert row.finding.title == "low margin 0.20 V" or row.finding.title.startswith("low margin 0.1")
    assert row.verdict == "marginal"


def test_volts_on_one_side_only_are_judged_and_told():
    found = report(None, weak())
    assert found.row("X").verdict == "violates"
    assert "on the suspect side only" in found.notes[0]
    alone = report(weak(), None)
    assert alone.row("X").verdict == "cannot be judged"
    assert "on the known-good side only" in alone.notes[0]


def test_a_spoilt_capture_is_told_before_any_level():
    found = report(volts(), volts(seed=4) / 10)
    assert "10:1 probe" in found.notes[0]
    assert (found.row("X").verdict, found.row("X").finding) == ("cannot be judged", None)
    mended = report(volts() / 10, volts(seed=4) / 10, attenuation={"X": 10.0})
    assert mended.row("X").verdict == "within"


def test_signals_without_volts_are_counted():
    assert report(volts(), volts(), SignalFinding("D09", "agrees")).without == ("D09",)


def shifted(name: str, by: float) -> SignalFinding:
    a, b = trace(volts()), trace(volts(seed=7, shift=by))
    digital = [digitise(t, family("74LS")).digital for t in (a, b)]
    return SignalFinding(name, "agrees", good_volts=a, suspect_volts=b, good_trace=digital[0], suspect_trace=digital[1])


def test_levels_of_several_signals_shifted_alike_are_told_as_one_ground():
    notes = report(volts(), volts(shift=0.3), shifted("Y", 0.31), shifted("Z", 0.29)).notes
    assert len(notes) == 1
    assert notes[0].startswith("Low and high of X, Y, Z lie 0.30 V above the known-good side's, all alike.")
    assert report(volts(), volts(shift=0.3), shifted("Y", 0.0), shifted("Z", 0.15)).notes == ()


def violation(side: str, volts_: float, cycle: int, kind: str = "weak low") -> LevelViolation:
    return LevelViolation(kind, side, cycle, cycle + 1, volts_, 0.8, cycle)  # type: ignore[arg-type]


def test_how_deep_a_level_goes_counts_and_not_only_how_often():
    good = tuple(violation("good", 0.85, k) for k in range(5))
    shallow = tuple(violation("suspect", 0.87, k) for k in range(6))
    deep = violation("suspect", 1.4, 9)
    assert new_violations((*good, *shallow)) == ()
    assert new_violations((*good, *shallow, deep)) == (deep,)
    # a level that turns back at no certain place says nothing by its depth
    runts = (violation("good", 0.9, 1, "runt"), violation("suspect", 1.6, 2, "runt"))
    assert new_violations(runts) == ()


def test_what_rests_between_the_levels_has_no_margin_left():
    from app.cli.run import demo_request
    from demo_traces import CASES
    from tracecore.comparison import compare

    row = compare(demo_request(CASES["open"])).levels.row("D01")
    # TTL: a low is 0.8 V at most and a high 2 V at least (SDLS025)
    assert row.suspect.low_margin_v == pytest.approx(0.8 - 1.44, abs=0.02)
    assert row.suspect.high_margin_v == pytest.approx(1.44 - 2.0, abs=0.02)
    assert row.good.low_margin_v > 0.4
    assert row.worst_margin_v < 0
