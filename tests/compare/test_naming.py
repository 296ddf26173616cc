"""Following against chance, wired AND and OR, what is wrong now and then, and levels that are unknown."""

from __future__ import annotations

import numpy as np

from tests.causes.test_causes import board
from tests.netlist import CLOCK
from tracecore.capture import UNKNOWN, Capture, digital_trace
from tracecore.compare.joined_nets import follows_by_chance
from tracecore.comparison import CompareRequest, Comparison, compare

CYCLES = 600
LEVELS = dict(zip("ABCD", np.random.default_rng(8).integers(0, 2, (4, CYCLES)), strict=True))


def side(levels: dict[str, np.ndarray]) -> Capture:
    return board(levels, dict.fromkeys(levels, 20_000))


def compared(changed: dict[str, np.ndarray], good: dict[str, np.ndarray] | None = None) -> Comparison:
    own = good or LEVELS
    return compare(CompareRequest((side(own),), (side(own | changed),), clock=CLOCK, offset=0))


def cause_of(found: Comparison, signal: str):
    return next(cause for cause in found.causes if cause.signal == signal)


def test_a_bridge_says_which_level_wins_and_needs_both_nets():
    for made, word in ((LEVELS["A"] & LEVELS["B"], "AND"), (LEVELS["A"] | LEVELS["B"], "OR")):
        found = compared({"A": made, "B": made})
        for signal, partner in (("A", "B"), ("B", "A")):
            cause = cause_of(found, signal)
            assert cause.fault_mode == f"follows {partner}"
            assert any(f"wired {word}" in line and "bridged" in line for line in cause.because)
    alone = cause_of(compared({"A": LEVELS["B"]}), "A")
    assert alone.fault_mode == "follows B"
    assert "bridged" not in " ".join(alone.because)


def test_likeness_that_chance_makes_is_no_following():
    # the last 24 cycles repeat two levels: B does so too, as anything would in a loop of two cycles
    tail = np.resize([0, 1], 24)
    good = {name: own.copy() for name, own in LEVELS.items()}
    good["B"][-24:] = tail
    wrong = good["A"].copy()
    wrong[-24:] = tail
    found = compared({"A": wrong}, good)
    assert "follows" not in cause_of(found, "A").fault_mode


def test_what_comes_and_goes_under_the_same_states_is_intermittent():
    wrong = LEVELS["A"].copy()
    at = np.arange(40, CYCLES, 45)
    wrong[at] ^= 1
    cause = cause_of(compared({"A": wrong}), "A")
    assert cause.fault_mode == "intermittent"
    assert any("same levels on all other signals" in line for line in cause.because)


def test_a_consequence_that_depends_on_data_names_what_it_may_follow():
    rare = (np.random.default_rng(3).random(CYCLES) < 0.05).astype(np.int64)
    good = LEVELS | {"R": rare}
    wrong = LEVELS["A"] ^ rare
    cause = cause_of(compared({"A": wrong}, good), "A")
    assert cause.fault_mode == "wrong now and then, may follow R"
    assert any("R is high whenever it goes wrong" in line for line in cause.because)


def test_the_words_and_the_table_count_the_same_cycles():
    good, wrong = side(LEVELS), LEVELS["A"].copy()
    wrong[np.arange(40, CYCLES, 45)] ^= 1
    suspect = side(LEVELS | {"A": wrong})
    # some cycles cannot be judged: it is neither low nor high there
    trace = suspect.digital["A"]
    levels = trace.levels.copy()
    levels[100:130:3] = UNKNOWN
    traces = dict(suspect.digital) | {"A": digital_trace(trace.times_ps, levels, trace.stop_ps)}
    unclear = Capture("suspect", traces, {}, good.resolution_ps, "built")
    assert compare(CompareRequest((good,), (unclear,), clock=CLOCK, offset=0)).signal("A").compared_cycles < CYCLES - 9
    for own in (suspect, unclear):
        found = compare(CompareRequest((good,), (own,), clock=CLOCK, offset=0))
        finding = found.signal("A")
        counts = f"{len(finding.diverging_cycles)} of {finding.compared_cycles} cycles that could be judged"
        assert counts in " ".join(cause_of(found, "A").because)


def test_a_level_that_is_unknown_is_not_stuck():
    good = side(LEVELS)
    trace = good.digital["A"]
    kept = trace.times_ps < trace.stop_ps // 3
    times = np.append(trace.times_ps[kept], trace.stop_ps // 3)
    levels = np.append(trace.levels[kept], np.uint8(UNKNOWN))
    traces = dict(good.digital) | {"A": digital_trace(times, levels, trace.stop_ps)}
    suspect = Capture("suspect", traces, {}, good.resolution_ps, "built")
    found = compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0))
    for cause in found.causes:
        assert "stuck" not in cause.fault_mode


def test_a_few_cycles_show_no_following():
    few = np.array([0, 1, 0, 1, 1, 0, 1], np.uint8)
    assert follows_by_chance(few, few, 5)
    long = np.random.default_rng(2).integers(0, 2, 200).astype(np.uint8)
    assert not follows_by_chance(long, long, 5)
