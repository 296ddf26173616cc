"""Small made-up boards, and for each code of a notice a pair, or more captures, from which it arises."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np

from tests.measure.test_clock_derived import uneven_strobe
from tests.plant import CLOCK, Fault, Plant
from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64, UInt8, digital_trace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.circuit.wire_list import parse_wire_list
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.measure.clock import cycle_states
from tracecore.own_names import EACH_ROW
from tracecore.readers.traces.cycle_rows import by_cycles

NAMES = tuple("ABCDEFGH")
SAMPLES, STEP_PS = 10, 25_000
WIRES = "part,kind,output,inputs\n"


def states(seed: int, cycles: int = 600) -> UInt8:
    """Random states uint8[8, cycles]: no stretch of them fits anywhere else."""
    return np.random.default_rng(seed).integers(0, 2, (len(NAMES), cycles)).astype(np.uint8)


def board(
    rows: UInt8,
    name: str = "north",
    *,
    samples: int = SAMPLES,
    step_ps: int = STEP_PS,
    before: int = 0,
    after: int = 0,
    names: tuple[str, ...] = NAMES,
    clock: bool = True,
) -> Capture:
    """A capture of a board that shows ``rows``, a state a cycle, on the rising edges of CK; the clock is still for
    ``before`` and ``after`` cycles at the ends."""
    cycles = rows.shape[1]
    lasts = samples * step_ps
    edges = np.arange(before, before + cycles + 1, dtype=np.int64) * lasts
    stop = (before + cycles + after + 1) * lasts
    traces = {}
    if clock:
        times = np.ravel(np.column_stack((edges, edges + (samples // 2) * step_ps)))
        traces["CK"] = trace(np.append(-1, times), np.append(0, np.tile([1, 0], len(edges))), stop)
    for signal, row in zip(names, rows, strict=True):
        traces[signal] = trace(np.append(-1, edges[:-1] + step_ps), np.append(row[0], row), stop)
    return Capture(name, traces, {}, step_ps, "sampled rows")


def trace(times_ps: Int64, levels: UInt8 | Int64, stop_ps: int) -> DigitalTrace:
    """From entries of which the first stands for the start of the capture."""
    at = np.maximum(np.asarray(times_ps, np.int64), 0)
    own = np.asarray(levels, np.uint8)
    keep = np.append(at[1:] != at[:-1], True)
    return digital_trace(at[keep], own[keep], stop_ps)


def renamed(capture: Capture, reads: dict[str, str]) -> Capture:
    """The same capture with some channels showing what others showed."""
    return replace(capture, digital={s: capture.digital[reads.get(s, s)] for s in capture.digital})


def with_trace(capture: Capture, signal: str, own: DigitalTrace) -> Capture:
    """One trace changed or added."""
    return replace(capture, digital={**capture.digital, signal: own})


def still(capture: Capture, signal: str, level: int = 1) -> Capture:
    """One signal that never moves; level 2 is unknown."""
    stop = next(iter(capture.digital.values())).stop_ps
    return with_trace(capture, signal, digital_trace(np.array([0]), np.array([level], np.uint8), stop))


def flipped(capture: Capture, signal: str) -> Capture:
    """One signal inverted."""
    own = capture.digital[signal]
    return with_trace(capture, signal, DigitalTrace(own.times_ps, (1 - own.levels).astype(np.uint8), own.stop_ps))


A, B = states(1), states(2)
GOOD, SAME = board(A), board(A, "south")
FINER = board(A, "south", samples=10 * SAMPLES, step_ps=STEP_PS // 10)
"""The same board, sampled ten times as fast."""
HASHED = replace(SAME, sha256="1" * 64)
CUT = "The last row (line 9) may be cut short and is left out."
HANGS = np.concatenate((A[:, :440], np.repeat(A[:, 440:441], 160, axis=1)), axis=1)
LOOP = np.tile(states(3, 16), (1, 40))
PLANT = Plant(7, cycles=600)
ONE_RUN = PLANT.again(0).capture()


def compared(
    good: Capture | tuple[Capture, ...], suspect: Capture | tuple[Capture, ...], wires: str = "", **settings: object
) -> Comparison:
    """Both sides compared."""
    sides = [own if isinstance(own, tuple) else (own,) for own in (good, suspect)]
    wire_list = parse_wire_list(WIRES + wires) if wires else None
    return compare(CompareRequest(*sides, wire_list=wire_list, **{"clock": "CK", **settings}))  # type: ignore[arg-type]


def _slipping() -> Capture:
    return board(np.concatenate((A[:, :300], A[:, 299:300], A[:, 299:300], A[:, 300:]), axis=1), "south")


def _low_from(cycle: int) -> Capture:
    """D stands low from a cycle on."""
    rows = A.copy()
    rows[3, cycle:] = 0
    return board(rows, "south")


def pulses_on_c(cycles: range, samples: int = 2, of: Capture = SAME, at: int = 4) -> Capture:
    """In each of some cycles C makes a pulse of so many of its samples, in the middle, or ``at`` so many tenths."""
    return with_pulses_on("C", cycles, samples, of, at)


def with_pulses_on(signal: str, cycles: range, samples: int = 2, of: Capture = SAME, at: int = 4) -> Capture:
    """The same on any signal."""
    own = of.digital[signal]
    begins = (np.array(cycles) + 1) * SAMPLES * STEP_PS + at * STEP_PS
    times = np.concatenate((own.times_ps, begins, begins + samples * of.resolution_ps))
    held = own.level_at(begins)
    levels = np.concatenate((own.levels, 1 - held, held)).astype(np.uint8)
    order = np.argsort(times, kind="stable")
    return with_trace(of, signal, digital_trace(times[order], levels[order], own.stop_ps))


def _settling() -> Comparison:
    """In some cycles D makes a short pulse on both sides, and in two of them C makes the same one on one side."""
    good, suspect = (with_pulses_on("D", range(50, 80), of=side) for side in (GOOD, SAME))
    return compared(good, pulses_on_c(range(50, 52), of=suspect))


def _late_once() -> Comparison:
    """C makes short pulses elsewhere, and one transition comes late by no more than one of these may hide."""
    good, suspect = (pulses_on_c(range(100, 130), of=side, at=7) for side in (GOOD, SAME))
    own = suspect.digital["C"]
    times = own.times_ps.copy()
    times[200] += 75_000
    return compared(good, with_trace(suspect, "C", digital_trace(times, own.levels, own.stop_ps)))


def _barely_off() -> Comparison:
    own = SAME.digital["C"]
    times = own.times_ps.copy()
    times[200] += 70_000
    return compared(GOOD, with_trace(SAME, "C", digital_trace(times, own.levels, own.stop_ps)))


def _odd_good() -> Comparison:
    good = tuple(PLANT.again(run).capture() for run in range(4))
    odd = PLANT.again(9, fault=Fault("stuck low", "READ", since=200)).capture()
    return compared((*good, odd), PLANT.again(50).capture(), clock=CLOCK)


def _two_apart() -> Comparison:
    odd = PLANT.again(9, fault=Fault("stuck low", "READ", since=200)).capture()
    return compared((PLANT.again(0).capture(), odd), PLANT.again(50).capture(), clock=CLOCK)


def _replaced_reference() -> Comparison:
    odd = PLANT.again(9, fault=Fault("stuck low", "READ", since=200)).capture()
    good = tuple(PLANT.again(run).capture() for run in range(3))
    return compared((odd, *good), PLANT.again(50).capture(), clock=CLOCK)


def _odd_reference() -> Comparison:
    """Each of three has a fault of its own."""
    odd = [PLANT.again(run, fault=Fault("stuck low", s, since=200)) for run, s in enumerate(("READ", "D01", "D02"))]
    return compared(tuple(side.capture() for side in odd), PLANT.again(50).capture(), clock=CLOCK)


def _steadily_off() -> Comparison:
    good = tuple(PLANT.again(run).capture() for run in range(4))
    own = PLANT.again(51).capture()
    late = own.digital["D01"]
    times = np.append(late.times_ps[:1], late.times_ps[1:] + 45_000)
    moved = digital_trace(times, late.levels, int(max(late.stop_ps, times[-1])))
    return compared(good, with_trace(own, "D01", moved), clock=CLOCK)


def without(capture: Capture, *names: str) -> Capture:
    """The same capture without some channels."""
    return replace(capture, digital={s: t for s, t in capture.digital.items() if s not in names})


def _teaches_nothing() -> Comparison:
    good, other, suspect = (without(PLANT.again(run).capture(), CLOCK) for run in range(3))
    few = without(other, *(s for s in other.channels if s.startswith("ADDR")))
    return compared((good, few), suspect, clock="any transition")


def _rough() -> Comparison:
    good = Capture("north", uneven_strobe(1), {}, 10_000, "sampled rows")
    return compared(good, replace(good, name="south"), clock=None)


def _bursts() -> Comparison:
    return compared(*(replace(c, digital={s: c.digital[s] for s in NAMES}) for c in (GOOD, SAME)), clock=None)


def _by_rows(capture: Capture) -> Capture:
    """The same states, as the board's own clock took them."""
    rows = np.stack([cycle_states(capture.digital[n], np.arange(1, 600) * 250_000, 1) for n in NAMES])
    at = np.arange(rows.shape[1], dtype=np.int64) * 1_000_000
    traces = {n: digital_trace(at, row, rows.shape[1] * 1_000_000) for n, row in zip(NAMES, rows, strict=True)}
    return by_cycles(Capture(capture.name, traces, {}, 1_000_000, "sampled rows"), None)


