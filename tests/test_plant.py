"""Known answers by construction: the planted fault is found, on its signal, at its cycle, and nothing else is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_traces.linnet import SIGNALS, machine_words
from tests.plant import CLOCK, IN_VOLTS, Fault, Mode, Pair, Plant
from tests.strategies import plants
from tests.thinned import thinned
from tracecore.capture import Capture
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.readers import read_capture

FAST = {"good_rate_hz": Fraction(100_000_000), "suspect_rate_hz": Fraction(100_000_000)}
SCOPE = Plant(
    cycles=700,
    signals=("STB", "READ", "D02"),
    good_rate_hz=Fraction(50_000_000),
    suspect_rate_hz=Fraction(50_000_000),
)


def compared(pair: Pair, *, in_volts: bool = False) -> Comparison:
    sides = [s.capture_in_volts() if in_volts else s.capture() for s in (pair.good, pair.suspect)]
    return compare(CompareRequest((sides[0],), (sides[1],), pair.sheet, clock=CLOCK))


def only_the_planted_one(found: Comparison, pair: Pair, *modes: str) -> None:
    """The line-up, one diverging signal, its mode, and its first cycle."""
    truth = pair.truth
    assert truth.fault is not None
    assert found.lineup.offset_cycles == truth.offset_cycles
    assert [f.signal for f in found.signals if f.verdict == "diverges"] == [truth.fault.signal]
    (cause,) = found.causes
    assert cause.signal == truth.fault.signal
    assert cause.fault_mode.startswith(modes)
    assert cause.since_cycle == truth.first_cycle


@settings(max_examples=16)
@given(plants)
def test_a_clean_pair_gives_nothing(plant):
    found = compared(plant.clean())
    assert found.lineup.offset_cycles == plant.offset_cycles
    assert found.lineup.status == "unique"
    assert {f.verdict for f in found.signals} == {"agrees"}
    assert found.causes == ()


@pytest.mark.parametrize("rates", [(24, 24), (24, 100), (10, 16), (200, 25)])
def test_a_clean_pair_gives_nothing_at_unlike_rates(rates):
    good, suspect = (Fraction(10**6 * r) for r in rates)
    plant = Plant(11, good_rate_hz=good, suspect_rate_hz=suspect, drift_ppm=-2000, cycles=2500)
    assert not compared(plant.clean()).diverges


def test_a_clean_pair_in_volts_gives_nothing():
    found = compared(SCOPE.clean(), in_volts=True)
    assert not found.diverges
    assert [f.levels for f in found.signals] == [()] * 4


FAULTS = [
    *(
        Fault(mode, s, since)
        for mode in ("stuck low", "stuck high")
        for s in ("D03", "SEQ0", "STB")
        for since in (0, 250)
    ),
    *(Fault("inverted", signal) for signal in ("D01", "READ", "ACK")),
    *(Fault("one cycle late", signal) for signal in ("D02", "SEQ1")),
    *(Fault("follows", "D02", since, other=other) for other in ("D01", "SEQ1") for since in (0, 150)),
    *(Fault("intermittent", signal, share=0.01) for signal in ("D01", "SEQ2")),
    *(Fault("late", signal, by_ps=by) for signal in ("D00", "ACK") for by in (45_000, 170_000)),
    *(Fault("late", signal, 100, by_ps=170_000, share=0.03) for signal in ("ACK", "READ")),
    *(Fault("early", signal, by_ps=by) for signal, by in (("ACK", 60_000), ("D00", 75_000))),
    *(Fault("missing pulses", signal, 20, share=0.1) for signal in ("READ", "STB")),
    *(Fault("extra pulses", signal, 20, share=0.03) for signal in ("D02", "SEQ2", "ACK")),
]


def label(fault: Fault) -> str:
    return f"{fault.signal} {fault.mode} from {fault.since}"


@pytest.mark.parametrize("fault", thinned(FAULTS), ids=label)
def test_one_fault_is_found_and_nothing_else(fault):
    pair = Plant(5, cycles=900, drift_ppm=1500, **FAST).faulty(fault)
    found = compared(pair)
    only_the_planted_one(found, pair, fault.mode)
    if fault.mode == "late":
        signal = found.signal(fault.signal)
        late = signal.ties.moved_suspect_on_good_ps - signal.ties.moved_good_ps
        # two sample periods, and what two boards' parts and the jitter of edges add
        assert abs(float(np.median(late)) - fault.by_ps) < 20_000 + 4 * 1200 + 4000


# a signal that moves in most cycles and is inverted halfway must not be taken for one that comes a cycle late
LATER = [
    Fault("inverted", "D01", 200),
    Fault("inverted", "READ", 450),
    Fault("one cycle late", "READ", 300),
    Fault("late", "D00", 300, by_ps=170_000),
]


@pytest.mark.parametrize("fault", thinned(LATER), ids=label)
def test_a_fault_that_begins_later_is_found_where_it_begins(fault):
    pair = Plant(5, cycles=900, drift_ppm=1500, **FAST).faulty(fault)
    only_the_planted_one(compared(pair), pair, fault.mode)


@settings(max_examples=12)
@given(plants, st.sampled_from(("D00", "D03", "SEQ1", "READ", "ADDR01")), st.sampled_from((0, 1)), st.integers(80, 300))
def test_a_stuck_signal_is_found_on_any_bench(plant, signal, level, since):
    mode: Mode = "stuck high" if level else "stuck low"
    pair = plant.faulty(Fault(mode, signal, since))
    only_the_planted_one(compared(pair), pair, mode)


@pytest.mark.parametrize(
    ("fault", "modes"),
    [
        (Fault("weak low", "D02", 90, share=0.3), ("weak low 1.1 V",)),
        (Fault("weak low", "READ", share=0.05, rest_v=1.3), ("weak low 1.3 V",)),
        (Fault("weak high", "D02", share=0.3, rest_v=1.7), ("weak high 1.7 V",)),
        # an open input is held near 1.4 to 1.5 V by its own current (common practice)
        (Fault("open", "D02", 150, rest_v=1.47), ("steady mid-level",)),
    ],
    ids=["weak low", "rarely weak low", "weak high", "open"],
)
def test_a_fault_in_volts_is_found_and_nothing_else(fault, modes):
    pair = SCOPE.faulty(fault)
    only_the_planted_one(compared(pair, in_volts=True), pair, *modes)


@settings(max_examples=12)
@given(
    st.integers(1, 5000),
    st.sampled_from(("D00", "D01", "D02", "D03")),
    st.sampled_from(("stuck low", "stuck high", "intermittent")),
    st.integers(100, 500),
)
def test_the_cause_stands_before_its_consequences(seed, signal, mode, since):
    pair = Plant(seed, cycles=1500, **FAST).faulty(
        Fault(mode, signal, since, share=0.03 if mode == "intermittent" else 1.0), propagate=True
    )
    found = compared(pair)
    assert found.lineup.offset_cycles == pair.truth.offset_cycles
    first = found.causes[0]
    assert (first.rank, first.signal) == (1, signal)
    assert first.since_cycle == pair.truth.first_cycle
    if mode != "intermittent":
        assert first.fault_mode == mode
    assert all(c.since_cycle is not None and c.since_cycle >= pair.truth.first_cycle for c in found.causes)


def test_consequences_do_follow():
    pair = Plant(3, cycles=1500, **FAST).faulty(Fault("stuck low", "D03", 300), propagate=True)
    wrong = {c.signal for c in compared(pair).causes}
    assert {"D03", "SEQ2", "D02"} <= wrong
    assert not wrong & {"STB", "ACK", "READ", "RFSH", "WAIT"}


# --- the builder itself


def test_both_sides_run_the_same_program():
    pair = Plant(2, cycles=300, offset_cycles=5).clean()
    words = machine_words(2, 0, 300)
    for side, offset in ((pair.good, 0), (pair.suspect, 5)):
        capture = side.capture()
        middles = side.edges_ps[2:302] + 330_000
        for signal, row in zip(SIGNALS, words, strict=True):
            seen = capture.digital[signal].level_at(middles)
            assert seen[offset:].tolist() == row[: 300 - offset].tolist()


@pytest.mark.parametrize("seed", [1, 8, 1968])
def test_the_program_does_not_come_round_again(seed):
    words = machine_words(seed, 0, 8000)
    keys = np.packbits(words, axis=0).astype(np.int64)
    word = keys[0] << 8 | keys[1]
    windows = {tuple(word[i : i + 300].tolist()) for i in range(len(word) - 300)}
    assert len(windows) == len(word) - 300


@pytest.mark.parametrize("layout", ["sampled rows", "change rows", "scope columns"])
def test_the_files_hold_what_the_captures_hold(layout, tmp_path: Path):
    plant = replace(SCOPE, cycles=120)
    side = plant.faulty(Fault("weak low", "D02", share=0.2)).suspect
    text = {
        "sampled rows": side.as_sampled_rows,
        "change rows": side.as_change_rows,
        "scope columns": side.as_scope_columns,
    }[layout]()
    path = tmp_path / "side.csv"
    path.write_bytes(text)
    back = read_capture(path)
    assert back.reader == layout
    assert back.notes == ()
    same(back, side.capture_in_volts() if layout == "scope columns" else side.capture())


def same(back: Capture, built: Capture) -> None:
    assert back.channels == built.channels
    for name, trace in built.digital.items():
        assert back.digital[name].times_ps.tolist() == trace.times_ps.tolist()
        assert back.digital[name].levels.tolist() == trace.levels.tolist()
    for name, volts in built.analog.items():
        assert back.analog[name].interval_ps == volts.interval_ps
        assert np.abs(back.analog[name].volts - volts.volts).max() < 0.0051
    if built.digital:
        # change rows end with the last row, which marks the end, and its sample period
        assert built.stop_ps <= back.stop_ps <= built.stop_ps + built.resolution_ps


def test_only_the_faulty_pin_differs_unless_it_propagates():
    plant = Plant(9, cycles=600)
    clean, faulty = plant.clean().suspect, plant.faulty(Fault("inverted", "D01")).suspect
    for signal in SIGNALS:
        alike = clean.pins[signal].times_ps.tolist() == faulty.pins[signal].times_ps.tolist()
        assert alike == (signal != "D01")


def test_what_volts_alone_show_leaves_the_logic_as_it_was():
    for mode in IN_VOLTS[:2]:
        clean, faulty = SCOPE.clean().suspect, SCOPE.faulty(Fault(mode, "D02")).suspect
        assert faulty.weak_v["D02"]
        assert faulty.pins["D02"].times_ps.tolist() == clean.pins["D02"].times_ps.tolist()


def test_each_suspect_capture_says_which_signals_differ_in_it() -> None:
    plant = Plant(seed=5, cycles=600)
    fault = Fault("stuck low", "D03", since=200)
    runs = (plant.again(0), plant.again(1, fault=fault), plant.again(2))
    sheet = plant.clean().sheet
    request = CompareRequest((plant.again(7).capture(),), tuple(r.capture() for r in runs), sheet, clock=CLOCK)
    seen = compare(request).captures
    assert [(bool(s.diverges), s.counts) for s in seen] == [(False, True), (True, True), (False, True)]
    assert seen[1].diverges == {"D03"}
