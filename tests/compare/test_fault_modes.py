"""Words of fault modes: one of a thing, delays of both signs, signals that are unknown throughout."""

from __future__ import annotations

import numpy as np

from tests.causes.test_causes import board
from tests.netlist import CLOCK
from tracecore.capture import UNKNOWN, Capture, DigitalTrace, digital_trace
from tracecore.compare.fault_mode import counted
from tracecore.comparison import CompareRequest, compare

LEVELS = np.random.default_rng(3).integers(0, 2, (3, 400))
DELAYS = {"A": 20_000, "B": 20_000, "C": 20_000}


def sides(change) -> tuple[Capture, Capture]:
    """A good board, and one in which ``change`` makes signal B's trace anew."""
    good = board(dict(zip("ABC", LEVELS, strict=True)), DELAYS)
    traces = dict(good.digital)
    traces["B"] = change(traces["B"])
    return good, Capture("suspect", traces, {}, good.resolution_ps, "built")


def moved(by_ps: np.ndarray):
    """Moves the i-th transition by the i-th of ``by_ps``, repeated."""

    def change(trace: DigitalTrace) -> DigitalTrace:
        shift = np.resize(by_ps, len(trace.times_ps) - 1)
        return digital_trace(np.concatenate(([0], trace.times_ps[1:] + shift)), trace.levels, trace.stop_ps)

    return change


def compared(change):
    good, suspect = sides(change)
    return compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0))


def test_a_signal_unknown_throughout_is_undecided_on_either_side():
    good, suspect = sides(lambda t: DigitalTrace(np.array([0]), np.array([UNKNOWN], np.uint8), t.stop_ps))
    for pair in ((good, suspect), (suspect, good)):
        comparison = compare(CompareRequest((pair[0],), (pair[1],), clock=CLOCK, offset=0))
        finding = comparison.signal("B")
        assert finding.verdict == "undecided"
        assert (finding.missing_transitions, finding.extra_transitions, finding.first_divergence) == (0, 0, None)
        assert comparison.causes == ()


def test_a_delay_is_the_middle_of_its_own_sign_only():
    # one in six comes 70 ns early: the delay of the others is 60 ns all the same
    cause = compared(moved(np.array([60_000, 60_000, 60_000, 60_000, 60_000, -70_000]))).causes[0]
    assert cause.signal == "B"
    assert cause.fault_mode == "late by 60 ns"
    assert any("the other way" in line for line in cause.because)


def test_one_of_a_thing_is_one():
    assert counted(1, "transition") == "1 transition"
    assert counted(0, "transition") == "0 transitions"
    only_one = np.zeros(len(sides(lambda t: t)[0].digital["B"].times_ps) - 1, np.int64)
    only_one[50] = 60_000
    cause = compared(moved(only_one)).causes[0]
    assert ("Late or early", "1 transition") in cause.readings


def test_a_steady_delay_beside_the_tolerance_is_one_delay():
    # 24 to 36 ns round a tolerance of 30 ns: every other one reads within it
    cause = compared(moved(np.array([24_000, 36_000, 28_000, 33_000, 29_000]))).causes[0]
    assert cause.fault_mode == "late by 29 ns"
    assert "goes" not in " ".join(cause.because)
    assert "±20 ns" in " ".join(cause.because)


def test_a_delay_of_rises_alone_says_that_falls_are_on_time():
    cause = compared(moved(np.array([36_000, 0]))).causes[0]
    assert cause.fault_mode == "late by 36 ns"
    assert any(line in ("The falls are on time.", "The rises are on time.") for line in cause.because)


def held(first: int, stop: int, level: int = 0):
    """Signal B stands still in these cycles."""
    good = LEVELS[1].copy()
    good[first:stop] = level
    levels = dict(zip("ABC", LEVELS, strict=True))
    pair = board(levels, DELAYS), board(levels | {"B": good}, DELAYS)
    (cause,) = compare(CompareRequest((pair[0],), (pair[1],), clock=CLOCK, offset=0)).causes
    return cause