def _never_seen() -> Comparison:
    """Three cycles more, in which E is high; on the good side it never is."""
    quiet = A.copy()
    quiet[4] = 0
    inserted = np.repeat(quiet[:, 299:300], 3, axis=1)
    inserted[4] = 1
    return compared(board(quiet), board(np.concatenate((quiet[:, :300], inserted, quiet[:, 300:]), axis=1), "south"))


def _in_volts(capture: Capture, names: str = "A", low: float = 0.2, high: float = 3.4, scale: float = 1.0) -> Capture:
    """These signals are seen by a scope beside the logic, a little noise included."""
    traces = {}
    for name in names:
        own = capture.digital[name]
        at = np.arange(own.stop_ps // STEP_PS, dtype=np.int64) * STEP_PS
        noise = np.random.default_rng(11).normal(0, 0.01, len(at))
        volts = (np.where(own.level_at(at) == 1, high, low) + noise) * scale
        traces[name] = AnalogTrace(0, Fraction(STEP_PS), volts.astype(np.float32))
    rest = {name: t for name, t in capture.digital.items() if name not in names}
    return replace(capture, digital=rest, analog=traces)


def _late_setup() -> Comparison:
    """A changes 10 ns before the next edge, where a 7474 wants 20 ns; seen to 5 ns, in cycles that only the suspect
    has."""
    good, same = board(A[:, 12:], samples=50, step_ps=5_000), board(A, "south", samples=50, step_ps=5_000)
    own = same.digital["A"]
    times = own.times_ps.copy()
    early = (times > 0) & (times < 8 * 250_000)
    times[early] += 235_000
    moved = DigitalTrace(times, own.levels.copy(), own.stop_ps)
    suspect = replace(same, digital={**same.digital, "A": moved})
    return compare(CompareRequest((good,), (suspect,), ProbeSheet((Probe("A", "A", into="7474"),)), clock="CK"))


def _came_up() -> Comparison:
    """A and B stand still, and on the suspect otherwise, until they move first."""
    good, suspect = A.copy(), A.copy()
    good[:2, :60], suspect[:2, :60] = 0, 1
    return compared(board(good), board(suspect, "south"))


RECIPES: dict[str, Callable[[], Comparison]] = {
    "no_lineup": lambda: compared(GOOD, board(B, "south")),
    "doubtful_lineup": lambda: compared(board(LOOP), board(LOOP[:, 5:], "south")),
    "no_clock": lambda: compared(GOOD, still(SAME, "CK")),
    "clock_stops": lambda: compared(GOOD, board(A[:, :400], "south", after=200)),
    "good_clock_stops": lambda: compared(board(A[:, :400], after=200), SAME),
    "both_clocks_stop": lambda: compared(board(A, after=60), board(A, "south", after=50)),
    "clock_starts_late": lambda: compared(GOOD, board(A, "south", before=50)),
    "ends_not_compared": lambda: compared(GOOD, board(A[:, 12:], "south")),
    "too_little_compared": lambda: compared(board(A), board(np.concatenate((A[:, 400:], B[:, :400]), axis=1), "south")),
    "still_at_the_end": lambda: compared(
        board(A[:, :400]), board(np.concatenate((A[:, :440], HANGS), axis=1), "south")
    ),
    "slips": lambda: compared(GOOD, _slipping()),
    "contents_differ": _came_up,
    "never_seen": _never_seen,
    "other_capture_slips": lambda: compared((GOOD, board(A, "north 2")), (SAME, replace(_slipping(), name="south 2"))),
    "capture_not_compared": lambda: compared(GOOD, (SAME, board(B, "south 2"))),
    "good_capture_unused": lambda: compared((GOOD, board(B, "north 2")), SAME),
    "good_capture_odd": _odd_good,
    "reference_odd": _odd_reference,
    "reference_replaced": _replaced_reference,
    "good_captures_disagree": _two_apart,
    "teaches_nothing": _teaches_nothing,
    "bursts_count": _bursts,
    "rough_clock": _rough,
    "missed_states": lambda: compared(board(A, samples=2), board(A, "south", samples=2)),
    "row_is_cycle": lambda: compared(_by_rows(GOOD), _by_rows(SAME), clock=EACH_ROW),
    "slow_sampling": lambda: compared(board(A, samples=3), board(A, "south", samples=3)),
    "clock_rates_differ": lambda: compared(GOOD, board(A, "south", step_ps=27_000)),
    "left_out": lambda: compared(GOOD, SAME, qualifier="A && B"),
    "left_out_signal": lambda: compared(GOOD, SAME, qualifier="D"),
    "left_out_unlike": lambda: compared(GOOD, _low_from(300), qualifier="D == 0"),
    "one_side_only": lambda: compared(still(GOOD, "IRQ"), SAME),
    "lacks_signals": lambda: compared(GOOD, without(SAME, "C")),
    "sheet_row_unused": lambda: compare(
        CompareRequest((GOOD,), (SAME,), ProbeSheet((Probe("CH12", "IRQ"),)), clock="CK")
    ),
    "short_pulses": lambda: compared(GOOD, pulses_on_c(range(50, 56), at=3)),
    "short_pulses_out_of_place": lambda: compared(GOOD, pulses_on_c(range(50, 53))),
    "short_pulses_may_hide": _late_once,
    "short_pulses_settling": _settling,
    "barely_off": _barely_off,
    "short_pulses_finer": lambda: compared(GOOD, pulses_on_c(range(50, 80), 4, FINER)),
    "short_pulses_one_side": lambda: compared(GOOD, pulses_on_c(range(50, 450))),
    "too_still": lambda: compared(still(GOOD, "IRQ"), still(SAME, "IRQ")),
    "undecided": lambda: compared(GOOD, still(SAME, "H", 2)),
    "steadily_off": _steadily_off,
    "file_note": lambda: compared(GOOD, replace(SAME, notes=(CUT,))),
    "wire_list_foreign": lambda: compared(GOOD, SAME, "U1,gate,Y,X Z\n"),
    "wire_list_two_drivers": lambda: compared(GOOD, SAME, "U1,gate,A,B\nU2,gate,A,C\n"),
    "same_bytes": lambda: compared(GOOD, (HASHED, board(A, "again"), HASHED)),
    "same_run": lambda: compared(ONE_RUN, replace(ONE_RUN, name="south"), clock=CLOCK),
    "self_test": lambda: compared(replace(GOOD, sha256="2" * 64), replace(GOOD, sha256="2" * 64), same_file=True),
    "swapped_leads": lambda: compared(GOOD, renamed(SAME, {"A": "B", "B": "A"})),
    "leads_in_a_ring": lambda: compared(GOOD, renamed(SAME, {"A": "C", "C": "F", "F": "A"})),
    "leads_one_off": lambda: compared(GOOD, renamed(SAME, {"B": "C", "C": "D", "D": "E", "E": "F", "F": "G"})),
    "inverted_leads": lambda: compared(GOOD, flipped(SAME, "C")),
    "clock_lead": lambda: compared(GOOD, still(SAME, "CK")),
    "other_program": lambda: compared(GOOD, board(B, "south")),
    "volts_spoilt": lambda: compared(_in_volts(GOOD), _in_volts(SAME, scale=0.1)),
    "levels_shifted": lambda: compared(_in_volts(GOOD, "ABC"), _in_volts(SAME, "ABC", low=0.5, high=3.7)),
    "margin_short": lambda: compared(_in_volts(GOOD), _in_volts(SAME, low=0.6)),
    "limit_missed": _late_setup,
    "coarse_timing": lambda: compared(board(A, samples=6), board(A, "south", samples=6)),
}
"""By code. Whoever adds a code adds its recipe."""
