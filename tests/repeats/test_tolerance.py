"""What good captures teach: planted variation is forgiven, planted faults are not, and the forecast comes true."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_traces.instruments import Pin
from demo_traces.linnet import SIGNALS
from tests.compare.many_captures import CLOCK, captures, floating, wandering
from tests.plant import Fault, Plant, Side
from tracecore.capture import Capture, digital_trace
from tracecore.capture_series import CaptureReading, Reference, SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, compare
from tracecore.repeats.context import choose_context
from tracecore.repeats.odd_captures import OddCapture, less_floating
from tracecore.repeats.table import table_of

PLANT = Plant(3, cycles=900)
FURTHER = range(100, 106)


@lru_cache(16)
def learnt(*good: Capture) -> Reference:
    return reference(SeriesRequest(good, clock=CLOCK))


def cells(reading: CaptureReading) -> int:
    return sum(len(found.cycles) for found in reading.reported.values())


def false_cells(against: Reference, further: tuple[Capture, ...]) -> float:
    return float(np.mean([cells(read_against(against, capture)) for capture in further]))


def test_sound_captures_that_do_not_vary_teach_nothing_and_forecast_nothing():
    against = learnt(*captures(PLANT, range(4)))
    tolerance = against.tolerance
    assert (tolerance.captures, tolerance.expected_false, tolerance.expected_unpooled) == (4, 0, 0)
    assert all(len(leeway.varying) == 0 for leeway in tolerance.signals.values())
    assert tolerance.context.signals == ()
    assert tolerance.described()[-1].endswith("another sound one would show no difference.")
    assert false_cells(against, captures(PLANT, FURTHER)) == 0


def test_the_same_capture_thrice_varies_nowhere():
    one = captures(PLANT, range(1))[0]
    against = learnt(one, one, one)
    assert against.tolerance.expected_unpooled == 0
    assert not read_against(against, one).outcome.diverges


@pytest.mark.parametrize("count", [1, 2])
def test_under_three_captures_nothing_is_forecast_and_no_time_is_learnt(count):
    tolerance = learnt(*captures(PLANT, range(count), floating)).tolerance
    assert tolerance.expected_false is None
    assert all(leeway.envelope is None for leeway in tolerance.signals.values())
    assert tolerance.thin_cycles > 890


def test_one_good_capture_forgives_nothing():
    against = learnt(*captures(PLANT, range(1), floating))
    assert against.tolerance.described() == ()
    assert false_cells(against, captures(PLANT, FURTHER, floating)) > 200


@pytest.mark.parametrize("vary", [floating, wandering])
def test_no_good_capture_is_held_against_itself(vary):
    good = captures(PLANT, range(4), vary)
    against = learnt(*good)
    assert [cells(read_against(against, capture)) for capture in good] == [0, 0, 0, 0]


@pytest.mark.parametrize("count", [3, 5])
def test_a_floating_bus_is_forgiven_where_it_floats_and_a_stuck_bit_still_shows(count):
    against = learnt(*captures(PLANT, range(count), floating))
    tolerance = against.tolerance
    assert set(tolerance.context.signals) <= {"SEQ0", "SEQ1", "SEQ2", "ACK", "STB", "READ", "WAIT"}
    assert not tolerance.noisy
    assert false_cells(against, captures(PLANT, FURTHER, floating)) <= 2
    # cycle by cycle alone would leave far more
    assert tolerance.expected_unpooled > 20 > tolerance.expected_false
    # a data bit loses what is wrong of it while the bus floats, a control bit nothing
    for signal, least in (("D02", 0.65), ("READ", 1.0)):
        fault = Fault("stuck low", signal, since=100)
        own = captures(PLANT, range(200, 201), floating, fault)[0]
        reading = read_against(against, own)
        alone = read_against(learnt(captures(PLANT, range(1))[0]), captures(PLANT, range(200, 201), None, fault)[0])
        assert len(reading.reported[signal].cycles) >= least * len(alone.reported[signal].cycles)
        # three captures leave a cycle or two in which the bus floats and nobody has shown it
        assert reading.outcome.first == signal or (count == 3 and signal in reading.outcome.diverges)


def test_what_is_forgiven_is_told_with_its_context():
    told = learnt(*captures(PLANT, range(4), floating)).tolerance.described()
    assert len(told) == 5
    for i, sentence in enumerate(told[:4]):
        assert sentence.startswith(f"D0{i} varies among the known-good captures in ")
        assert "; it is not compared where " in sentence
        assert "SEQ1=1" in sentence


def test_a_strobe_from_outside_that_falls_a_cycle_later_is_forgiven():
    before = false_cells(learnt(*captures(PLANT, range(1), wandering)), captures(PLANT, FURTHER, wandering))
    against = learnt(*captures(PLANT, range(8), wandering))
    assert before > 2
    assert false_cells(against, captures(PLANT, FURTHER, wandering)) < 0.5
    fault = captures(PLANT, range(200, 201), wandering, Fault("stuck high", "D01", since=100))[0]
    assert read_against(against, fault).outcome.first == "D01"


def noise_on(row: int):
    def vary(levels: np.ndarray, at: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        out = levels.copy()
        out[row] = rng.integers(0, 2, levels.shape[1])
        return out

    return vary


def test_a_signal_that_varies_all_the_time_is_left_out():
    vary = noise_on(SIGNALS.index("WAIT"))
    against = learnt(*captures(PLANT, range(4), vary))
    assert against.tolerance.noisy == {"WAIT"}
    reading = read_against(against, captures(PLANT, range(50, 51), vary)[0])
    assert not reading.outcome.diverges
    assert "WAIT" not in reading.outcome.compared
    assert any(s.startswith("WAIT") and s.endswith("it is left out.") for s in against.tolerance.described())


def rare_noise(levels: np.ndarray, at: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Every cell of ADDR02 has its own small chance to read wrong; no context tells when."""
    out = levels.copy()
    chance = np.random.default_rng(7).beta(0.3, 12, 3000)[at % 3000]
    out[SIGNALS.index("ADDR02")] ^= (rng.random(len(at)) < chance).astype(np.uint8)
    return out


