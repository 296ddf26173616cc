"""Captures in, findings out: the one entry for the window, the command line and the tests."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tracecore.compare.board import Board, board
from tracecore.compare.cause_order import Circuit
from tracecore.compare.causes import Seen, Witness, rank_causes
from tracecore.compare.counting import chosen_clock
from tracecore.compare.drift import Drift, drift
from tracecore.compare.fault_modes import name_fault
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.lineup import Lineup
from tracecore.compare.pair import PairFindings, compare_pair
from tracecore.compare.request import CompareRequest, Progress, Stopped
from tracecore.compare.signal_findings import signal_finding, signal_order
from tracecore.compare.violations import new_violations
from tracecore.compare.warnings_told import warnings_told
from tracecore.errors import RequestError
from tracecore.measure.cycle_count import counting_signals

__all__ = ["CaptureSeen", "CompareRequest", "Comparison", "Progress", "Stopped", "compare"]


@dataclass(frozen=True, slots=True)
class CaptureSeen:
    """One suspect capture against the good one that is shown: the signals that differ in it.

    ``compared`` is False where its cycles did not line up; then nothing is known of it.
    """

    name: str
    compared: bool
    diverges: frozenset[str]


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What came out. ``signals`` in the sheet's order, the clock first; ``causes`` best supported first; ``drift`` of
    the suspect's clock against the good one's, None with too few matched cycles."""

    request: CompareRequest
    lineup: Lineup
    signals: tuple[SignalFinding, ...]
    causes: tuple[Cause, ...]
    warnings: tuple[str, ...]
    drift: Drift | None = None
    captures: tuple[CaptureSeen, ...] = ()
    """What each suspect capture showed, in the request's order."""

    @property
    def diverges(self) -> bool:
        """Does any signal diverge, in the pair that is shown or in another suspect capture?"""
        return any(s.verdict == "diverges" for s in self.signals) or any(c.diverges for c in self.captures)

    @property
    def only_elsewhere(self) -> tuple[CaptureSeen, ...]:
        """The captures that differ where the shown pair agrees; empty where it differs too."""
        if any(s.verdict == "diverges" for s in self.signals):
            return ()
        return tuple(c for c in self.captures if c.diverges)

    def signal(self, name: str) -> SignalFinding:
        """The finding of one signal; KeyError where there is none."""
        for finding in self.signals:
            if finding.signal == name:
                return finding
        raise KeyError(name)


def compare(request: CompareRequest, progress: Progress | None = None) -> Comparison:
    """Compares the shown pair in full, and the other captures to count where a signal differs too.

    Raises RequestError where the request itself cannot be met: no capture, no signal in common, a clock or a
    family that is not there. What is wrong with a board is a finding, never an error.
    """
    tell = progress or (lambda share, what: None)
    if not request.good or not request.suspect:
        raise RequestError("A comparison needs at least one known-good and one suspect capture. Add the missing one.")
    total = len(request.good) + len(request.suspect)
    boards = []
    for i, capture in enumerate((*request.good, *request.suspect)):
        tell(0.3 * i / total, f"reading levels of {capture.name}")
        boards.append(board(capture, request.sheet, request.family))
    goods, suspects = boards[: len(request.good)], boards[len(request.good) :]
    clock = chosen_clock(request, goods[0], suspects[0])
    tell(0.3, "lining up")
    shown = compare_pair(goods[0], suspects[0], clock, request, request.offset, tell)
    others = [(s, goods[0]) for s in suspects[1:]], [(g, goods[0]) for g in goods[1:]]
    extra_warnings: list[str] = []
    counted: list[list[PairFindings]] = [[], []]
    lined_up: list[tuple[Board, PairFindings]] = []
    seen = [_seen(suspects[0], shown if shown.lineup else None)]
    for side, pairs in enumerate(others):
        for i, (other, reference) in enumerate(pairs):
            tell(0.8 + 0.15 * (side + i / len(pairs)) / 2, f"comparing {other.capture.name}")
            pair = _other_pair(reference, other, clock, request, extra_warnings)
            if pair is not None:
                counted[side].append(pair)
            if side == 0:
                seen.append(_seen(other, pair))
                lined_up += [(other, pair)] if pair is not None else []
    tell(0.95, "ranking causes")
    result = _assemble(request, goods[0], suspects[0], clock, shown, counted[0], counted[1], extra_warnings)
    result = replace(result, captures=tuple(seen))
    if shown.lineup and result.only_elsewhere:
        result = replace(result, causes=_causes_elsewhere(request, goods[0], clock, shown, lined_up, counted[1]))
    tell(1.0, "done")
    return result


