"""The check-up of a pair: every planted mistake of probing is found, and no sound or faulty board is called one."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import numpy as np
import pytest

from demo_traces import CASES
from demo_traces.linnet import SIGNALS
from tests.plant import CLOCK, IN_STATES, Fault, Mode, Pair, Plant
from tests.thinned import thinned
from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet, read_probe_sheet
from tracecore.compare.pair_checkup import PairLine, check_pair
from tracecore.compare.pair_checkup.line import lower_bound
from tracecore.compare.pair_checkup.readings import Readings
from tracecore.comparison import CompareRequest, compare
from tracecore.readers import read_capture

MODES: tuple[Mode, ...] = (*IN_STATES, "late", "early", "missing pulses", "extra pulses")
FEW_SEEDS = [0, 1, *(pytest.param(s, marks=pytest.mark.long) for s in range(2, 5))]
PROPAGATING = ("stuck low", "stuck high", "inverted", "intermittent")


def reclipped(capture: Capture, reads: dict[str, str], inverted: tuple[str, ...] = ()) -> Capture:
    """The same board with some leads on the pins of other signals, on none ("", which reads high), or inverted."""
    traces = {}
    for signal, own in capture.digital.items():
        where = reads.get(signal, signal)
        still = DigitalTrace(own.times_ps[:1].copy(), np.ones(1, np.uint8), own.stop_ps)
        trace = capture.digital[where] if where else still
        if signal in inverted:
            trace = DigitalTrace(trace.times_ps.copy(), (1 - trace.levels).astype(np.uint8), trace.stop_ps)
        traces[signal] = trace
    return Capture(capture.name, traces, {}, capture.resolution_ps, capture.reader)


def checked(pair: Pair, reads: dict[str, str] | None = None, inverted: tuple[str, ...] = ()) -> tuple[PairLine, ...]:
    good, suspect = pair.good.capture(), reclipped(pair.suspect.capture(), reads or {}, inverted)
    return check_pair(compare(CompareRequest((good,), (suspect,), pair.sheet, clock=CLOCK)))


def accused(lines: tuple[PairLine, ...]) -> list[PairLine]:
    """What is said against the leads or the program; how finely the instruments look is another matter."""
    return [line for line in lines if line.kind != "fine" and line.topic != "skew"]


def bench(draw: Random) -> Plant:
    few = draw.random() < 0.3
    return Plant(
        draw.randint(1, 10_000),
        cycles=draw.choice([600, 900]),
        period_ps=draw.choice([300_000, 416_000, 1_000_000]),
        good_rate_hz=Fraction(draw.choice([24, 50, 100]) * 10**6),
        suspect_rate_hz=Fraction(draw.choice([24, 50, 80, 200]) * 10**6),
        offset_cycles=draw.randint(-60, 60),
        drift_ppm=draw.uniform(-3000, 3000),
        jitter_ps=draw.uniform(0, 600),
        signals=tuple(draw.sample(SIGNALS, draw.randint(2, 6))) if few else SIGNALS,
    )


def drawn_fault(draw: Random, plant: Plant) -> Fault:
    mode, signal = draw.choice(MODES), draw.choice(plant.signals)
    other = draw.choice([s for s in SIGNALS if s != signal])
    by_ps = draw.choice([45_000, 150_000, 170_000])
    return Fault(mode, signal, draw.randint(0, 200), by_ps, draw.choice([1, 0.3, 0.03]), other)


def inverted_throughout(plant: Plant, fault: Fault) -> bool:
    """No capture can tell such a board from an inverted lead."""
    before = fault.since <= max(0, -plant.offset_cycles) + 1
    return fault.mode in ("inverted", "intermittent") and fault.share == 1 and before


@pytest.mark.parametrize("pairs", [16, pytest.param(400, marks=pytest.mark.long)])
def test_no_sound_and_no_faulty_board_is_called_badly_probed(pairs):
    draw = Random(2024)
    clean = faulty = 0
    while clean + faulty < pairs:
        plant = bench(draw)
        if draw.random() < 0.3:
            clean += 1
            assert accused(checked(plant.clean())) == [], plant
            continue
        fault = drawn_fault(draw, plant)
        if inverted_throughout(plant, fault):
            continue
        faulty += 1
        spreads = fault.mode in PROPAGATING and fault.signal in SIGNALS[2:6] and draw.random() < 0.5
        assert accused(checked(plant.faulty(fault, propagate=spreads))) == [], (plant, fault)
    assert min(clean, faulty) > pairs // 5


@pytest.mark.parametrize("seed", FEW_SEEDS)
def test_every_pair_of_swapped_leads_is_found_with_its_correction(seed):
    draw = Random(seed)
    for _ in range(6):
        plant = bench(draw)
        a, b = draw.sample(plant.signals, 2)
        (line,) = accused(checked(plant.clean(), {a: b, b: a}))
        assert line.topic == "swapped"
        assert line.swap is not None
        assert set(line.swap) == {a, b}
        assert line.sure > 0.5
        assert f"lead {a} reads good {b} in" in line.text.replace("Lead", "lead")
        assert f"lead {b} reads good {a} in" in line.text.replace("Lead", "lead")


@pytest.mark.parametrize("seed", FEW_SEEDS)
def test_every_inverted_lead_is_found(seed):
    draw = Random(100 + seed)
    for _ in range(6):
        plant = bench(draw)
        signal = draw.choice(plant.signals)
        (line,) = accused(checked(plant.clean(), inverted=(signal,)))
        assert (line.topic, line.signals, line.kind) == ("inverted", (signal,), "look")
        # a board may invert as well: never certain
        assert 0.3 < line.sure < 0.95


@pytest.mark.parametrize("seed", FEW_SEEDS)
def test_every_block_of_leads_one_place_off_is_found(seed):
    draw = Random(200 + seed)
    for _ in range(6):
        plant = replace(bench(draw), signals=SIGNALS)
        length = draw.randint(2, len(SIGNALS) - 1)
        start = draw.randint(0, len(SIGNALS) - 1 - length)
        block = SIGNALS[start : start + length + 1]
        one_further = draw.random() < 0.5
        reads = dict(pairwise(block) if one_further else pairwise(reversed(block)))
        (line,) = accused(checked(plant.clean(), reads))
        assert line.topic == "one off"
        assert dict(line.moves) == reads


@pytest.mark.parametrize("signal", thinned(SIGNALS, 3))
def test_a_lead_swapped_with_the_clock_is_found_although_nothing_lines_up(signal):
    (line,) = accused(checked(Plant(8, cycles=900).clean(), {CLOCK: signal, signal: CLOCK}))
    assert line.topic == "swapped"
    assert set(line.swap or ()) == {CLOCK, signal}
    assert f"Lead {signal} ticks like the clock" in line.text


def test_a_whole_plug_one_place_off_is_found_with_the_clock_in_it():
    leads = (CLOCK, *SIGNALS)
    reads = dict(pairwise(reversed(leads)))
    (line,) = accused(checked(Plant(8, cycles=900).clean(), reads | {CLOCK: ""}))
    assert line.topic == "one off"
    assert dict(line.moves) == reads
    # the other way nothing is left on the clock
    reads = dict(pairwise(leads)) | {leads[-1]: ""}
    (line,) = accused(checked(Plant(8, cycles=900).clean(), reads))
    assert line.topic == "clock"
    assert "ticks like" in line.text


def test_three_leads_in_a_ring_are_named_as_such():
    reads = {"D01": "ADDR00", "ADDR00": "SEQ2", "SEQ2": "D01"}
    (line,) = accused(checked(Plant(8, cycles=900).clean(), reads))
    assert (line.topic, dict(line.moves), line.swap) == ("ring", reads, None)


def test_all_leads_inverted_are_one_line_and_no_swaps():
    (line,) = accused(checked(Plant(8, cycles=900).clean(), inverted=SIGNALS))
    assert line.topic == "inverted"
    assert set(line.signals) == set(SIGNALS)


@pytest.mark.parametrize("rate", [24, 50, 100])
def test_an_inverted_clock_lead_is_found_by_delays_that_are_all_half_a_cycle(rate):
    plant = Plant(8, cycles=900, good_rate_hz=Fraction(rate * 10**6), suspect_rate_hz=Fraction(rate * 10**6))
    (line,) = accused(checked(plant.clean(), inverted=(CLOCK,)))
    assert (line.topic, line.signals) == ("clock", (CLOCK,))


def test_a_swap_is_seen_through_a_fault_that_comes_later():
    pair = Plant(5, cycles=1500).faulty(Fault("stuck low", "D03", 600))
    (line,) = accused(checked(pair, {"D02": "D03", "D03": "D02"}))
    assert set(line.swap or ()) == {"D02", "D03"}
    assert "Up to cycle" in line.text


@pytest.mark.parametrize("seed", [*range(4), *(pytest.param(s, marks=pytest.mark.long) for s in range(4, 12))])
def test_another_program_is_told_from_a_faulty_board(seed):
    plant = Plant(seed + 1, cycles=900)
    other = replace(plant, seed=seed + 100)
    pair = replace(plant.clean(), suspect=other.clean().suspect)
    (line,) = accused(checked(pair))
    assert (line.topic, line.kind) == ("program", "bad")
    assert "Another program" in line.text


@pytest.mark.parametrize("since", [0, 10, 300])
def test_a_machine_that_stops_runs_no_other_program(since):
    pair = Plant(5, cycles=900).clean()
    good, suspect = pair.good.capture(), pair.suspect.capture()
    at = int(suspect.stop_ps * since / 900)
    stopped = {
        s: t if s == CLOCK else DigitalTrace(t.times_ps[: (n := max(1, int(t.times_ps.searchsorted(at))))].copy(),
                                              t.levels[:n].copy(), t.stop_ps)
        for s, t in suspect.digital.items()
    }  # fmt: skip
    halted = Capture("suspect", stopped, {}, suspect.resolution_ps, "built")
    assert accused(check_pair(compare(CompareRequest((good,), (halted,), pair.sheet, clock=CLOCK)))) == []


@pytest.mark.parametrize(
    ("good_mhz", "suspect_mhz", "kind", "which"),
    [
        (Fraction(10), Fraction(10), None, ""),
        (Fraction(8), Fraction(8), "look", "both captures"),
        (Fraction(3), Fraction(50), "look", "the good capture"),
        (Fraction(100), Fraction(4), "look", "the suspect capture"),
        (Fraction(3), Fraction(3), "bad", "both captures"),
    ],
)
def test_skew_that_cannot_be_read_is_said_with_the_rate_that_would_do(good_mhz, suspect_mhz, kind, which):
    """A clock of 1 MHz: the sum of both sample periods against a cycle of 1 us."""
    plant = Plant(
        4, cycles=900, period_ps=1_000_000, good_rate_hz=good_mhz * 10**6, suspect_rate_hz=suspect_mhz * 10**6
    )
    lines = [line for line in checked(plant.clean()) if line.topic == "skew"]
    assert [line.kind for line in lines] == ([kind] if kind else [])
    if lines:
        assert f"Take {which} again at 10 MHz or more" in lines[0].do


@pytest.mark.parametrize("name", thinned(CASES, 3))
def test_the_demo_cases_are_well_probed(name):
    case = CASES[name]
    good, suspect = read_capture(case.good[0]), read_capture(case.suspect[0])
    request = CompareRequest((good,), (suspect,), read_probe_sheet(case.sheet), clock=case.clock, family=case.family)
    (line,) = check_pair(compare(request))
    assert (line.kind, line.topic) == ("fine", "leads")


def test_leads_are_called_by_their_channels_and_the_place_by_the_pins():
    pair = Plant(8, cycles=900).clean()
    # channels in any order, pins in that of the signals
    leads = [CLOCK, *sorted(SIGNALS)]
    sheet = ProbeSheet(tuple(Probe(str(i), s, "7", f"A{(CLOCK, *SIGNALS).index(s) + 1}") for i, s in enumerate(leads)))
    sides = []
    for side, reads in ((pair.good, {}), (pair.suspect, {"D00": "D01", "D01": "D02", "D02": "D03"})):
        held = reclipped(side.capture(), reads)
        sides.append(
            Capture(side.name, {str(i): held.digital[s] for i, s in enumerate(leads)}, {}, held.resolution_ps, "built")
        )
    (line,) = accused(check_pair(compare(CompareRequest((sides[0],), (sides[1],), sheet, clock=CLOCK))))
    assert line.topic == "one off"
    number = {s: str(i) for i, s in enumerate(leads)}
    assert line.moves == tuple((number[a], number[b]) for a, b in (("D00", "D01"), ("D01", "D02"), ("D02", "D03")))
    assert f"{number['D00']} (D00)" in line.text


def test_a_pair_without_a_clock_or_cycles_gives_no_opinion_on_leads():
    short = Plant(8, cycles=20, offset_cycles=0).clean()
    assert accused(checked(short)) == []


def test_agreement_by_words_is_agreement_cycle_by_cycle():
    rng = np.random.default_rng(7)
    for cycles in (1, 63, 64, 65, 300):
        good, suspect = rng.integers(0, 3, (2, 5, cycles)).astype(np.uint8)
        found = Readings(tuple("ABCDE"), good, suspect, np.arange(cycles)).agreement()
        for i, j in np.ndindex(5, 5):
            both = [(a, b) for a, b in zip(suspect[i].tolist(), good[j].tolist(), strict=True) if 2 not in (a, b)]
            assert found[i, j] == pytest.approx(sum(a == b for a, b in both) / len(both) if both else 0.5)


def test_how_sure_is_said_in_words_and_per_cent():
    def words(sure: float) -> str:
        return PairLine("look", "leads", "", sure, "").sure_words

    shown = [words(s) for s in (1.0, 0.999, 0.9, 0.7, 0.3)]
    assert shown == ["certain (100 %)", "certain (99 %)", "very likely (90 %)", "likely (70 %)", "perhaps (30 %)"]


def test_the_bound_is_wilsons():
    """Wilson's bound of 10 of 10 at 95 % both sides is n / (n + z^2) with z = 1.96: 0.7225, by hand."""
    assert lower_bound(10, 10) == pytest.approx(10 / (10 + 1.959964**2), abs=1e-6)
    assert lower_bound(0, 0) == 0