def test_what_stands_still_for_a_while_is_called_that():
    for level, word in ((0, "low"), (1, "high")):
        cause = held(100, 180, level)
        wrong = 100 + np.flatnonzero(LEVELS[1][100:180] != level)
        first, last = int(wrong[0]), int(cause.summary.split()[-1])
        # the edge with which it comes right again may lie in the cycle behind
        assert last - int(wrong[-1]) in (0, 1)
        assert cause.fault_mode == f"stuck {word} for {last - first + 1} cycles"
        assert cause.fault_kind == f"stuck {word}"
        assert cause.summary == f"from cycle {first} to {last}"
        assert cause.because[0].startswith(f"It is {word} from cycle {first} to {last}, while the good side changes ")
        assert cause.because[0].endswith("it is right before and after.")


def test_a_line_that_is_never_let_go_is_stuck_though_the_good_one_moves_once():
    reset = np.ones_like(LEVELS[0])
    reset[:4] = 0
    levels = dict(zip("ABC", LEVELS, strict=True))
    sides = (
        board(levels | {"R": reset}, DELAYS | {"R": 0}),
        board(levels | {"R": np.ones_like(reset)}, DELAYS | {"R": 0}),
    )
    (cause,) = compare(CompareRequest(sides[:1], sides[1:], clock=CLOCK, offset=0)).causes
    assert (cause.signal, cause.fault_mode) == ("R", "stuck high")
    assert cause.because[0] == "It is high in the whole capture, while the good side changes 1 time."


def test_leaving_cycles_out_leaves_its_name():
    b = LEVELS[1].copy()
    b[100:200] = 0
    levels = dict(zip("ABC", LEVELS, strict=True))
    sides = (board(levels, DELAYS), board(levels | {"B": b}, DELAYS))
    (cause,) = compare(CompareRequest(sides[:1], sides[1:], clock=CLOCK, offset=0, qualifier="A == 1")).causes
    assert cause.fault_mode.startswith("stuck low for ")


def test_standing_still_twice_is_told_and_to_the_end_is_stuck():
    good = LEVELS[1].copy()
    good[100:160] = good[250:300] = 0
    levels = dict(zip("ABC", LEVELS, strict=True))
    found = compare(
        CompareRequest((board(levels, DELAYS),), (board(levels | {"B": good}, DELAYS),), clock=CLOCK, offset=0)
    )
    assert "it is right everywhere else" in found.causes[0].because[0]
    assert held(100, 400).fault_mode == "stuck low"


def test_none_is_added_only_where_none_is():
    def change(trace: DigitalTrace) -> DigitalTrace:
        times, levels = trace.times_ps, trace.levels
        at = np.arange(11, len(times) - 2, 6)
        keep = np.ones(len(times), np.bool_)
        keep[at] = keep[at + 1] = False  # whole pulses are missing
        wide = next(i for i in np.flatnonzero(keep[:-1]) if times[i + 1] - times[i] > 3 * 250_000)
        spike = times[wide] + np.array([400_000, 480_000])
        both = np.concatenate((times[keep], spike))
        order = np.argsort(both)
        shown = np.concatenate((levels[keep], [1 - levels[wide], levels[wide]]))[order].astype(np.uint8)
        return digital_trace(both[order], shown, trace.stop_ps)

    found = compared(change)
    finding = found.signal("B")
    assert (finding.fault_mode, finding.extra_transitions) == ("missing pulses", 2)
    assert "are missing; 2 are added." in found.causes[0].because[0]


def test_a_state_that_is_wrong_for_a_cycle_is_no_delay():
    b = LEVELS[1].copy()
    # behind a long high: the signal leaves it a cycle early
    at = next(i for i in range(100, 390) if b[i - 2] == b[i - 1] == b[i] != b[i + 1] == b[i + 2])
    b[at] = b[at + 1]
    levels = dict(zip("ABC", LEVELS, strict=True))
    sides = (board(levels, DELAYS), board(levels | {"B": b}, DELAYS))
    (cause,) = compare(CompareRequest(sides[:1], sides[1:], clock=CLOCK, offset=0)).causes
    assert cause.fault_mode == "wrong state"
    assert any("1 transition comes whole cycles early or late" in sentence for sentence in cause.because)
    assert "clocks" not in cause.probe_next


def test_a_net_that_moves_in_cycles_without_partner_is_not_stuck() -> None:
    def mode(until: int) -> str | None:
        levels = dict(zip("ABC", LEVELS.copy(), strict=True))
        good = board({name: own[:300] for name, own in levels.items()}, DELAYS)
        levels["B"][200:until] = 0
        suspect = board(levels, DELAYS)
        return compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0)).signal("B").fault_mode

    assert mode(400) == "stuck low"
    assert mode(310) not in ("stuck low", None)