def _causes_elsewhere(
    request: CompareRequest,
    good: Board,
    clock: str,
    shown: PairFindings,
    others: list[tuple[Board, PairFindings]],
    more_goods: list[PairFindings],
) -> tuple[Cause, ...]:
    """What the shown pair does not show: by the first capture that differs, the others only counted."""
    first = next(i for i, (_, pair) in enumerate(others) if any(pair.wrong(s) for s in pair.found))
    suspect, pair = others[first]
    rest = [shown, *(p for i, (_, p) in enumerate(others) if i != first)]
    found = _assemble(request, good, suspect, clock, pair, rest, more_goods, [])
    name = suspect.capture.name
    told = f"Seen in {name}, which is not the capture shown; the shown pair does not show it."
    return tuple(replace(c, because=(told, *c.because), capture=name) for c in found.causes)


def _seen(suspect: Board, pair: PairFindings | None) -> CaptureSeen:
    """What one suspect capture showed."""
    if pair is None:
        return CaptureSeen(suspect.capture.name, False, frozenset())
    return CaptureSeen(suspect.capture.name, True, frozenset(s for s in pair.found if pair.wrong(s)))


def _other_pair(
    reference: Board, other: Board, clock: str, request: CompareRequest, warnings: list[str]
) -> PairFindings | None:
    """One more capture against the shown good one; it must have the clock and line up by itself to count."""
    if counting_signals(clock, other.traces) is None or not any(
        s in reference.traces for s in other.traces if s != clock
    ):
        warnings.append(f"{other.capture.name} does not count: it lacks the clock {clock} or any other shared signal.")
        return None
    pair = compare_pair(reference, other, clock, request, None, lambda share, what: None)
    if not pair.lineup or pair.lineup.status in ("ambiguous", "none"):
        warnings.append(f"{other.capture.name} does not count: {pair.lineup.reason}")
        return None
    return pair


def _assemble(
    request: CompareRequest,
    good: Board,
    suspect: Board,
    clock: str,
    shown: PairFindings,
    more_suspects: list[PairFindings],
    more_goods: list[PairFindings],
    extra_warnings: list[str],
) -> Comparison:
    cycle_ps = shown.lineup.cycle_ps
    findings: list[SignalFinding] = []
    witnesses: list[Witness] = []
    for signal in signal_order(request, good, suspect, clock):
        finding = signal_finding(signal, request, good, suspect, clock, shown)
        if finding.verdict == "diverges":
            fresh = new_violations(shown.violations[signal])
            mode = name_fault(signal, shown.found[signal], fresh, shown.found, cycle_ps)
            finding = replace(finding, fault_mode=mode.name)
            seen = Seen(1 + sum(p.wrong(signal) for p in more_suspects), 1 + len(more_suspects))
            varies = Seen(sum(p.wrong(signal) for p in more_goods), len(more_goods))
            witnesses.append(Witness(finding, mode, seen, varies))
        findings.append(finding)
    breaks = np.cumsum([r.length for r in shown.lineup.runs], dtype=np.int64)[:-1]
    circuit = Circuit(shown.found, request.wire_list, breaks, shown.lineup.good_edges_ps)
    causes = rank_causes(witnesses, shown.limits.uncertainty_ps, circuit)
    warnings = (*warnings_told(request, good, suspect, clock, shown, findings), *extra_warnings)
    clocks = drift(shown.lineup, good.capture.resolution_ps, suspect.capture.resolution_ps)
    return Comparison(request, shown.lineup, tuple(findings), causes, warnings, clocks)