@pytest.mark.parametrize("count", [4, 8])
def test_the_forecast_comes_true_where_cycles_alone_are_learnt(count):
    against = learnt(*captures(PLANT, range(count), rare_noise))
    seen = false_cells(against, captures(PLANT, range(100, 112), rare_noise))
    expected = against.tolerance.expected_false
    assert expected > 1
    # what was seen once errs by the root of its count, and on the careful side: it had one capture fewer to learn from
    assert 0.5 * seen < expected < 2.5 * seen + 3


def test_a_faulty_capture_among_the_good_ones_is_named():
    good = list(captures(PLANT, range(4), floating))
    bad = captures(PLANT, range(4, 5), floating, Fault("stuck low", "READ", since=200))[0]
    assert learnt(*good).notices == ()
    (warning,) = learnt(*good, bad).notices
    assert warning.text.startswith("run 4 differs from all other known-good captures on READ, in ")
    told = learnt(bad, *good)
    assert [own.code for own in told.notices] == ["good_capture_odd", "reference_replaced"]
    assert told.notices[0].text == warning.text
    assert told.board.capture is good[0]


def test_a_bit_of_a_floating_bus_that_seldom_reads_otherwise_makes_no_capture_odd() -> None:
    # D00 reads otherwise in two cycles of the first capture alone, in which other bits float
    plant = Plant(1048, cycles=120)
    good = captures(plant, range(3), floating)
    against = learnt(*good)
    assert against.notices == ()
    assert len(against.tolerance.signals["D00"].varying) == 2
    # what one shows alone while the bus is driven is believed no more than before
    rare = Fault("intermittent", "READ", share=0.1)
    bad = captures(plant, range(3, 4), floating, rare)[0]
    told = learnt(*good, bad).notices
    assert [n.signals for n in told] == [("READ",)]
    assert told[0].text.startswith("run 3 differs from all other")


