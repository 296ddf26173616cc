"""What one compared capture counts for, among many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.clock_finding import clock_cycles
from tracecore.compare.divergence import Limits
from tracecore.compare.envelope import Shift
from tracecore.compare.pair import PairFindings
from tracecore.compare.unaligned import compare_unaligned
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.slips import slip_count
from tracecore.lineup.time_map import TimeMap
from tracecore.repeats.table import CaptureOutcome


def outcome_of(pair: PairFindings, name: str, good_slips: Sequence[int] = ()) -> CaptureOutcome:
    """The outcome of a pair that lined up; what varies among good captures is taken off it before. ``good_slips`` are
    how many slips each further known-good capture shows."""
    return outcome_of_each(pair.lineup, pair.limits, [pair], name, good_slips, pair.clocks)


def outcome_without_lineup(
    good: CaptureSignals, suspect: CaptureSignals, clocks: ClockPair | None
) -> CaptureOutcome | None:
    """The outcome of a capture that does not line up, of what needs no line-up: its clock, and signals that are dead,
    but for those that the instrument spoilt. None where nothing is known that way, or where leads may be swapped with
    the clock's."""
    if clocks is not None and clocks.ticks_instead:
        return None
    clock = clocks.signal if clocks is not None else ""
    wrong = dict.fromkeys([clock] if clocks is not None and clocks.faults else [])
    wrong |= dict.fromkeys(compare_unaligned(good.traces, suspect.traces, (clock,)))
    wrong = {signal: None for signal in wrong if good.believed(signal) and suspect.believed(signal)}
    if not wrong:
        return None
    own, first = frozenset(wrong), next(iter(wrong))
    # nothing tells which of the dead ones was first; the clock is, where it is wrong
    also = frozenset() if first == clock else own - {first}
    return CaptureOutcome(suspect.capture.name, diverges=own, first=first, compared=own, also_first=also)


def outcome_of_each(
    lineup: Lineup,
    limits: Limits,
    parts: Iterable[PairFindings],
    name: str,
    good_slips: Sequence[int] = (),
    clocks: ClockPair | None = None,
) -> CaptureOutcome:
    """The same of a pair that comes in parts, each with some of its signals; no part is kept. The clock is
    one of the signals where both sides' clocks were compared, but alone it makes no capture count, unless it is wrong.
    """
    compared: set[str] = set()
    first_at: dict[str, tuple[int, int]] = {}
    wrong_cycles: dict[str, int] = {}
    shifted: dict[str, Shift] = {}
    for part in parts:
        judged = {s for s, found in part.found.items() if found.compared or len(found.ties.good_ps)} - part.noisy
        compared |= judged
        for signal in part.all_wrong & judged:
            first_at[signal] = _first(part, signal)
            wrong_cycles[signal] = len(part.found[signal].cycles)
        for signal in judged - part.all_wrong:
            if (shift := part.steadily_off(signal)) is not None:
                shifted[signal] = shift
    if clocks is not None and clocks.faults:
        compared.add(clocks.signal)
        cycles, at = clock_cycles(clocks, lineup)
        first_at[clocks.signal] = (at.good_ps, at.cycle)
        wrong_cycles[clocks.signal] = len(cycles)
    if not compared:
        return CaptureOutcome(name, reason="Nothing could be judged: every signal is undecided or left out.")
    if clocks is not None and not clocks.ticks_instead:
        compared.add(clocks.signal)
    slips = slip_count(lineup.slips)
    tells = slips is not None and slips.tells(good_slips)
    plain = CaptureOutcome(
        name,
        compared=frozenset(compared),
        cycles=lineup.matched_cycles,
        slips=slips,
        slips_tell=tells,
        shifted=tuple(sorted(shifted.items(), key=lambda own: (-abs(own[1].by_ps), own[0]))),
    )
    if not first_at:
        return plain
    # the earliest first, and of several at one instant the one that is wrong more often
    first = min(first_at, key=lambda s: (first_at[s][0], -wrong_cycles[s], s))
    at_ps, cycle = first_at[first]
    near = frozenset(s for s, at in first_at.items() if s != first and at[0] - at_ps <= limits.uncertainty_ps)
    return replace(plain, diverges=frozenset(first_at), first=first, first_cycle=cycle, also_first=near)


def _first(pair: PairFindings, signal: str) -> tuple[int, int]:
    """When, on the reference's clock, and in which of its cycles a signal is wrong first, levels and limits
    included."""
    at = []
    if (own := pair.found[signal].first) is not None:
        at.append((own.good_ps, own.cycle))
    if fresh := pair.fresh(signal):
        earliest = min(fresh, key=lambda v: v.start_ps)
        at.append((int(TimeMap(pair.lineup).to_good_ps(np.array([earliest.start_ps]))[0]), int(earliest.cycle or 0)))
    missed = pair.kept[signal].first_missed() if signal in pair.kept else None
    if missed is not None:
        at.append((int(TimeMap(pair.lineup).to_good_ps(np.array([missed[1]]))[0]), missed[0]))
    return min(at)
