"""A missed setup, hold or pulse duration is a finding with a cause, in the comparison and in what is written of it."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from app.report.divergences import divergences_csv
from app.report.record import comparison_json
from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.request import CompareRequest
from tracecore.compare.timing_limits import entered_limits, limits_into
from tracecore.comparison import Comparison, compare
from tracecore.errors import RequestError

NS, PERIOD, CYCLES = 1000, 250_000, 600
CHANCE = np.random.default_rng(5)
WORDS = CHANCE.integers(0, 2, (3, CYCLES)).astype(np.uint8)


def board(name: str, delays_ns: dict[int, float] | None = None, usual_ns: float = 225, skip: int = 0) -> Capture:
    """CK at 4 MHz seen to 1 ns, and three signals; D0 changes so long after the edge, at some cycles otherwise."""
    stop = (CYCLES + 1) * PERIOD
    half = np.arange(2 * CYCLES) * (PERIOD // 2) + PERIOD // 2
    traces = {"CK": DigitalTrace(np.append(0, half), np.arange(len(half) + 1, dtype=np.uint8) % 2, stop)}
    for k in range(3):
        delay = np.full(CYCLES, usual_ns if k == 0 else 60.0)
        for cycle, own in (delays_ns or {}).items() if k == 0 else ():
            delay[cycle] = own
        at = PERIOD // 2 + np.arange(CYCLES) * PERIOD + (delay * NS).astype(np.int64)
        moves = np.flatnonzero(np.diff(WORDS[k], prepend=WORDS[k][0]))
        traces[f"D{k}"] = DigitalTrace(np.append(0, at[moves]), np.append(WORDS[k][0], WORDS[k][moves]), stop)
    if skip:
        begin = skip * PERIOD
        for n, t in traces.items():
            kept = t.times_ps > begin
            first = t.level_at(np.array([begin]))
            times = np.append(0, t.times_ps[kept] - begin)
            traces[n] = DigitalTrace(times, np.append(first, t.levels[kept]), stop - begin)
    return Capture(name, traces, {}, NS, "rows")


def compared(good: Capture, suspect: Capture, into: str = "7474") -> Comparison:
    return compare(CompareRequest((good,), (suspect,), ProbeSheet((Probe("D0", "D0", into=into),)), clock="CK"))


MOVES = np.flatnonzero(np.diff(WORDS[0])) + 1


def test_a_setup_missed_within_the_tolerance_is_a_finding_with_a_cause() -> None:
    at = int(MOVES[40])
    found = compared(board("north"), board("south", {at: 236.0}))
    finding = found.signal("D0")
    assert (finding.verdict, finding.fault_kind) == ("diverges", "setup missed")
    assert finding.first_divergence.cycle == at
    assert finding.diverging_cycles.tolist() == [at]
    assert found.outcome.word == "diverges"
    cause = found.causes[0]
    assert (cause.signal, cause.fault_mode) == ("D0", "setup missed by 6 ns")
    assert "1 transition misses the setup of 20 ns that 7474 needs: 14 ns" in cause.because[0]
    assert "the known-good side leaves 25 ns or more" in cause.because[0]
    assert "together, at the pins of 7474" in cause.probe_next
    assert dict(cause.readings)["Seen in"] == "1 of 1 suspect captures"
    assert [own.diverges for own in found.captures] == [frozenset({"D0"})]
    assert not [n for n in found.notices if n.code == "limit_missed"]


def test_what_the_good_side_misses_too_is_none() -> None:
    found = compared(board("north", usual_ns=235), board("south", usual_ns=235.5))
    assert found.signal("D0").verdict == "agrees"
    assert found.outcome.word == "agrees"
    # one more is no finding where the good side shows one in three
    rare = {int(c): 236.0 for c in MOVES[:2]}
    assert compared(board("north", rare), board("south", rare)).signal("D0").verdict == "agrees"


def test_nearer_than_a_sample_nothing_is_said() -> None:
    found = compared(board("north"), board("south", {int(MOVES[40]): 230.5}))
    assert found.signal("D0").verdict == "agrees"


def test_a_late_signal_says_what_it_misses_besides() -> None:
    at = int(MOVES[40])
    found = compared(board("north", usual_ns=100), board("south", {at: 240.0}, usual_ns=100))
    cause = found.causes[0]
    assert cause.fault_kind == "late"
    assert any("misses the setup of 20 ns" in because for because in cause.because)


def test_hold_is_found_and_entered_limits_serve() -> None:
    at = int(MOVES[9])
    found = compared(board("north", usual_ns=12), board("south", {at: 3.0}, usual_ns=12), "setup=20 ns hold=8 ns")
    assert found.signal("D0").fault_kind == "hold missed"
    assert "that the limit (entered by hand) needs" in found.causes[0].because[0]


def test_it_is_in_the_csv_and_in_the_json() -> None:
    at = int(MOVES[40])
    found = compared(board("north"), board("south", {at: 236.0}))
    (row,) = csv.DictReader(io.StringIO(divergences_csv(found)))
    assert (row["signal"], row["fault_mode"], row["first_cycle"]) == ("D0", "setup missed by 6 ns", str(at))
    assert (row["good_setup_ps"], row["suspect_setup_ps"], row["setup_needed_ps"]) == ("25000", "14000", "20000")
    assert row["good_low_margin_v"] == ""
    signals = {s["signal"]: s for s in json.loads(comparison_json(found))["signals"]}
    assert signals["D1"]["limits"] is None
    assert signals["D0"]["margins"] is None
    setup = [r for r in signals["D0"]["limits"]["readings"] if r["what"] == "setup"]
    assert [(r["side"], r["smallest_ps"], r["verdict"]) for r in setup] == [
        ("good", 25_000, "within"),
        ("suspect", 14_000, "violates"),
    ]
    assert setup[1]["cycle"] == at


def test_cycles_are_those_of_the_good_side_where_the_suspect_begins_later() -> None:
    at = int(MOVES[60])
    found = compared(board("north"), board("south", {at: 236.0}, skip=12))
    assert found.lineup.offset_cycles == -12
    assert found.signal("D0").diverging_cycles.tolist() == [at]


def test_limits_are_of_pins_and_typed() -> None:
    clear = limits_into("7474 CLR_n", "rising")
    assert (clear.setup_ps, clear.low_ps, clear.high_ps) == (None, 30_000, None)
    assert limits_into("7474", "rising").low_ps is None
    own = entered_limits("setup=20 ns, hold=-2 ns low=37ns")
    assert own is not None
    assert (own.setup_ps, own.hold_ps, own.low_ps, own.high_ps) == (20_000, -2_000, 37_000, None)
    for text, words in (
        ("setup=20", "cannot be read"),
        ("setup=20 ns hold=-20 ns", "leave no window"),
        ("setup=20 ns later", "cannot be read"),
        ("low=-3 ns", "a pulse lasts longer"),
    ):
        with pytest.raises(RequestError, match=words):
            entered_limits(text)


def test_a_short_clear_is_found() -> None:
    """The TI sheet SDLS119 wants 30 ns low at a 7474's clear."""
    sides = []
    for capture, short in ((board("north"), 34), (board("south"), 25)):
        starts = PERIOD * np.arange(20, 500, 40) + 150 * NS
        lasts = np.full(len(starts), 34 * NS)
        lasts[5] = short * NS
        times = np.stack((starts, starts + lasts), axis=1).ravel()
        levels = np.append(1, np.tile([0, 1], len(starts))).astype(np.uint8)
        clear = DigitalTrace(np.append(0, times), levels, (CYCLES + 1) * PERIOD)
        sides.append(replace(capture, digital={**capture.digital, "D0": clear}))
    found = compared(*sides, "7474 CLR_n")
    assert found.causes[0].fault_mode == "short pulse, 25 ns"
    assert "misses the low pulse duration of 30 ns that 7474 CLR_n needs" in found.causes[0].because[0]