def test_one_place_alone_shows_no_floating() -> None:
    floats = np.zeros(100, np.bool_)
    floats[40:50] = True
    for cycles, share, stays in (
        ([44], 0.1, True),
        ([44, 47], 0.1, False),
        ([44, 47], 0.3, True),
        ([44, 60], 0.1, True),
    ):
        odd = OddCapture(1, "run 1", ("D0",), len(cycles), whole=False)
        none = np.empty(0, np.int32)
        alone = {"D0": [none, np.array(cycles, np.int32), none]}
        assert less_floating((odd,), alone, floats, share) == ((odd,) if stays else ())


def cut(capture: Capture, stop_ps: int) -> Capture:
    traces = {
        n: digital_trace(t.times_ps[t.times_ps < stop_ps], t.levels[: int((t.times_ps < stop_ps).sum())], stop_ps)
        for n, t in capture.digital.items()
    }
    return Capture(capture.name, traces, {}, capture.resolution_ps, capture.reader)


def test_captures_of_different_length_teach_of_the_cycles_they_have():
    good = captures(PLANT, range(4), floating)
    against = learnt(good[0], good[1], cut(good[2], 300 * PLANT.period_ps), cut(good[3], 200 * PLANT.period_ps))
    assert 590 <= against.tolerance.thin_cycles <= 610
    further = captures(PLANT, range(100, 101), floating)[0]
    assert read_against(against, further).outcome.cycles > 880
    assert against.tolerance.expected_false is not None


def blinded(capture: Capture, signal: str) -> Capture:
    """A capture whose ``signal`` was unknown throughout, as of a lead that fell off."""
    old = capture.digital[signal]
    dead = digital_trace(old.times_ps[:1].copy(), np.array([2], np.uint8), old.stop_ps)
    return Capture(capture.name, {**capture.digital, signal: dead}, {}, capture.resolution_ps, capture.reader)


def test_what_was_never_known_is_neither_forgiven_nor_compared():
    good = captures(PLANT, range(3), floating)
    against = learnt(good[0], good[1], blinded(good[2], "READ"))
    assert len(against.tolerance.signals["READ"].varying) == 0
    fault = captures(PLANT, range(9, 10), floating, Fault("stuck low", "READ", since=100))[0]
    assert "READ" in read_against(against, fault).outcome.diverges
    assert "READ" not in read_against(against, blinded(fault, "READ")).outcome.compared


def strayed(side: Side, signal: str, by_ps: np.ndarray) -> Capture:
    """The capture of a side whose ``signal`` moves by so much at every transition, in turn."""
    old = side.pins[signal]
    shift = np.resize(by_ps, len(old.times_ps))
    shift[0] = 0
    pins = {**side.pins, signal: Pin(old.times_ps + shift, old.levels)}
    return Side(side.name, pins, side.edges_ps, side.stop_ps, side.rate_hz, {}, side.seed).capture()


def from_outside(run: int, late_ps: int = 0) -> Capture:
    """ACK comes when it likes within a quarter of a microsecond: more than the two instruments' steps."""
    rng = np.random.default_rng((17, run))
    return strayed(PLANT.again(run), "ACK", late_ps + rng.integers(0, 250_000, 400))


def test_transitions_that_stray_among_good_captures_may_stray_as_far():
    few, many = (learnt(*(from_outside(run) for run in range(count))) for count in (1, 10))
    further = tuple(from_outside(run) for run in FURTHER)
    assert false_cells(few, further) > 10 * max(1.0, false_cells(many, further))
    # a fault elsewhere is seen as early as ever
    late = PLANT.again(300)
    reading = read_against(many, strayed(late, "D01", np.array([150_000])))
    assert reading.outcome.first == "D01" or "D01" in reading.outcome.diverges
    assert len(reading.reported["D01"].cycles) > 100


