"""Order of likely causes on random boards, and the words for equals, tables and open pins."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.benchmarks.bench_ranking import scores
from tests.netlist import CLOCK, KINDS, make_case
from tests.thinned import thinned
from tracecore.capture import Capture, digital_trace
from tracecore.causes.learned_tables import learn
from tracecore.causes.order import sources
from tracecore.circuit.probe_split import best_split
from tracecore.circuit.wire_list import Wired, WireList
from tracecore.comparison import CompareRequest, compare

PERIOD = 250_000


def board(signals: dict[str, np.ndarray], delays: dict[str, int]) -> Capture:
    """States a cycle, shown ``delays`` ps after each active edge, sampled at 100 MS/s."""
    count = len(next(iter(signals.values())))
    edges = np.arange(count + 1) * PERIOD + PERIOD
    stop = int(edges[-1]) + PERIOD
    ticks = np.sort(np.concatenate(([0], edges, edges + PERIOD // 2)))
    traces = {CLOCK: digital_trace(ticks, (np.arange(len(ticks)) % 2).astype(np.uint8), stop)}
    for name, states in signals.items():
        times = np.concatenate(([0], edges[:-1] + delays[name])).astype(np.int64)
        traces[name] = digital_trace(times, np.concatenate(([0], states)).astype(np.uint8), stop)
    return Capture("board", traces, {}, 10_000, "built")


def gates(cycles: int = 400, wrong: bool = True):
    """Y = A and B, Z = not Y, Q = Y a cycle later; in the suspect Y acts as if A were high."""
    rng = np.random.default_rng(5)
    a, b = (rng.integers(0, 2, cycles) for _ in range(2))
    sides = []
    for bad in (False, wrong):
        y = b if bad else a & b
        q = np.concatenate(([0], y[:-1]))
        delays = {"A": 10_000, "B": 10_000, "Y": 40_000, "Z": 40_000, "Q": 20_000}
        sides.append(board({"Z": 1 - y, "Q": q, "B": b, "Y": y, "A": a}, delays))
    return sides


WIRES = WireList(
    (Wired("U1", "gate", "Y", ("A", "B")), Wired("U2", "gate", "Z", ("Y",)), Wired("U3", "register", "Q", ("Y",)))
)


def ranked(wires: WireList | None = None):
    good, suspect = gates()
    return compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0, wire_list=wires)).causes


def test_equals_are_said_to_be_equal_without_a_list():
    causes = ranked()
    first_two = {c.signal: c for c in causes[:2]}
    assert set(first_two) == {"Y", "Z"}
    assert "equally likely as Z" in first_two["Y"].summary
    assert "equally likely as Y" in first_two["Z"].summary
    assert "equally likely" not in causes[2].summary


def test_the_list_puts_consequences_behind_their_cause_and_names_the_open_pin():
    first, *others = ranked(WIRES)
    assert first.signal == "Y"
    words = " ".join(first.because)
    assert "of the good capture" in words
    assert "from A, B in the same cycle (4 of 4 input states" in words
    assert "U1 reads A as high throughout" in words
    assert first.probe_next.startswith("The input pin of U1 for A")
    assert {c.signal for c in others} == {"Z", "Q"}
    for cause in others:
        assert any("the suspect obeys it" in line for line in cause.because)
        assert any("By the wire list Y feeds it" in line for line in cause.because)
        assert "equally likely" not in cause.summary


def test_a_bus_with_two_drivers_gets_no_table():
    doubled = WireList((*WIRES.rows, Wired("U9", "gate", "Y", ("Z",))))
    first = next(c for c in ranked(doubled) if c.signal == "Y")
    assert not any("Learnt" in line for line in first.because)


def test_a_board_without_a_difference_has_no_causes():
    good, same = gates(wrong=False)
    assert compare(CompareRequest((good,), (same,), clock=CLOCK, wire_list=WIRES)).causes == ()


def test_a_net_that_is_no_function_of_its_inputs_is_not_learnt():
    row = Wired("U1", "gate", "Y", ("A",))
    words = np.array([0, 1] * 10)
    mixed = np.array([0, 1] * 9 + [1, 1], np.uint8)
    assert learn(row, words, mixed) is None
    assert learn(row, np.array([0, 1]), np.array([0, 1], np.uint8)) is None  # seen too seldom
    row = Wired("U1", "gate", "Y", ("A", "B"))
    rare = learn(row, np.array([0, 1] * 20 + [2]), np.array([1, 0] * 20 + [1], np.uint8))
    assert rare is not None
    assert rare.outputs.tolist() == [1, 0, 2, 2]


def test_an_output_that_never_moves_or_a_table_that_chance_makes_teaches_nothing():
    row = Wired("U1", "gate", "Y", ("A", "B", "C"))
    words = np.tile(np.arange(8), 20)
    assert learn(row, words, np.ones(160, np.uint8)) is None
    few = np.repeat(np.arange(3), 3)
    assert learn(row, few, np.array([1, 1, 1, 0, 0, 0, 1, 1, 1], np.uint8)) is None  # each held for three cycles
    assert learn(row, words, np.resize(np.array([0, 1, 1, 0, 1, 0, 0, 1], np.uint8), 160)) is not None


def held(data: np.ndarray, load: np.ndarray, stuck_from: int | None = None) -> np.ndarray:
    """A register that takes data in at the end of a cycle in which load is high."""
    out = np.zeros(len(data), np.int64)
    for k in range(1, len(data)):
        out[k] = data[k - 1] if load[k - 1] else out[k - 1]
        if stuck_from is not None and k >= stuck_from:
            out[k] = 0
    return out


def test_a_register_with_an_enable_is_judged_by_what_it_holds_and_a_memory_by_nothing():
    rng = np.random.default_rng(4)
    data, load, other = rng.integers(0, 2, (3, 400))
    sides = [
        board(
            {"D": data, "EN": load, "M": other, "Q": held(data, load, since)},
            dict.fromkeys(("D", "EN", "M", "Q"), 20_000),
        )
        for since in (None, 150)
    ]
    wires = WireList((Wired("U1", "enabled register", "Q", ("D", "EN")), Wired("U2", "memory", "M", ("D", "Q"))))
    cause = compare(CompareRequest((sides[0],), (sides[1],), clock=CLOCK, offset=0, wire_list=wires)).causes[0]
    assert cause.signal == "Q"
    assert any("the suspect breaks it" in line and "in the cycle before" in line for line in cause.because)


def test_sources_pass_uncaptured_nets_and_end_in_loops():
    wires = WireList(
        (Wired("U1", "gate", "Y", ("H", "Y2")), Wired("U2", "register", "H", ("A",)), Wired("U3", "gate", "Y2", ("Y",)))
    )
    assert sources("Y", wires, {"A"}) == {"A": True}
    assert sources("Y", wires, {"A", "H", "Y"}) == {"H": False, "Y": False}


@pytest.mark.parametrize("kind", thinned(KINDS))
def test_names_do_not_tell_what_was_planted(kind):
    # a list that is shuffled must rank as the list in order
    case = next(c for n in range(20) if (c := make_case(kind, n, 300)) is not None)
    turned = WireList(case.wires.rows[::-1])
    orders = [
        [
            c.signal
            for c in compare(CompareRequest((case.good,), (case.suspect,), clock=CLOCK, offset=0, wire_list=w)).causes
        ]
        for w in (case.wires, turned)
    ]
    assert orders[0] == orders[1]


@pytest.mark.parametrize("each", [1, pytest.param(2, marks=pytest.mark.long)])
def test_planted_faults_come_first_often_enough(each):
    # a small part of what bench_ranking measures; the floors leave room for the small number
    both = [scores(kind, each, 250)[:2] for kind in KINDS]
    plain, listed = ([pair[side] for pair in both] for side in (0, 1))
    assert sum(s.faults for s in plain) == 8 * each
    assert sum(s.first for s in plain) >= 6 * each
    assert sum(s.first for s in listed) >= 7 * each
    assert sum(s.three for s in listed) >= 8 * each - 1
    # an open pin is told as a place with a list, and only there
    assert sum(s.among for s in listed) >= 7 * each
    assert plain[KINDS.index("open input")].pin == 0


def test_an_output_that_stands_still_tells_its_input_pin_and_itself():
    rng = np.random.default_rng(6)
    a = rng.integers(0, 2, 300)
    delays = {"A": 10_000, "N": 30_000}
    good, suspect = (board({"A": a, "N": n}, delays) for n in (1 - a, np.zeros(300, np.int64)))
    wires = WireList((Wired("U4", "gate", "N", ("A",)),))
    request = CompareRequest((good,), (suspect,), clock=CLOCK, offset=0, wire_list=wires)
    (cause,) = compare(request).causes
    assert cause.fault_mode == "stuck low"
    assert cause.summary.endswith("maybe input open at U4 (pin of A) or its output held")
    assert any("cannot tell the two apart" in line for line in cause.because)
    assert cause.probe_next.endswith("or U4 does not get A, so look at its input pin for A too.")


def test_an_open_input_reads_high_where_either_level_would_explain():
    rng = np.random.default_rng(7)
    a, b = (rng.integers(0, 2, 400) for _ in range(2))
    delays = {"A": 10_000, "B": 10_000, "Y": 30_000}
    good, suspect = (board({"A": a, "B": b, "Y": y}, delays) for y in (a & (1 - b), 0 * a))
    wires = WireList((Wired("U5", "gate", "Y", ("A", "B")),))
    (cause,) = compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0, wire_list=wires)).causes
    assert "maybe input open at U5 (pin of B) or its output held" in cause.summary
    assert not any("as low" in line for line in cause.because)


def test_with_a_list_the_net_is_named_that_parts_the_remaining_parts_best():
    rng = np.random.default_rng(8)
    a = rng.integers(0, 2, 300)
    delays = {"A": 10_000, "Y": 60_000}
    good, suspect = (board({"A": a, "Y": y}, delays) for y in (a, np.where(np.arange(300) % 7 == 5, 1 - a, a)))
    chain = ("A", "H", "K", "L", "Y")
    wires = WireList(tuple(Wired(f"U{i}", "gate", o, (s,)) for i, (s, o) in enumerate(pairwise(chain), start=1)))
    (cause,) = compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0, wire_list=wires)).causes
    assert cause.probe_next.startswith("K, at the output of U2: ")
    assert "may lie at U1, U2 or" in cause.probe_next
    assert "may lie at U3, U4, in the wires between, or in something that holds Y." in cause.probe_next
    # what only one captured signal shows is no matter of who is first
    assert not any("The more of them" in line for line in cause.because)


def test_a_loop_or_a_captured_net_gives_nothing_to_split():
    loop = WireList((Wired("U1", "gate", "Y", ("H",)), Wired("U2", "gate", "H", ("Y",))))
    split = best_split("Y", loop, {"Y"})
    assert split is not None
    assert (split.net, split.behind, split.ahead) == ("H", ("U2",), ("U1",))
    assert best_split("Y", loop, {"Y", "H"}) is None
    assert best_split("Y", loop, set()) is None