def test_a_slow_edge_shows_as_a_shift_though_no_transition_is_beyond_tolerance():
    against = learnt(*(PLANT.again(run).capture() for run in range(5)))
    sound = read_against(against, PLANT.again(50).capture())
    assert not any(s.systematic for pair in sound.shifts.values() for s in pair)
    slow = read_against(against, strayed(PLANT.again(51), "D01", np.array([45_000])))
    assert not slow.outcome.diverges
    systematic = {signal for signal, pair in slow.shifts.items() if any(s.systematic for s in pair)}
    assert systematic == {"D01"}
    assert all(abs(s.by_ps - 45_000) < 6000 for s in slow.shifts["D01"])
    # it is told, and counts as no difference: another sound board's parts may be that slow
    ((signal, shift),) = slow.outcome.shifted
    assert (signal, shift) == ("D01", max(slow.shifts["D01"], key=lambda s: abs(s.by_ps)))
    assert not sound.outcome.shifted
    table = table_of([slow.outcome, sound.outcome])
    assert (table.diverging, dict(table.shifting)) == (0, {"D01": 1})


def test_a_signal_that_diverges_is_not_told_as_steadily_off_besides():
    against = learnt(*(PLANT.again(run).capture() for run in range(5)))
    late = read_against(against, strayed(PLANT.again(51), "D01", np.array([150_000])))
    assert "D01" in late.outcome.diverges
    assert late.shifts["D01"][0].systematic
    assert "D01" not in dict(late.outcome.shifted)


def test_the_comparison_tells_of_a_signal_that_is_steadily_late():
    good = tuple(PLANT.again(run).capture() for run in range(4))
    slow = strayed(PLANT.again(51), "D01", np.array([45_000]))
    found = compare(CompareRequest(good, (slow,), clock=CLOCK))
    assert not found.diverges
    (told,) = [n.text for n in found.notices if n.code == "steadily_off"]
    assert "D01 rises 4" in told or "D01 falls 4" in told
    assert dict(found.repeats.shifting) == {"D01": 1}


@settings(max_examples=20)
@given(st.integers(0, 1000), st.integers(2, 6))
def test_the_context_that_decides_is_found_among_signals_that_do_not(seed, others):
    rng = np.random.default_rng(seed)
    steady = {f"S{i}": rng.integers(0, 2, 4000).astype(np.uint8) for i in range(others)}
    enable = (rng.random(4000) < 0.3).astype(np.uint8)
    varying = np.flatnonzero((enable == 0) & (rng.random(4000) < 0.4))
    found = choose_context({**steady, "BEN": enable}, 4000, {"D0": varying})
    assert found.signals == ("BEN",)
    assert found.words(found.seen_at(varying)) == "BEN=0"
    assert (found.seen_at(varying)[found.of_cycle] == (enable == 0)).all()


def test_steps_of_a_long_capture_are_told_apart_though_it_is_sized_up_by_a_sample() -> None:
    step = np.arange(800_000)
    steady = {f"T{i}": (step >> i & 1).astype(np.uint8) for i in range(2)}
    found = choose_context(steady, len(step), {"D0": np.flatnonzero((step % 4 == 0) & (step % 7 < 3))})
    assert set(found.signals) == {"T0", "T1"}


@settings(max_examples=20)
@given(st.integers(0, 1000), st.integers(1, 8))
def test_no_context_is_made_of_signals_that_have_nothing_to_do_with_it(seed, signals):
    rng = np.random.default_rng(seed)
    steady = {f"S{i}": rng.integers(0, 2, 4000).astype(np.uint8) for i in range(signals)}
    found = choose_context(steady, 4000, {"D0": np.flatnonzero(rng.random(4000) < 0.1)})
    assert found.signals == ()
    assert not found.seen_at(np.arange(4000)).any()


def test_no_cycles_and_nothing_varying_make_no_context():
    assert choose_context({}, 0, {}).signals == ()
    assert choose_context({"A": np.array([0, 1], np.uint8)}, 2, {}).signals == ()
    one = choose_context({"A": np.zeros(50, np.uint8)}, 50, {"D": np.array([7])})
    assert one.signals == ()
